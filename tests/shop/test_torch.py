"""Where a torch has no room: beside another tube, and nowhere else."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from headergen.geometry.curves.centreline import frame_at, trace
from headergen.model import (
    Boss,
    Header,
    Plan,
    ShopSettings,
    Stock,
    StockBend,
    StockStraight,
    Straight,
    Tabs,
)
from headergen.model.fitted import Bracket, BracketFoot
from headergen.pipeline import settle
from headergen.shop.course import courses_of
from headergen.shop.plan import plan_of
from headergen.shop.torch import STEP, TORCH_STEP, Torch, without_room
from tests.outputs.sample_result import header as sample_header

BOGBEAN = Path(__file__).resolve().parents[2] / "specs" / "bogbean.yaml"
NO_TORCH = ShopSettings(cup=0.0, reach=0.0)


def test_stretches_are_where_sampled_tubes_are_near() -> None:
    """Against the distance between many points of both centrelines; two tubes of equal steps, 100 mm apart."""
    header = sample_header()
    tube = header.draft.tube.outside_diameter
    for cup in (20.0, 60.0, 75.0):
        near = without_room(header, Torch(cup, 0.0))
        for run, line in header.tubes:
            other = next(each for mine, each in header.tubes if mine.name != run.name)
            theirs = np.array([frame_at(other, at)[0] for at in np.linspace(0, other.length, 4000)])
            for at in np.arange(0.0, line.length, 3.7):
                gap = np.linalg.norm(theirs - np.array(frame_at(line, at)[0]), axis=1).min() - tube
                inside = any(low <= at <= high for low, high in near[run.name])
                if gap < cup - 2 * STEP:
                    assert inside
                if gap > cup + 2 * STEP:
                    assert not inside


def test_a_tube_alone_has_room_everywhere() -> None:
    header = sample_header()
    assert dict(without_room(header.with_runs({"primary 1"}), Torch(500.0, 900.0))) == {"primary 1": ()}


def test_a_course_begins_with_its_tube_and_keeps_joints_out_of_the_slip() -> None:
    """Setback of 2 mm in the plate; a slip of 40 mm."""
    header: Header = sample_header()
    for course, run in zip(courses_of(header, NO_TORCH, None), header.runs, strict=True):
        assert course.begins == pytest.approx(2.0)
        assert course.straights == pytest.approx((58.0, 120.0, 150.0))
        assert [bend.angle for bend in course.bends] == pytest.approx([math.radians(75), math.radians(40)])
        (slip,) = course.blocked
        assert slip[0] == pytest.approx(trace(run.start.frame, run.steps).length - 2.0 - 40.0)
        assert not course.ends_welded


def test_a_welded_collector_counts_as_a_joint() -> None:
    header = sample_header()
    collectors = tuple(replace(each, join="weld", slip=0.0) for each in header.draft.collectors)
    header = replace(header, draft=replace(header.draft, collectors=collectors))
    assert all(course.ends_welded and not course.blocked for course in courses_of(header, NO_TORCH, None))


def side_by_side(gap: float) -> Header:
    """Two straight tubes of 300 mm, parallel, with so much between their skins."""
    header = sample_header()
    apart = header.draft.tube.outside_diameter + gap
    first, second = header.runs
    x = first.start.frame.x
    origin = tuple(o + apart * axis for o, axis in zip(first.start.frame.origin, x, strict=True))
    start = replace(second.start, frame=replace(first.start.frame, origin=origin))
    runs = (replace(first, steps=(Straight(300.0),)), replace(second, start=start, steps=(Straight(300.0),)))
    lines = tuple(trace(run.start.frame, run.steps, run.name) for run in runs)
    return replace(header, draft=replace(header.draft, runs=runs), runs=runs, centrelines=lines)


@pytest.mark.parametrize(("off", "free"), [(-1.0, False), (1.0, True), (20.0, True)])
def test_a_torch_leans_past_a_neighbour_as_far_as_trigonometry_says(off: float, free: bool) -> None:
    """It stands where the neighbour is nearest, leaning 45°: its axis passes the other's by (gap + r)·sin 45°, which
    has to be r + cup/2 or more. With r 21.2 and a cup of 12.7 that is a gap of 17.76 mm."""
    least = math.sqrt(2) * (21.2 + 12.7 / 2) - 21.2
    assert least == pytest.approx(17.76, abs=5e-3)
    near = without_room(side_by_side(least + off), Torch(12.7, 200.0))
    assert [near[name] == () for name in ("primary 1", "primary 2")] == [free] * 2
    if not free:
        assert all(near[name] == ((0.0, 300.0),) for name in near)


def test_a_torch_that_is_short_needs_no_leaning() -> None:
    """Between skins that are 16 mm apart one of 15 mm stands upright."""
    assert set(without_room(side_by_side(16.0), Torch(12.7, 15.0)).values()) == {()}
    assert set(without_room(side_by_side(16.0), Torch(12.7, 40.0)).values()) != {()}


def test_a_tube_that_ends_is_in_the_way_as_far_as_it_goes() -> None:
    """The second tube begins 150 mm farther on: a joint of the first that is more than a reach before it is free."""
    header = side_by_side(14.0)
    first, second = header.runs
    z = first.start.frame.z
    origin = tuple(o + 150.0 * axis for o, axis in zip(second.start.frame.origin, z, strict=True))
    second = replace(second, start=replace(second.start, frame=replace(second.start.frame, origin=origin)))
    lines = tuple(trace(run.start.frame, run.steps, run.name) for run in (first, second))
    header = replace(header, runs=(first, second), centrelines=lines)
    ((low, high),) = without_room(header, Torch(12.7, 60.0))["primary 1"]
    assert 150.0 - 60.0 - 2 * TORCH_STEP < low <= 150.0 and high == pytest.approx(300.0)


def test_joints_keep_off_a_boss_and_the_feet_of_a_bracket() -> None:
    """A boss of 28 mm at 200 and a foot 30 long at 90, each with half a cup beside it; lengths from the tube's start,
    2 mm along the run."""
    header = sample_header()
    boss = Boss("lambda", "primary 1", 200.0, 0.0, 28.0, 12.0, 18.0, sensor=True)
    feet = (BracketFoot("primary 1", 90.0), BracketFoot("primary 2", 90.0))
    draft = replace(header.draft, bosses=(boss,), fitted=(Bracket("stay", feet, 3.0, 30.0),))
    header = replace(header, draft=draft)
    first, second = courses_of(header, replace(NO_TORCH, cup=10.0), None)
    (foot, over), (other,) = ([each for each in course.blocked if "is on it" in each[2]] for course in (first, second))
    foot, over = sorted((foot, over))
    assert (*foot[:2], *over[:2]) == pytest.approx((68.0, 108.0, 179.0, 217.0)) and foot[:2] == pytest.approx(other[:2])
    assert "boss lambda is on it" in over[2] and "bracket stay is on it" in foot[2]


def test_a_plan_goes_round_a_boss_where_it_can() -> None:
    """The joint that would be nearest lies under the boss; it moves, and where it cannot it is said."""
    header = sample_header()
    stock = Stock((StockBend(63.5, math.pi, (60.0, 60.0)),), (StockStraight(1000.0),))

    def plan_with(*bosses: Boss) -> Plan:
        draft = replace(header.draft, stock=stock, bosses=bosses)
        return plan_of(courses_of(replace(header, draft=draft), NO_TORCH, stock), stock, NO_TORCH)

    plain = plan_with()
    joint = plain.joints_of("primary 1")[-1]
    small = Boss("lambda", "primary 1", joint.at, 0.0, 20.0, 12.0, 18.0, sensor=True)
    moved = plan_with(small)
    assert plain.figures.broken == moved.figures.broken == 0
    assert all(not each.blocked for each in moved.joints)
    assert all(abs(each.at - joint.at) >= 10.0 - 1e-6 for each in moved.joints_of("primary 1"))
    huge = replace(small, outside_diameter=2 * joint.at)
    assert any("boss lambda is on it" in each.blocked for each in plan_with(huge).joints_of("primary 1"))


def test_joints_keep_off_the_tab_of_a_slip() -> None:
    """As far as its foot is long, with half a cup on either side."""
    header = settle(BOGBEAN)
    (collector,) = header.draft.collectors
    tabs = Tabs(60.0)
    header = replace(header, draft=replace(header.draft, collectors=(replace(collector, tabs=tabs),)))
    for course in courses_of(header, NO_TORCH, None):
        (low, high, _) = next(each for each in course.blocked if "tab" in each[2])
        assert high - low == pytest.approx(tabs.length) and 60.0 < course.length - low < 60.0 + collector.slip + 60.0
