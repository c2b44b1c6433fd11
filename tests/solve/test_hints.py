"""What is advised was tried: a hint that is said is put in here once more, and what does not help is not said."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from itertools import product
from pathlib import Path

import numpy as np
import pytest

import headergen.checks.rules as rules_folder
import headergen.solve.hints as hints
import headergen.solve.hints.trial as trial
from headergen.checks.judge import judge
from headergen.checks.measure import survey
from headergen.geometry.curves.centreline import frame_on, trace
from headergen.geometry.frames import WORLD, add, frame_from_normal
from headergen.geometry.mesh.boxes import box_mesh
from headergen.geometry.mesh.index import index_of
from headergen.model import Bend, Box, ChassisItem, Draft, Fit, MeshRef, Plane, Step, Straight, Vec
from headergen.model.finding import Finding
from headergen.solve.closing import close
from headergen.solve.collector_at import with_collector_at
from tests.checks.small_header import FACE, LIMITS, draft, measured, moved
from tests.checks.test_every_message import around, bundle

R = math.radians
# along y, then an S that rises out of the plane, and along y again
WINDING: list[Step] = [
    Straight(100.0),
    Bend(R(40), 80.0, 0.0),
    Straight(120.0),
    Bend(R(35), 80.0, 2.4),
    Straight(110.0),
    Bend(R(30), 80.0, 1.9),
    Straight(120.0),
]
WAYS = {
    word: tuple(sign * (axis == k) for k in range(3))
    for axis, pair in enumerate((("forward", "rearward"), ("to the left", "to the right"), ("up", "down")))
    for word, sign in zip(pair, (1.0, -1.0), strict=True)
}
SAID = re.compile(r"moving collector main by ([\d.]+) mm (.+?) would clear it")


def winding(*chassis: ChassisItem, **changes: object) -> Draft:
    """A winding tube into a slip collector that stands square at its end, with a merge of 10° and an outlet."""
    line = trace(FACE, WINDING)
    end, tangent, toward = frame_on(line.segments[-1], line.segments[-1].length)
    frame = frame_from_normal(end, tangent, toward)
    made = draft(WINDING, chassis=chassis, limits=replace(LIMITS, together=0.0))
    bore = replace(made.primaries[0].end, frame=frame)
    collector = replace(made.collectors[0], frame=frame, bores=(bore,), **changes)  # type: ignore[arg-type]
    return replace(made, collectors=(collector,), runs=(replace(made.primaries[0], end=bore),))


def merging(*chassis: ChassisItem) -> Draft:
    return winding(*chassis, join="slip", slip=40.0, half_angle=R(10), outlet=30.0, outlet_length=80.0)


def told(made: Draft) -> tuple[Finding, ...]:
    """What is found of a draft, with its hints."""
    known = measured(made)
    return hints.with_hints(judge(known), known, {})


def outlet_end(made: Draft) -> Vec:
    """Well into the outlet of a merge as `merging` makes it."""
    frame = made.collectors[0].frame
    return add(frame.origin, frame.z, 120.0)


def test_no_rule_says_a_remedy_of_its_own() -> None:
    """A rule only reads; what would help is said where it has been tried."""
    for file in sorted(Path(rules_folder.__file__).parent.glob("*.py")):
        for words in ("would clear", "moving ", "ask for", "take it out", "would fix"):
            assert words not in file.read_text(encoding="utf-8"), f"{file.name} advises untried: {words}"


def test_a_tube_on_its_port_s_axis_is_not_told_to_move() -> None:
    mount = ChassisItem("mount", Box(moved(WORLD, (51.2, 200.0, 0.0)), (40.0, 40.0, 40.0)), 15.0)
    [finding] = [each for each in told(draft(chassis=(mount,))) if each.rule == "gap-chassis"]
    assert "is 10.0 mm from mount" in finding.message and "would clear" not in finding.message


@pytest.mark.parametrize("seed", range(5))
def test_a_tube_led_as_advised_is_clear(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """A box beside the middle of the tube: the path that was tried is measured anew, as it would be written down."""
    rng = np.random.default_rng(seed)
    middle = np.array(frame_on(trace(FACE, WINDING).segments[2], 60.0)[0])
    out = rng.normal(size=3)
    place = middle + out / np.linalg.norm(out) * 48.0
    box = Box(frame_from_normal(tuple(place), tuple(rng.normal(size=3))), (30.0, 30.0, 30.0))
    made, tried = winding(ChassisItem("thing", box, 20.0)), []
    whole = hints.outcome_of
    monkeypatch.setattr(hints, "outcome_of", lambda made, *rest: tried.append(made) or whole(made, *rest))
    [finding] = [each for each in told(made) if each.rule == "gap-chassis"]
    assert "would clear it" in finding.message, "there is a path past this box"
    again = measured(tried[-1])
    assert all(gap.value >= gap.required - 1e-6 for gap in again.gaps)
    assert [end for end in again.ends if math.hypot(end.along, end.across) > 0.01 or end.angle > 1e-4] == []
    assert again.lengths[0] == pytest.approx(measured(made).lengths[0], abs=1e-4)


def test_most_boxes_beside_a_tube_have_a_way_past() -> None:
    helped = 0
    for sign, axis in product((1.0, -1.0), range(3)):
        middle = frame_on(trace(FACE, WINDING).segments[2], 60.0)[0]
        place = tuple(value + 48.0 * sign * (k == axis) for k, value in enumerate(middle))
        made = winding(ChassisItem("thing", Box(moved(WORLD, place), (30.0, 30.0, 30.0)), 20.0))
        helped += any("would clear it" in each.message for each in told(made) if each.rule == "gap-chassis")
    assert helped >= 4


def test_two_things_on_one_side_are_cleared_by_one_path() -> None:
    middle = frame_on(trace(FACE, WINDING).segments[2], 60.0)[0]
    things = [
        ChassisItem(
            name, Box(moved(WORLD, add(add(middle, (0.0, 0.0, 1.0), -48.0), (0.0, 1.0, 0.0), off)), (20.0,) * 3), 20.0
        )
        for name, off in (("first", -25.0), ("second", 25.0))
    ]
    said = [each.message for each in told(winding(*things)) if each.rule == "gap-chassis"]
    assert len(said) == 2 and all("moving primary 1 by" in each and "would clear it" in each for each in said)


def test_a_tube_between_two_things_is_said_to_be_held() -> None:
    """They leave less than the tube and both clearances, above and below its middle."""
    middle = frame_on(trace(FACE, WINDING).segments[2], 60.0)[0]
    things = [
        ChassisItem(name, Box(moved(WORLD, add(middle, (0.0, 0.0, 1.0), off)), (90.0, 90.0, 20.0)), 15.0)
        for name, off in (("roof", 40.0), ("floor", -40.0))
    ]
    said = [each.message for each in told(winding(*things)) if each.rule == "gap-chassis"]
    assert said and all("would clear it" not in each for each in said)
    assert any("primary 1 is held between" in each and "floor" in each and "roof" in each for each in said)


@pytest.mark.parametrize("seed", range(8))
def test_a_collector_put_where_advised_is_clear_and_its_tubes_reach_it(seed: int) -> None:
    """As read from the message: rounded up to a tenth, along the ways it names."""
    rng = np.random.default_rng(seed)
    place = np.array(outlet_end(merging())) + rng.choice([-1.0, 1.0]) * np.array([0.0, 0.0, 36.0]) + rng.normal(size=3)
    made = merging(ChassisItem("mount", Box(moved(WORLD, tuple(place)), tuple(rng.uniform(15, 40, 3))), 15.0))
    found = told(made)
    said = [each for each in found if each.rule == "part-clear" and SAID.search(each.message)]
    assert said, "the box is too near, and there is room on the other side"
    for each in said:
        if ", but " in each.message:
            continue
        size, way = SAID.search(each.message).groups()  # type: ignore[union-attr]
        if way not in WAYS:
            continue  # along two axes: only about the way that is said
        frame = made.collectors[0].frame
        there = replace(frame, origin=add(frame.origin, WAYS[way], float(size)))
        put = with_collector_at(made, "main", there)
        primary = put.primaries[0]
        fits = tuple(Fit(n, "length", 10.0, 400.0) for n in (1, 3, 5, 7)) + tuple(
            Fit(n, what, -7.0 if what == "rotation" else 0.05, 7.0 if what == "rotation" else 2.5)
            for n in (2, 4, 6)
            for what in ("rotation", "angle")
        )
        again = judge(measured(put.with_primaries((replace(primary, fits=fits),))))
        assert not [one.message for one in again if one.rule in ("part-clear", "end-position", "end-angle", "closing")]


def test_a_collector_is_not_told_to_go_into_something_else() -> None:
    """Between a floor and a roof that leave less than it needs, either way is said to be none."""
    low = outlet_end(merging())[2]
    floor = ChassisItem("floor", Plane((0.0, 0.0, low - 22.0), (0.0, 0.0, 1.0)), 12.0)
    roof = ChassisItem("roof", Plane((0.0, 0.0, low + 22.0), (0.0, 0.0, -1.0)), 12.0)
    said = [each.message for each in told(merging(floor, roof)) if "outlet" in each.where]
    assert said
    for message in said:
        assert "would clear it" not in message or ", but " in message


def test_the_flange_is_not_told_to_move() -> None:
    floor = ChassisItem("floor", Plane((0.0, 0.0, -38.0), (0.0, 0.0, 1.0)), 8.0)
    said = [each.message for each in told(merging(floor)) if each.where == "flange"]
    assert said and not any("would clear" in each for each in said)


def test_nothing_is_tried_of_a_header_that_is_clear(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(hints, "outcome_of", lambda *_: pytest.fail("nothing is wrong"))
    assert hints.with_hints((), measured(merging()), {}) == ()


def test_few_surveys_are_made_for_many_findings(monkeypatch: pytest.MonkeyPatch) -> None:
    """Twenty boxes along the tube: what is tried is bounded, whatever is found."""
    made, count = [], iter(range(1000))
    whole = trial.survey
    monkeypatch.setattr(trial, "survey", lambda *args, **more: (next(count), made.append(1), whole(*args, **more))[2])
    along = [frame_on(trace(FACE, WINDING).segments[2], 5.0 * k)[0] for k in range(20)]
    boxes = [Box(moved(WORLD, add(place, (0.0, 0.0, 1.0), 46.0)), (8.0, 8.0, 8.0)) for place in along]
    things = [ChassisItem(f"thing {k}", box, 20.0) for k, box in enumerate(boxes)]
    told(winding(*things))
    assert len(made) <= 5


def test_a_box_as_mesh_is_the_same_obstacle() -> None:
    """Hints go by what is measured, be it a box or the mesh of one."""
    place = add(outlet_end(merging()), (0.0, 0.0, 1.0), -42.0)
    box = Box(moved(WORLD, place), (30.0, 30.0, 30.0))
    as_box = [each.message for each in told(merging(ChassisItem("mount", box, 15.0)))]
    made = merging(ChassisItem("mount", MeshRef("mount.stl", "0", "mm", WORLD), 15.0))
    meshes = {"mount": index_of(box_mesh(box))}
    known = survey(close(made), meshes)
    as_mesh = [each.message for each in hints.with_hints(judge(known), known, meshes)]
    assert SAID.search(" ".join(as_box)) and SAID.findall(" ".join(as_box)) == SAID.findall(" ".join(as_mesh))


def test_values_that_would_close_a_tube_into_something_are_said_to() -> None:
    """A tube 20 mm beside its bore, with a box where its closed path leads."""
    made = winding()
    bore = replace(made.primaries[0].end, frame=moved(FACE, add(made.primaries[0].end.frame.origin, (0.0, 0.0, 20.0))))
    bore = replace(bore, frame=replace(made.primaries[0].end.frame, origin=bore.frame.origin))
    collector = replace(made.collectors[0], frame=bore.frame, bores=(bore,))
    missing = replace(made, collectors=(collector,), runs=(replace(made.primaries[0], end=bore),))
    [free] = [each for each in told(missing) if each.rule == "closing"]
    assert "marked fit" in free.message and "it would then be" not in free.message
    in_the_way = ChassisItem(
        "bracket", Box(moved(WORLD, add(bore.frame.origin, bore.frame.z, 40.0)), (30.0, 30.0, 30.0)), 42.0
    )
    [said] = [each for each in told(replace(missing, chassis=(in_the_way,))) if each.rule == "closing"]
    assert "it would then be" in said.message and "from bracket; 42.0 mm is required" in said.message


@pytest.mark.parametrize("outlet", [100.0, 108.0])
def test_what_would_close_a_merge_s_middle_was_tried(outlet: float) -> None:
    """Six tubes whose lobes are cut before they meet: a spike, or a smaller outlet, named with its size."""
    made = bundle(around(6), outlet)
    found = [each for each in told(made) if each.rule == "merge-middle"]
    assert found, "its middle is open"
    message = found[0].message
    assert "would fix it" in message
    collector = made.collectors[0]
    sizes = re.findall(r"an outlet of ([\d.]+) mm", message)
    changes = [replace(collector, outlet=float(size)) for size in sizes]
    changes += [replace(collector, spike=True)] if "a spike" in message else []
    assert changes
    for change in changes:
        again = judge(measured(replace(made, collectors=(change,))))
        assert not [each.message for each in again if each.rule.startswith("merge")]
