"""A plan is the best there is, and everything in it can be cut."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from itertools import pairwise

import pytest

from headergen.model import CutPiece, Plan, ShopSettings, Stock, StockBend, StockStraight
from headergen.shop.course import Course, CourseBend
from headergen.shop.plan import plan_of
from tests.shop.small_cases import SETTINGS, best_by_trying, small_case

QUICK, ALL = 30, 200


def figures_of(plan: Plan) -> tuple[float, ...]:
    f = plan.figures
    return (f.missing, f.broken, f.joints, f.arc_cuts, f.unclampable, round(f.cost, 6))


@pytest.mark.quick(10)
@pytest.mark.parametrize("seed", range(QUICK))
def test_a_plan_is_as_good_as_the_best_of_all_that_can_be_tried(seed: int) -> None:
    courses, stock = small_case(seed)
    plan = plan_of(courses, stock, SETTINGS)
    assert figures_of(plan) == pytest.approx(best_by_trying(courses, stock))
    assert_can_be_cut(plan, courses, stock, SETTINGS)


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize("seed", range(QUICK, ALL))
def test_and_so_on_for_many_more(seed: int) -> None:
    test_a_plan_is_as_good_as_the_best_of_all_that_can_be_tried(seed)


def test_the_cases_are_of_all_kinds() -> None:
    """Else the two ways would agree on little: bends are missing, wishes broken, items shared, whole, and bought."""
    plans = [plan_of(*case, SETTINGS) for case in map(small_case, range(QUICK))]
    figures = [plan.figures for plan in plans]
    assert any(f.missing for f in figures) and any(f.broken for f in figures) and any(f.unclampable for f in figures)
    items = [item for plan in plans for item in plan.items if item.kind == "bend"]
    kept = {piece.kept_leg for plan in plans for piece in plan.pieces if piece.is_bend}
    assert any(len(item.pieces) > 1 for item in items) and kept >= {"first", "second", "both", ""}
    assert any(item.on_hand for item in items) and not all(item.on_hand for item in items)


def assert_can_be_cut(plan: Plan, courses: Sequence[Course], stock: Stock, s: ShopSettings) -> None:
    """Piece by piece, by what the shelf has."""
    assert plan.figures.joints == len(plan.joints)
    assert plan.figures.arc_cuts == sum(end.cut == "arc" for piece in plan.pieces for end in piece.ends)
    assert plan.figures.unclampable == sum(not piece.clampable for piece in plan.pieces)
    assert plan.figures.missing == sum(piece.item is None for piece in plan.pieces if piece.is_bend)
    for course in courses:
        pieces = plan.of_run(course.run)
        assert sum(piece.length for piece in pieces) == pytest.approx(course.length)
        assert all(min(piece.legs) >= 0 and piece.length > 0 for piece in pieces)
    for item in plan.items:
        mine = [piece for piece in plan.pieces if piece.item == item.number]
        assert {(piece.run, piece.number) for piece in mine} == set(item.pieces)
        if item.kind == "bend":
            assert_from_one_bend(mine, stock.bends[item.index], s)
        else:
            assert all(end.leave_on >= s.dressing for p in mine for end in p.ends)
            sawn = [p.length + p.ends[0].leave_on + p.ends[1].leave_on for p in mine]
            assert sum(sawn) + s.kerf * (len(sawn) - 1) <= stock.straights[item.index].length + 1e-6
    for kind, shelf in (("bend", stock.bends), ("straight", stock.straights)):
        for index, each in enumerate(shelf):
            used = sum((item.kind, item.index) == (kind, index) for item in plan.items)
            assert each.count is None or each.price is not None or used <= each.count


def assert_from_one_bend(pieces: Sequence[CutPiece], bend: StockBend, s: ShopSettings) -> None:
    """Angles and kerfs are within its own; no two of its pieces share metal; each leg is had once, by the end piece."""
    lost = (s.kerf + 2 * s.dressing) / bend.radius
    assert sum(piece.angle for piece in pieces) + lost * (len(pieces) - 1) <= bend.real_angle + 1e-9
    ordered = sorted(pieces, key=lambda piece: piece.taken or (0.0, 0.0))
    for before, after in pairwise(ordered):
        assert before.taken is not None and after.taken is not None
        assert after.taken[0] - before.taken[1] >= lost - 1e-9
        left_on = _toward_second(before) + _toward_first(after)
        assert bend.real_radius * (after.taken[0] - before.taken[1]) >= left_on + s.kerf - 1e-9, "the saw has its kerf"
    for piece in pieces:
        assert piece.taken is not None and piece.taken[1] - piece.taken[0] == pytest.approx(piece.angle)
        assert piece.taken[0] >= -1e-9 and piece.taken[1] <= bend.real_angle + 1e-9
        is_whole = abs(piece.angle - bend.real_angle) < 1e-6
        assert (piece.kept_leg == "both") == (is_whole and piece.kept_leg != "")
        wanted = sorted(leg + end.leave_on for leg, end in zip(piece.legs, piece.ends, strict=True) if leg > 0)
        legs = {"first": bend.real_legs[:1], "second": bend.real_legs[1:], "both": bend.real_legs, "": ()}
        had = sorted(legs[piece.kept_leg], reverse=True)
        assert len(wanted) <= len(had) and all(a <= b + 1e-6 for a, b in zip(reversed(wanted), had, strict=False))
        if piece.kept_leg in ("first", "both"):
            assert piece.taken[0] == pytest.approx(0.0)
        if piece.kept_leg in ("second", "both"):
            assert piece.taken[1] == pytest.approx(bend.real_angle)
    kept = [piece.kept_leg for piece in pieces]
    assert kept.count("first") <= 1 and kept.count("second") <= 1


def _toward_second(piece: CutPiece) -> float:
    """What is left on at the end that lies toward the second leg of its item."""
    return piece.ends[0 if piece.turned else 1].leave_on


def _toward_first(piece: CutPiece) -> float:
    return piece.ends[1 if piece.turned else 0].leave_on


def wild_case(seed: int) -> tuple[list[Course], Stock]:
    """Runs and shelves of any lengths, with shrinkage and trim at work."""
    chance = random.Random(seed)
    radius = 63.5
    courses = []
    for number in range(chance.randint(1, 4)):
        count = chance.randint(1, 3)
        straights = tuple(
            chance.choice((0.0, chance.uniform(1, 60), chance.uniform(20, 700))) for _ in range(count + 1)
        )
        bends = tuple(
            CourseBend(math.radians(chance.choice((45, 90, chance.uniform(8, 170)))), radius, chance.uniform(-3, 3), k)
            for k in range(count)
        )
        length = sum(straights) + sum(bend.angle * radius for bend in bends)
        blocked = ((length - 40, length + 40, "slip"),) if chance.random() < 0.5 else ()
        courses.append(Course(f"primary {number}", straights, bends, 21.2, 2.0, blocked, not blocked))
    kinds = tuple(
        StockBend(radius, math.radians(angle), (chance.uniform(0, 150), chance.uniform(0, 150)), 9.0, count)
        for angle, count in ((45, None), (90, 2), (180, 1))
    )
    return courses, Stock(kinds, (StockStraight(600.0, 11.0), StockStraight(1000.0, None, 2)))


@pytest.mark.parametrize("seed", range(12))
def test_every_piece_of_a_plan_can_be_cut(seed: int) -> None:
    courses, stock = wild_case(seed)
    settings = ShopSettings()
    assert_can_be_cut(plan_of(courses, stock, settings), courses, stock, settings)


def test_a_bend_that_none_holds_is_missing_and_a_larger_one_is_made_of_several() -> None:
    course = Course("primary 1", (100.0, 100.0), (CourseBend(1.0, 50.0, 0.0, 2),), 21.2)
    plan = plan_of([course], Stock((StockBend(63.5, 3.0, (90.0, 90.0)),), ()), ShopSettings())
    assert plan.figures.missing == 1
    assert [piece.item for piece in plan.pieces if piece.is_bend] == [None]


def test_a_plan_is_had_of_whatever_is_asked() -> None:
    """Straight tubes alone, bends tighter than the tube is wide, and a shelf of crumbs."""
    straight = Course("primary 1", (418.0,), (), 21.2, 2.0, ((0.0, 418.0, "no room"),), True)
    tight = Course("primary 2", (20.0, 0.0, 5.0), (CourseBend(0.3, 18.0, 0.0, 2), CourseBend(0.3, 18.0, 3.0, 3)), 21.2)
    shelf = Stock((StockBend(18.0, 0.5),), (StockStraight(4.0),))
    settings = ShopSettings()
    plan = plan_of([straight], shelf, settings)
    assert (len(plan.pieces), plan.figures.joints, plan.items) == (1, 0, ())
    plan = plan_of([straight, tight], shelf, settings)
    assert plan.figures.missing == 0 and sum(piece.is_bend for piece in plan.pieces) == 2
    assert all(piece.item is None for piece in plan.pieces if not piece.is_bend)


def test_a_straight_longer_than_any_on_the_shelf_is_of_several() -> None:
    """Each of them, with what is left on it and a face to dress at either end, comes out of 1000 mm."""
    course = Course("primary 1", (2300.0, 100.0), (CourseBend(1.0, 63.5, 0.0, 2),), 21.2)
    stock = Stock((StockBend(63.5, 1.0, (120.0, 120.0)),), (StockStraight(1000.0, 9.0),))
    plan = plan_of([course], stock, ShopSettings())
    assert [piece.is_bend for piece in plan.pieces] == [False, False, False, True]
    assert_can_be_cut(plan, [course], stock, ShopSettings())
    assert sum(item.kind == "straight" for item in plan.items) == 3
