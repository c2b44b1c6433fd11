"""Tubes after a collector that grow on their way: gaps against dense sampling, metal by Pappus–Guldinus, pieces."""

from __future__ import annotations

import math
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest

from headergen.geometry.arrays import Array
from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.curves.run import line_of
from headergen.model import Draft, Header, Result, Run
from headergen.outputs.report.facts import run_mass
from headergen.parts.run import run_seat
from headergen.pipeline import check, full_text
from headergen.shop.sizes import piece_tube
from headergen.shop.stage import shop_of
from headergen.solids.inspect import measure
from headergen.solids.tube import stepped_solid
from headergen.solve.closing import close
from headergen.spec.reader import read_spec
from tests.geometry.test_stepped_gaps import SEEN, to_triangles, to_tube
from tests.solids.test_stepped_tube import cone, metal
from tests.spec.test_runs import HEAD, MAIN, TUBES, tail

GROWS = """\
[{straight: 60}, {step: {outside_diameter: 54, wall: 1.5, by: slip, overlap: 25}}, {straight: 30},
     {bend: 40, radius: 76, rotation: 90}, {straight: 30},
     {step: {outside_diameter: 63.5, wall: 1.6, by: cone, length: 30}}, {straight: 80}]"""
ARC = 76 * math.radians(40)
TOTAL = 255 + ARC
BOXES, SIZE = 5, 30.0
DENSITY = 8.0e-3  # g/mm³ of 304L, EN 10088-1 gives 7.9 kg/dm³; both are within the 2 % asked here


@cache
def boxes() -> tuple[Array, ...]:
    """Middles of boxes beside the run, each beside one of its sizes or steps."""
    rng = np.random.default_rng(17)
    with TemporaryDirectory() as folder:
        draft = grown(Path(folder), GROWS)
    line = line_of(next(run for run in draft.runs if run.name == "secondary main"))
    found = []
    for at in (40.0, 88.0, 130.0, line.length - 95.0, line.length - 20.0):
        place, _, across = frame_at(line, at)
        way = np.array(across) + 0.5 * np.array([0.0, 0.0, 1.0])
        found.append((np.array(place) + rng.uniform(75, 95) * way / np.linalg.norm(way)).round(3))
    return tuple(found)


def result(folder: Path) -> tuple[Path, Result]:
    chassis = "".join(
        f"  - {{name: box {k}, box: {{center: {at.tolist()}, size: [{SIZE}, {SIZE}, {SIZE}]}}, clearance: 5}}\n"
        for k, at in enumerate(boxes())
    )
    file = folder / "grows.yaml"
    file.write_text(f"{HEAD}collectors:\n{MAIN}{tail(path=GROWS)}{TUBES}chassis:\n{chassis}", encoding="utf-8")
    return file, check(file).result


@pytest.fixture(scope="module")
def read_and_made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Result]:
    return result(tmp_path_factory.mktemp("grows"))


@pytest.fixture(scope="module")
def made(read_and_made: tuple[Path, Result]) -> Result:
    return read_and_made[1]


def corners(at: Array) -> Array:
    """(12, 3, 3) triangles of a box that stands square."""
    found = []
    for axis in range(3):
        u, v = (np.roll([1.0, 0, 0], axis + k) * SIZE / 2 for k in (1, 2))
        for side in (-1, 1):
            w = at + side * np.roll([1.0, 0, 0], axis) * SIZE / 2
            a, b, c, d = w - u - v, w + u - v, w + u + v, w - u + v
            found += [(a, b, c), (a, c, d)]
    return np.array(found)


@pytest.mark.quick(1)
@pytest.mark.parametrize("number", range(BOXES))
def test_its_gaps_are_those_of_its_sampled_skin(made: Result, number: int) -> None:
    run = made.header.run("secondary main")
    name = f"box {number}"
    (gap,) = (gap for gap in made.survey.gaps if {gap.a, gap.b} == {run.name, name})
    sampled = to_triangles(run, line_of(run), corners(boxes()[number]))
    assert gap.value <= sampled + 1e-6
    assert gap.value == pytest.approx(sampled, abs=SEEN)


def test_its_gap_to_a_primary_is_that_of_both_skins(made: Result) -> None:
    one, other = (made.header.run(name) for name in ("primary 1", "secondary main"))
    (gap,) = (gap for gap in made.survey.gaps if {gap.a, gap.b} == {one.name, other.name})
    assert gap.value == pytest.approx(to_tube((one, line_of(one)), (other, line_of(other))), abs=SEEN)


def test_its_metal_is_that_of_each_stretch(made: Result) -> None:
    """Both tubes of the slip joint are weighed whole; the solid has its clearance full, as if welded."""
    run = made.header.run("secondary main")
    lengths = (60.0, 25.0, 60.0 + ARC, 80.0)  # first size, overlap, second size after it, third size after the cone
    opened = cone((27.0, 31.75), 30.0) - cone((25.5, 30.15), 30.0)
    weighed = metal(50.8, 1.5, 85.0) + metal(54.0, 1.5, lengths[2] + 25.0) + metal(63.5, 1.6, 80.0) + opened
    assert run_mass(run, TOTAL) == pytest.approx(weighed * DENSITY, rel=0.02)
    joint = math.pi * (27.0**2 - 23.9**2) * 25.0
    solid = metal(50.8, 1.5, 60.0) + joint + metal(54.0, 1.5, lengths[2]) + opened + metal(63.5, 1.6, 80.0)
    line = line_of(run)
    walls = run_seat(made.header, run, line).walls
    assert measure(stepped_solid(line, walls)).volume == pytest.approx(solid, rel=1e-6)


def test_its_pieces_are_of_each_size(made: Result) -> None:
    run = made.header.run("secondary main")
    pieces = shop_of(made.header).plan.of_run(run.name)
    tubes = [piece_tube(run, piece) for piece in pieces]
    wide = [None if tube is None else tube.outside_diameter for tube in tubes]
    assert list(dict.fromkeys(wide)) == [50.8, 54.0, None, 63.5]
    assert pieces[-1].end == pytest.approx(TOTAL)


def grown(folder: Path, path: str, more: str = "") -> Draft:
    (folder / "job.yaml").write_text(f"{HEAD}collectors:\n{MAIN}{tail(more, path)}{TUBES}", encoding="utf-8")
    return read_spec(folder / "job.yaml")[1]


@pytest.mark.parametrize("by", ["slip", "cone, length: 20"])
def test_equal_sizes_are_one_size(tmp_path: Path, by: str) -> None:
    """Everything is made of the draft, so equal drafts give equal bytes."""
    plain = grown(tmp_path, "[{straight: 60}, {straight: 20}, {straight: 60}]")
    step = f"{{step: {{outside_diameter: 50.8, wall: 1.5, by: {by}}}}}"
    assert grown(tmp_path, f"[{{straight: 60}}, {step}, {{straight: 60}}]") == plain


def test_a_mouth_takes_the_last_size(tmp_path: Path) -> None:
    draft = grown(tmp_path, GROWS, "into: {diameter: 64.1, depth: 40}")
    (place,) = (each for each in draft.collectors if each.name == "tail")
    assert place.gap == pytest.approx((64.1 - 63.5) / 2)


def test_written_in_full_it_is_the_same(read_and_made: tuple[Path, Result], tmp_path: Path) -> None:
    spec, made = read_and_made
    (tmp_path / "full.yaml").write_text(full_text(spec), encoding="utf-8")
    again = read_spec(tmp_path / "full.yaml")[1]
    first, second = (each.run("secondary main") for each in (made.header, Header(again, again.runs, ())))
    assert (first.tubes, first.steps) == (second.tubes, second.steps)


TWO_STEPS = Path(__file__).resolve().parents[2] / "specs" / "guide_two_steps.yaml"
LAST = "    - {straight: {fit: 60}}\n  inner:"
STEP = "    - {straight: {fit: 30}}\n    - {step: {outside_diameter: 54, wall: 1.5, by: slip}}\n"


def between_collectors(folder: Path) -> tuple[Draft, Run]:
    text = TWO_STEPS.read_text(encoding="utf-8").replace(LAST, STEP + LAST).replace("pitch: 60", "pitch: 64")
    (folder / "two.yaml").write_text(text, encoding="utf-8")
    header = close(read_spec(folder / "two.yaml")[1])
    return header.draft, header.run("secondary outer")


def test_a_secondary_grows_into_a_wider_bore(tmp_path: Path) -> None:
    draft, run = between_collectors(tmp_path)
    main = next(each for each in draft.collectors if each.name == "main")
    assert [tube.outside_diameter for tube in run.tubes] == [50.8, 54.0]
    assert [bore.tube and bore.tube.outside_diameter for bore in main.bores] == [50.8, 54.0]
    assert main.arriving is not None and main.arriving.outside_diameter == 54.0
    line = line_of(run)
    assert frame_at(line, line.length)[0] == pytest.approx(main.bores[1].frame.origin, abs=1e-6)


def test_a_path_to_be_found_has_its_steps(tmp_path: Path) -> None:
    asked = "find: true, steps: [{outside_diameter: 54, wall: 1.5, by: slip, at: {min: 90, max: 120}}]"
    text = f"{HEAD}collectors:\n{MAIN}{tail(path='[{straight: 150}]').replace('path: [{straight: 150}]', asked)}{TUBES}"
    (tmp_path / "job.yaml").write_text(text, encoding="utf-8")
    run = next(run for run in read_spec(tmp_path / "job.yaml")[1].runs if run.to_find)
    assert [tube.outside_diameter for tube in run.tubes] == [50.8, 54.0]
    assert run.grows[0].growth is not None and run.grows[0].growth.at == (90.0, 120.0)
