"""Flange, sleeves, merge and outlet as simple envelopes, and their gaps to the chassis."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from headergen.checks.envelopes import FLANGE_MARGIN, envelopes
from headergen.geometry.body import Body
from headergen.geometry.convex import Frustum
from headergen.geometry.frames import WORLD
from headergen.model import Bolt, Box, ChassisItem, Cylinder, Draft, Plane, Straight, TubeRun
from tests.checks.small_header import LENGTH, draft, findings, measured, moved

SLEEVE = 21.2 + 0.3 + 1.5  # tube, sliding gap, wall


def merging(*chassis: ChassisItem) -> Draft:
    """One tube into a slip collector that narrows from its sleeve to 30 mm at 10°, then 80 mm of outlet."""
    made = draft([Straight(LENGTH)], chassis=chassis)
    collector = replace(
        made.collectors[0], join="slip", slip=40.0, half_angle=math.radians(10), outlet=30.0, outlet_length=80.0
    )
    return replace(made, collectors=(collector,))


def part(made: Draft, name: str):  # type: ignore[no-untyped-def]
    return next(each for each in envelopes(made) if each.name.startswith(name)).solid


def test_what_the_envelopes_are() -> None:
    """The merge is as long as its drop in radius over the tangent of its half angle, the formula of a cone [C]."""
    made = merging()
    sleeve, merge, outlet = (part(made, name) for name in ("slip sleeve", "merge", "outlet"))
    assert isinstance(sleeve, Body) and isinstance(merge, Frustum) and isinstance(outlet, Body)
    assert sleeve.radius == pytest.approx(SLEEVE) and sleeve.curves[0].length == pytest.approx(40)
    assert merge.start == pytest.approx(SLEEVE) and merge.end == 15.0
    assert merge.length == pytest.approx((SLEEVE - 15) / math.tan(math.radians(10)))
    assert outlet.radius == 15.0 and outlet.curves[0].length == pytest.approx(80)
    assert outlet.curves[0].origin[1] == pytest.approx(LENGTH + merge.length)


def test_the_flange_goes_round_ports_and_bolts() -> None:
    made = draft()
    bolted = replace(made, flange=replace(made.flange, bolts=(Bolt((45.0, -30.0), 8.0),)))
    box = part(bolted, "flange")
    assert isinstance(box, Box)
    wanted = (19 + 45 + 4 + 2 * FLANGE_MARGIN, 19 + 30 + 4 + 2 * FLANGE_MARGIN, 10.0)
    assert box.size == pytest.approx(wanted)


END = LENGTH + (SLEEVE - 15) / math.tan(math.radians(10))  # where the merge ends and the outlet begins


@pytest.mark.parametrize(
    ("shape", "what", "gap"),
    [
        # faces 6 mm off the sleeve, square to x; 20 mm upstream of the plane
        (Box(moved(WORLD, (SLEEVE + 6 + 10, LENGTH - 20, 0)), (20.0, 10.0, 20.0)), "slip sleeve of bore 1", 6.0),
        (Cylinder((25.0, END + 40, -60.0), (25.0, END + 40, 60.0), 10.0), "outlet", 25 - 15 - 5),
        (TubeRun(((-60.0, END + 40, 23.0), (60.0, END + 40, 23.0)), 6.0), "outlet", 23 - 15 - 3),
        (Plane((0.0, 0.0, -SLEEVE - 4), (0.0, 0.0, 1.0)), "merge", 4.0),
        (Plane((0.0, -3.0, 0.0), (0.0, 1.0, 0.0)), "flange", 3.0),
        # a corner 3 mm inside the merge's side, half way along: square to a side that leans by 10°
        (
            Cylinder((200.0, (LENGTH + END) / 2, 0.0), ((SLEEVE + 15) / 2 - 3, (LENGTH + END) / 2, 0.0), 0.02),
            "merge",
            -3 * math.cos(math.radians(10)),
        ),
    ],
    ids=["box", "cylinder", "line", "plane below", "plane behind", "inside the merge"],
)
def test_a_part_too_near_is_found_and_said(shape: object, what: str, gap: float) -> None:
    item = ChassisItem("mount", shape, 8.0)  # type: ignore[arg-type]
    survey = measured(merging(item))
    found = next(each for each in survey.part_gaps if each.part.startswith(what))
    assert found.value == pytest.approx(gap, abs=0.02)
    said = [f for f in findings(merging(item)) if f.rule == "part-clear" and f.where.startswith(what)]
    assert len(said) == 1 and "mount" in said[0].message and "8.0 mm wanted" in said[0].message
    assert f"{abs(gap):.1f} mm" in said[0].message


def test_what_is_far_away_is_left_out() -> None:
    far = ChassisItem("mount", Box(moved(WORLD, (300.0, 200.0, 0.0)), (20.0, 20.0, 20.0)), 8.0)
    assert measured(merging(far)).part_gaps == ()


def test_the_flange_may_stand_on_the_head() -> None:
    head = ChassisItem("head", Box(moved(WORLD, (0, -50.0, 0)), (200.0, 100.0, 200.0)), 15.0, free_from_flange=30.0)
    assert [gap for gap in measured(merging(head)).part_gaps if gap.part == "flange"] == []


def test_a_part_wholly_inside_something_closed() -> None:
    tank = ChassisItem("tank", Box(moved(WORLD, (0.0, END + 40, 0.0)), (300.0, 400.0, 300.0)), 8.0)
    said = [f.message for f in findings(merging(tank)) if f.rule == "part-clear"]
    assert any("outlet of collector main is wholly on the wrong side of tank" in message for message in said)


def test_a_collector_keeps_off_tubes_that_go_elsewhere() -> None:
    """Two tubes 50 mm apart into two collectors: the sleeve of one is 50 − 21.2 − its own radius from the other."""
    made = draft([Straight(LENGTH)], [Straight(LENGTH)], pitch=50.0)
    one, two = made.primaries
    first = replace(made.collectors[0], bores=(one.bore,), join="slip", slip=40.0)
    second = replace(first, name="other", bores=(replace(two.bore, collector="other"),))
    split = replace(made, collectors=(first, second), primaries=(one, replace(two, bore=second.bores[0])))
    gaps = [gap for gap in measured(split).part_gaps if gap.other == "primary 2"]
    assert gaps[0].value == pytest.approx(50 - 21.2 - SLEEVE, abs=1e-9)
