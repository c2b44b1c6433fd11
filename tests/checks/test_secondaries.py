"""Four into two into one: where the secondaries run and end, what they keep off, and what is said where they do not."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import jsonschema
import pytest

from headergen.checks.judge import judge
from headergen.checks.measure import survey
from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.curves.run import line_of
from headergen.geometry.merge.design import possible_merge
from headergen.geometry.mesh.boxes import box_mesh
from headergen.geometry.mesh.index import index_of
from headergen.model import Bend, Box, ChassisItem, Cylinder, Draft, Frame, Header, Plane, Run, Step, Straight, Survey
from headergen.model.finding import Finding
from headergen.outputs.report import report_schema
from headergen.outputs.report.data import report_data
from headergen.outputs.report.kinds.collector import collector_records
from headergen.pipeline import check, full_text, settle
from headergen.solve.closing import close
from headergen.spec.reader import read_spec

SPEC = Path(__file__).parents[1] / "two_steps" / "bogbean_four_two_one.yaml"
R, TURN = 76.2, math.radians(20)


@pytest.fixture(scope="module")
def draft() -> Draft:
    return read_spec(SPEC)[1]


def measured(made: Draft) -> Survey:
    return survey(close(made), {}, twice=False)


def said(made: Draft, rule: str) -> list[Finding]:
    return [finding for finding in judge(measured(made)) if finding.rule == rule]


def with_steps(draft: Draft, *steps: Step) -> Draft:
    """The outer secondary with steps of its own, and nothing to fit."""
    return replace(
        draft,
        runs=tuple(replace(run, steps=steps, fits=()) if run.source == "outer" else run for run in draft.runs),
    )


def secondaries(made: Draft | Header) -> list[Run]:
    return [run for run in made.runs if not run.is_primary]


def test_secondaries_close_on_their_bores_by_the_formula_of_an_offset(draft: Draft) -> None:
    """Two opposite bends of 20° with a straight L between put a tube 2R(1 − cos 20°) + L·sin 20° to one side."""
    header = close(draft)
    for each, height in zip(secondaries(header), (-407.0, -347.0), strict=True):
        line = line_of(each)
        place, way, _ = frame_at(line, line.length)
        assert place == pytest.approx((-740.0, 125.0, height), abs=1e-6)
        assert way == pytest.approx((-1.0, 0.0, 0.0), abs=1e-9)
        between = (25.0 - 2 * R * (1 - math.cos(TURN))) / math.sin(TURN)
        along = each.start.frame.origin[0] + 740.0
        last = along - 15.0 - 2 * R * math.sin(TURN) - between * math.cos(TURN)
        assert line.length == pytest.approx(15.0 + 2 * R * TURN + between + last, abs=1e-6)
        assert (each.tube.outside_diameter, each.tube.wall) == (50.8, 1.5)


def test_it_is_clear_and_the_last_sensor_sees_all_four(draft: Draft) -> None:
    assert judge(measured(draft)) == ()
    on_inner = replace(draft.bosses[0], host="secondary inner", on_outlet=False, at=14.0)
    (seen,) = said(replace(draft, bosses=(on_inner,)), "sensor-sees")
    assert seen.value == 50.0


def test_the_last_collector_takes_tubes_as_wide_as_the_outlets(draft: Draft) -> None:
    main = next(each for each in draft.collectors if each.name == "main")
    merge = possible_merge(draft.tube, main)
    assert merge is not None
    assert merge.inner == pytest.approx(25.4 + 0.3) and merge.ring == pytest.approx(30.0)
    (flow,) = (each.merge for each in collector_records(draft) if each.name == "main")
    assert flow is not None and flow.one_bore_mm2 == pytest.approx(math.pi * 23.9**2)
    assert flow.smallest.to_one_bore == pytest.approx((30.25 / 23.9) ** 2), "the outlet is its narrowest place"


def test_an_end_that_misses_is_told(draft: Draft) -> None:
    start = next(run for run in draft.runs if run.source == "outer").start.frame.origin[0]
    short = with_steps(draft, Straight(start + 740.0 - 7.0))
    (found,) = said(short, "end-position")
    assert found.where == "secondary outer" and found.value == pytest.approx(math.hypot(25.0, 7.0), abs=0.05)
    assert "7.0 mm short" in found.message and "25.0 mm" in found.message
    (leaning,) = said(with_steps(draft, Straight(15.0), Bend(TURN, R, math.pi / 2), Straight(60.0)), "end-angle")
    assert (leaning.value, leaning.unit) == (20.0, "deg")


def test_it_is_straight_as_far_as_it_goes_in(draft: Draft) -> None:
    (found,) = said(with_steps(draft, Straight(100.0), Bend(TURN, R, 0.0), Straight(30.0)), "min-straight")
    assert (found.value, found.limit) == (30.0, 40.0)


def test_what_cannot_be_bent_is_told(draft: Draft) -> None:
    (tight,) = said(with_steps(draft, Straight(20.0), Bend(TURN, 20.0, 0.0), Straight(60.0)), "bend-radius")
    assert (tight.value, tight.limit) == (20.0, 25.4)
    ring = (Straight(20.0), Bend(math.pi, 60.0, 0.0), Straight(10.0), Bend(math.pi, 60.0, 0.0), Straight(60.0))
    (crossing,) = said(with_steps(draft, *ring), "own-crossing")
    assert crossing.value is not None and crossing.value < 50.8


@pytest.mark.parametrize("kind", ["cylinder", "box", "plane"])
def test_gaps_to_the_chassis_by_hand(draft: Draft, kind: str) -> None:
    """Under the straight end of the inner one, whose middle is at z = −407 and which is 50.8 wide, 12 mm free."""
    top = -407.0 - 25.4 - 12.0
    shape = {
        "cylinder": Cylinder((-720.0, 0.0, top - 8.0), (-720.0, 300.0, top - 8.0), 16.0),
        "box": Box(Frame((-720.0, 125.0, top - 10.0), (1, 0, 0), (0, 1, 0), (0, 0, 1)), (20.0, 300.0, 20.0)),
        "plane": Plane((0.0, 0.0, top), (0.0, 0.0, 1.0)),
    }[kind]
    bar = ChassisItem("bar", shape, 15.0)
    gaps = measured(replace(draft, chassis=(bar,))).gaps
    (found,) = (gap for gap in gaps if gap.a == "secondary inner" and gap.b == "bar")
    # a plane goes on to where the tube begins, 25 mm lower
    assert found.value == pytest.approx(12.0 if kind != "plane" else 12.0 - 25.0, abs=1e-6)
    told = [f for f in said(replace(draft, chassis=(bar,)), "gap-chassis") if f.where == "secondary inner"]
    assert [f.value for f in told] == [round(found.value, 1)]


def test_a_secondary_wholly_inside_something_is_on_the_wrong_side(draft: Draft) -> None:
    around = Box(Frame((-650.0, 125.0, -380.0), (1, 0, 0), (0, 1, 0), (0, 0, 1)), (600.0, 400.0, 400.0))
    gaps = measured(replace(draft, chassis=(ChassisItem("tank", around, 5.0),))).gaps
    inside = {gap.a for gap in gaps if gap.runs_through and gap.value < 0 and gap.b == "tank"}
    assert inside >= {"secondary inner", "secondary outer"}
    tunnel = ChassisItem("tunnel", around, 5.0, role="enclosure")
    held = [gap for gap in measured(replace(draft, chassis=(tunnel,))).gaps if gap.a.startswith("secondary")]
    assert not any(gap.runs_through or gap.value < gap.required for gap in held if gap.b == "tunnel")


def test_two_secondaries_keep_off_each_other(draft: Draft) -> None:
    """The bores of the last collector are 60 mm apart, which leaves more than the full gap all the way into it."""
    pair = ("secondary inner", "secondary outer")
    closing, gap = sorted((g for g in measured(draft).gaps if (g.a, g.b) == pair), key=lambda g: not g.together)
    assert closing.together and closing.required == 6.0
    assert gap.required == 6.0 and 8.0 < gap.value < 60.0 - 50.8 + 1e-6
    crossing = with_steps(draft, Straight(15.0), Bend(math.radians(60), R, math.pi / 2), Straight(150.0))
    told = [f for f in said(crossing, "gap-tubes") if "secondary outer" in f.message and "cross" in f.message]
    assert told


def test_a_spec_of_two_steps_reads_back(draft: Draft, tmp_path: Path) -> None:
    text = full_text(SPEC).replace("../../shared", str(SPEC.parents[2] / "shared"))
    (tmp_path / "full.yaml").write_text(text, encoding="utf-8")
    one, two = settle(SPEC), settle(tmp_path / "full.yaml")
    for a, b in zip(secondaries(one), secondaries(two), strict=True):
        assert (a.source, a.end.collector, a.end.number) == (b.source, b.end.collector, b.end.number)
        assert line_of(b).length == pytest.approx(line_of(a).length, abs=1e-5)
    bores = [bore.run for each in two.draft.collectors for bore in each.bores]
    assert bores[-2:] == ["secondary inner", "secondary outer"]


def test_the_other_bank_has_its_secondaries_too(tmp_path: Path) -> None:
    (tmp_path / "first.yaml").write_text(
        SPEC.read_text(encoding="utf-8").replace("../../shared", str(SPEC.parents[2] / "shared")), encoding="utf-8"
    )
    (tmp_path / "other.yaml").write_text(
        "format: 1\nmirror_of: first.yaml\njob: {title: Other, revision: A, date: 2026-03-14}\nunits: mm\n"
        "bank: {offset: 30, way: staggered, left_out: [head, engine, footwell, floor]}\n",
        encoding="utf-8",
    )
    one, two = settle(tmp_path / "first.yaml"), settle(tmp_path / "other.yaml")
    for a, b in zip(secondaries(one), secondaries(two), strict=True):
        lines = line_of(a), line_of(b)
        for share in (0.0, 0.4, 1.0):
            (x, y, z), there = (frame_at(line, share * line.length)[0] for line in lines)
            assert there == pytest.approx((x + 30.0, -y, z), abs=1e-6)


def test_reports_tell_of_secondaries() -> None:
    result = check(SPEC).result
    data = report_data(result, "1")
    jsonschema.validate(data, report_schema())
    told = [each for each in data["runs"] if each["role"] == "secondary"]
    assert [(each["from_collector"], each["collector"], each["bore"]) for each in told] == [
        ("inner", "main", 1),
        ("outer", "main", 2),
    ]
    assert data["collectors"][-1]["runs"] == ["secondary inner", "secondary outer"]


def test_a_mesh_is_measured_as_the_box_it_is(draft: Draft) -> None:
    box = Box(Frame((-720.0, 125.0, -480.0), (1, 0, 0), (0, 1, 0), (0, 0, 1)), (20.0, 300.0, 20.0))
    mesh = box_mesh(box)
    item = replace(draft.chassis[0], name="bar", shape=box)
    found = survey(close(replace(draft, chassis=(item,))), {"bar": index_of(mesh)}, twice=False).gaps
    (gap,) = (each for each in found if each.a == "secondary inner" and each.b == "bar")
    assert gap.value == pytest.approx(-407.0 - 25.4 + 470.0, abs=1e-6)


def test_reports_tell_on_whose_sides_a_crossover_is() -> None:
    data = report_data(check(SPEC.parents[2] / "specs" / "guide_crossover.yaml").result, "1")
    jsonschema.validate(data, report_schema())
    told = {each["name"]: (each["from_collector"], each["leaves"], each["joins"]) for each in data["runs"]}
    assert told["secondary balance"] == (None, "secondary left", "secondary right")
    assert told["secondary y"] == ("y", None, None)


def test_the_other_bank_of_a_crossover_closes_and_is_written_in_full(tmp_path: Path) -> None:
    guide = (SPEC.parents[2] / "specs" / "guide_crossover.yaml").read_text(encoding="utf-8")
    (tmp_path / "first.yaml").write_text(guide, encoding="utf-8")
    bank = "{offset: 20, way: staggered, keep: [ground], names: {left: right, right: left}}"
    job = "job: {title: Other, revision: A, date: 2026-02-03}\nunits: mm\n"
    (tmp_path / "other.yaml").write_text(f"format: 1\nmirror_of: first.yaml\n{job}bank: {bank}\n", encoding="utf-8")
    one, two = settle(tmp_path / "first.yaml"), settle(tmp_path / "other.yaml")
    (tmp_path / "full.yaml").write_text(full_text(tmp_path / "other.yaml"), encoding="utf-8")
    for header in (two, settle(tmp_path / "full.yaml")):
        assert header.misses == ()
        line, image = (line_of(each.run("secondary balance")) for each in (one, header))
        (x, y, z), there = (frame_at(each, 0.0)[0] for each in (line, image))
        assert there == pytest.approx((x + 20.0, -y, z), abs=1e-5)
    assert two.run("secondary balance").sides[0][0].run == "secondary right"
