"""Primaries whose tube is another than the header's from their port on: plate, transition, gaps, metal, pieces."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from headergen.geometry.curves.run import line_of
from headergen.geometry.plate.flange import SEAT_GAP, plate_of
from headergen.geometry.plate.outline import bounds
from headergen.model import Draft, Header, Result, Tube
from headergen.outputs.report import report_markdown
from headergen.outputs.report.facts import run_mass
from headergen.outputs.shop.order import order_list
from headergen.parts.run import run_seat
from headergen.parts.transition import transition_seat
from headergen.pipeline import check
from headergen.shop.stage import shop_of
from headergen.solids.flange import flange_solid
from headergen.solids.inspect import measure
from headergen.spec.reader import read_spec
from tests.outputs.test_stepped_report import DENSITY
from tests.solids.test_stepped_tube import metal

OWN = "{tube: {outside_diameter: 48.3, wall: 2}, path: [{straight: 200}]}"
THICK, SIZES = 10.0 - 0.3, (42.4, 48.3)  # of the faced plate; of both tubes
SPEC = """\
format: 1
job: {title: Test, revision: A, date: 2026-03-14}
units: mm
tube: {outside_diameter: 42.4, wall: 1.5, material: 304L}
flange:
  plane: {origin: [0, 0, 0], normal: [0, 1, 0], x: [1, 0, 0]}
  thickness: 10
  ports: {1: {at: [0, 0], shape: {round: 38}}, 2: {at: [80, 0], shape: {round: 38}}}
collectors:
  main: {join: weld, pattern: [[-40, 0], [40, 0]], bores: [1, 2],
    plane: {origin: [40, 200, 0], normal: [0, 1, 0], x: [1, 0, 0]}}
primaries: {1: [{straight: 200}], 2: SECOND}
chassis: [{name: floor, plane: {origin: [0, 0, -60], normal: [0, 0, 1]}, clearance: 5}]
"""


def read(folder: Path, second: str, *changes: tuple[str, str]) -> Draft:
    text = SPEC.replace("SECOND", second)
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    (folder / "job.yaml").write_text(text, encoding="utf-8")
    return read_spec(folder / "job.yaml")[1]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Result:
    folder = tmp_path_factory.mktemp("own")
    read(folder, OWN)
    return check(folder / "job.yaml").result


def test_each_is_as_far_from_the_floor_as_its_radius_says(made: Result) -> None:
    gaps = {gap.a: gap.value for gap in made.survey.gaps if gap.b == "floor"}
    assert gaps == {f"primary {n}": pytest.approx(60 - wide / 2) for n, wide in enumerate(SIZES, 1)}
    between = [gap.value for gap in made.survey.gaps if gap.b == "primary 2"]
    assert between == pytest.approx([80 - sum(SIZES) / 2] * 2)  # over the free lengths, and at the collector


def test_the_plate_has_a_hole_for_each(made: Result) -> None:
    draft = made.header.draft
    [flange] = draft.flanges
    for hole, wide in zip(plate_of(flange, draft.tube).ports, SIZES, strict=True):
        (left, low), (right, high) = bounds(hole.outline)
        assert (right - left, high - low) == pytest.approx((wide + 2 * SEAT_GAP,) * 2)
    solid = measure(flange_solid(flange, draft.tube, "flange"))
    holes = [(wide / 2 + SEAT_GAP, x) for wide, x in zip(SIZES, (0.0, 80.0), strict=True)]
    (one, a), (other, b) = ((radius + flange.margin, x) for radius, x in holes)  # hull of two discs, less two discs
    lean = math.asin((other - one) / (b - a))
    hull = (b - a) * math.cos(lean) * (one + other) + (math.pi / 2 - lean) * one**2 + (math.pi / 2 + lean) * other**2
    area = hull - math.pi * sum(radius**2 for radius, _ in holes)
    assert solid.volume == pytest.approx(area * THICK, rel=1e-6)


def test_a_plate_that_tubes_stand_on_has_each_bore(tmp_path: Path) -> None:
    draft = read(tmp_path, OWN, ("  thickness: 10", "  thickness: 10\n  seat: butt"))
    for hole, bore in zip(plate_of(draft.flanges[0], draft.tube).ports, (39.4, 44.3), strict=True):
        (left, _), (right, _) = bounds(hole.outline)
        assert right - left == pytest.approx(bore)


def test_each_weighs_what_its_size_says(made: Result) -> None:
    for number, (wide, wall) in enumerate(zip(SIZES, (1.5, 2.0), strict=True), 1):
        run = made.header.run(f"primary {number}")
        assert run_mass(run, 198.0) == pytest.approx(metal(wide, wall, 198.0) * DENSITY, rel=0.02)
        assert run_seat(made.header, run, line_of(run)).tube == run.tube


def test_a_transition_leads_to_it(tmp_path: Path) -> None:
    oval = ("2: {at: [80, 0], shape: {round: 38}}", "2: {at: [80, 0], shape: {oval: [50, 34]}, transition: 40}")
    draft = read(tmp_path, OWN, oval)
    header = Header(draft, draft.runs, tuple(line_of(run) for run in draft.runs))
    assert transition_seat(header, draft.ports[1]).tube == Tube(48.3, 2.0, "304L")


def test_pieces_and_orders_are_of_both_tubes(made: Result) -> None:
    tubes = [line for line in order_list(made.header, shop_of(made.header)) if line.what.startswith("straight")]
    assert {size for line in tubes for size in SIZES if f"{size}" in line.size} == set(SIZES)


def test_the_report_says_who_has_it(made: Result) -> None:
    said = report_markdown(made, "1")
    assert "Primary 2 begins with tube 48.3 × 2.0 mm." in said and "Primary 1 begins" not in said


def test_the_size_of_the_header_is_none_of_its_own(tmp_path: Path) -> None:
    """Everything is made of the draft, so equal drafts give equal bytes."""
    same = OWN.replace("48.3, wall: 2", "42.4, wall: 1.5")
    assert read(tmp_path, same) == read(tmp_path, "[{straight: 200}]")


def test_a_run_from_a_port_has_one(tmp_path: Path) -> None:
    tail = "runs: {up: {from: 2, to: {at: [80, 200, 0], along: [0, 1, 0]}, " + OWN[1:-1] + "}}\nprimaries: {1: [{straig"
    draft = read(
        tmp_path,
        "",
        ("primaries: {1: [{straig", tail),
        (", 2: }", "}"),
        ("pattern: [[-40, 0], [40, 0]], bores: [1, 2]", "pattern: [[-40, 0]], bores: [1]"),
    )
    run = next(run for run in draft.runs if run.name == "primary 2")
    assert run.tube == run.port.tube == Tube(48.3, 2.0, "304L")


def test_another_bank_of_other_tube_keeps_it(tmp_path: Path) -> None:
    """The mirrored bank is of another tube; what had a tube of its own has it still, of the new material."""
    read(tmp_path, OWN)
    text = """\
format: 1
mirror_of: job.yaml
job: {title: Test right, revision: A, date: 2026-03-14}
units: mm
tube: {outside_diameter: 42.4, wall: 1.5, material: 316L}
bank: {way: staggered, offset: 30, left_out: [floor]}
"""
    (tmp_path / "right.yaml").write_text(text, encoding="utf-8")
    draft = read_spec(tmp_path / "right.yaml")[1]
    one, two = draft.primaries
    assert (one.tube, one.port.tube) == (Tube(42.4, 1.5, "316L"), None)
    assert two.tube == two.port.tube == replace(Tube(48.3, 2.0, "304L"), material="316L")
    assert [port.tube for port in draft.ports] == [None, two.tube]
