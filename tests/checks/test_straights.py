"""Straights: the most that is asked of each is asked once. Along a member: into it is said as such."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from headergen.model import Bend, Draft, NamedLine, Parallel, Step, Straight
from headergen.model.finding import Finding
from tests.checks.small_header import LIMITS, draft, findings

R = math.radians
PATH: list[Step] = [Straight(20.0), Bend(R(10), 80.0, 0.0), Straight(25.0), Bend(R(10), 80.0, math.pi), Straight(30.0)]
BENDS: list[Step] = [Bend(R(10), 80.0, 0.0), Bend(R(10), 80.0, math.pi)]


def short(made: Draft) -> list[Finding]:
    return [each for each in findings(made) if each.rule == "min-straight"]


def slipping(made: Draft, depth: float) -> Draft:
    return replace(made, collectors=(replace(made.collectors[0], join="slip", slip=depth),))


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"min_straight": 22.0}, {1: 22.0}),
        ({"min_straight": 40.0}, {1: 40.0, 3: 40.0, 5: 40.0}),
        ({"port_straight": 22.0}, {1: 22.0}),
        ({"collector_straight": 35.0}, {5: 35.0}),
        ({"min_straight": 22.0, "port_straight": 50.0, "collector_straight": 60.0}, {1: 50.0, 5: 60.0}),
        ({"min_straight": 27.0, "port_straight": 24.0}, {1: 27.0, 3: 27.0}),
        ({"min_straight": 20.0, "port_straight": 20.0, "collector_straight": 30.0}, {}),
    ],
)
def test_each_straight_is_judged_once_by_the_most_that_is_asked(
    asked: dict[str, float], said: dict[int, float]
) -> None:
    found = short(draft(PATH, limits=replace(LIMITS, **asked)))
    assert {int(each.message.split("step ")[1].split(":")[0]): each.limit for each in found} == said
    assert len(found) == len(said)


@pytest.mark.parametrize(("depth", "wanted", "why"), [(40.0, 40.0, True), (31.0, 35.0, False), (30.0, 35.0, False)])
def test_what_slides_into_the_collector_is_straight(depth: float, wanted: float, why: bool) -> None:
    """The last straight of 30 mm; the depth counts where it is more than the 35 mm that the shop asks for."""
    [found] = short(slipping(draft(PATH, limits=replace(LIMITS, collector_straight=35.0)), depth))
    assert found.level == "error" and found.limit == wanted
    assert ("slides into the collector" in found.message) == why


def test_a_bend_where_a_straight_is_wanted() -> None:
    found = short(slipping(draft(BENDS, limits=replace(LIMITS, port_straight=10.0)), 40.0))
    assert [(each.value, each.limit) for each in found] == [(0.0, 10.0), (0.0, 40.0)]
    assert all("since a bend stands there" in each.message for each in found)


def test_bends_in_a_row_where_the_shop_bends_its_own() -> None:
    limits = replace(LIMITS, min_straight=15.0)
    assert short(draft([Straight(20.0), *BENDS, Straight(20.0)], limits=limits)) == []
    own = replace(limits, bend_may_meet_bend=False)
    [found] = short(draft([Straight(20.0), *BENDS, Straight(20.0)], limits=own))
    assert "step 3" in found.message and "15.0 mm" in found.message


def test_a_tube_into_the_member_it_runs_along() -> None:
    """A rail of 38 mm whose axis is 35 mm off at the start and 45 mm at the end: 5.2 mm in, then 4.8 mm clear."""
    rail = NamedLine("lower rail", (35.0, 0.0, 0.0), (45.0, 400.0, 0.0), 38.0)
    made = draft(lines=(rail,))
    made = replace(made, runs=(replace(made.primaries[0], parallels=(Parallel(1, "lower rail", R(1)),)),))
    [found] = [each for each in findings(made) if each.rule == "parallel"]
    assert found.level == "error"
    assert "5.2 mm into it where it begins and 4.8 mm from it where it ends" in found.message
