"""What is left of the bends on hand, by the quick count, against sums by hand."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from itertools import islice
from pathlib import Path

import numpy as np
import pytest
from wanted import job

from headergen.model import Bend, Draft, ShopSettings, Step, Stock, StockBend, Straight
from headergen.shop.on_hand import kept_to_count, without_stock
from headergen.solve.closing import close
from headergen.solve.route.choose import scarcer, sets_of
from headergen.solve.route.layout import LayoutTube, seen
from headergen.solve.route.parts import part_of
from headergen.solve.route.problem import RouteProblem, problem_of
from headergen.solve.route.search import search
from headergen.solve.route.shelf import at_shelf_angles, in_stock, ways_to_hold
from headergen.solve.route.starts import Pool, pooled
from headergen.solve.route.supply import (
    Supply,
    lacking,
    lacking_in,
    largest_left,
    supply_of,
    whole_left,
    without,
)

LOST = 3.0  # mm: a saw of 1 mm, and 1 mm ground off either face


def draft_with(folder: Path, *bends: StockBend) -> Draft:
    return replace(job(folder)[1], stock=kept_to_count(Stock(bends, ())), shop=ShopSettings(kerf=1.0, dressing=1.0))


def items(degrees: float, count: int | None, radius: float = 63.5) -> StockBend:
    return StockBend(radius, math.radians(degrees), (80.0, 80.0), 9.0, count)


def supply_with(folder: Path, *bends: StockBend) -> Supply:
    draft = draft_with(folder, *bends)
    supply = supply_of(draft, draft.runs)
    assert supply is not None
    return supply


def count(supply: Supply, *degrees: float, radius: float = 63.5) -> int:
    angles = np.radians([degrees])
    return int(lacking(supply, angles, np.full_like(angles, radius))[0])


def test_there_is_none_where_all_can_be_bought(tmp_path: Path) -> None:
    draft = draft_with(tmp_path, items(90, None))
    assert supply_of(draft, draft.runs) is None and problem_of(draft, {}).supply is None
    assert lacking_in(None, [(np.array([1.0]), (63.5,))]) == 0


@pytest.mark.parametrize(
    ("degrees", "on_hand", "lacks"),
    [
        ((90, 90), {90: 2}, 0),
        ((90, 90), {90: 1}, 1),
        ((40, 40), {90: 1}, 0),  # 80° and 3 mm, which are 2.7°
        ((44, 44), {90: 1}, 1),
        ((30, 30, 30), {90: 1, 45: 1}, 0),
        ((60, 60, 60), {90: 2, 60: 1}, 0),
        ((80, 40, 40), {90: 1}, 1),  # the two small ones from it, not the large one
        ((60, 25, 25, 0, 0), {90: 1, 30: 1}, 0),
    ],
)
def test_bends_that_find_nothing_left(
    degrees: tuple[float, ...], on_hand: dict[float, int], lacks: int, tmp_path: Path
) -> None:
    supply = supply_with(tmp_path, *(items(angle, number) for angle, number in on_hand.items()))
    assert supply.lost == LOST and count(supply, *degrees) == lacks


def test_kinds_without_a_count_are_endless_up_to_their_angle_and_radius(tmp_path: Path) -> None:
    supply = supply_with(tmp_path, items(45, None), items(90, 1), items(90, 1, 80.0))
    assert count(supply, 45, 45, 45, 30, 30) == 0
    assert count(supply, 45, 60, 60) == 1
    assert count(supply, 90, radius=80.0) == 0 and count(supply, 45, 90, radius=80.0) == 1


def test_what_is_cut_is_no_longer_left(tmp_path: Path) -> None:
    """From 90, 90, 60: 60 takes the whole of its own, 50 leaves 40° less 3 mm of a quarter bend."""
    supply = supply_with(tmp_path, items(90, 2), items(60, 1))
    left = without(supply, np.radians([50.0, 60.0]).tolist(), [63.5, 63.5])
    assert whole_left(supply, 63.5, math.radians(60)) and not whole_left(left, 63.5, math.radians(60))
    assert whole_left(left, 63.5, math.radians(90)) and not whole_left(left, 80.0, math.radians(90))
    assert largest_left(left, 63.5) == pytest.approx(math.radians(90))
    rest = without(left, [math.radians(90)], [63.5])
    assert math.degrees(largest_left(rest, 63.5)) == pytest.approx(40 - math.degrees(LOST / 63.5))
    assert largest_left(rest, 80.0) == 0.0


def test_a_radius_of_a_fraction_of_an_inch_is_that_of_its_items(tmp_path: Path) -> None:
    """2-1/4 in are 57.15 mm, which lies between two tenths."""
    supply = supply_with(tmp_path, items(90, 1, 57.15), items(60, 1, 57.15))
    assert count(supply, 90, 60, radius=57.15) == 0 and count(supply, 90, 80, radius=57.15) == 1
    assert whole_left(supply, 57.15, math.radians(90)) and largest_left(supply, 57.15) == pytest.approx(
        math.radians(90)
    )
    left = without(supply, [math.radians(90)], [57.15])
    assert not whole_left(left, 57.15, math.radians(90)) and largest_left(left, 57.15) == pytest.approx(
        math.radians(60)
    )


@pytest.mark.quick(8)
@pytest.mark.parametrize("seed", range(20))
def test_the_quick_count_is_at_most_one_more_than_the_exact_one(seed: int, tmp_path: Path) -> None:
    """Never less, and at most one more; the exact count leaves nothing on at the ends here either."""
    chance = random.Random(seed)
    shelf = [items(angle, chance.randint(1, 2)) for angle in (90, 60, 45)]
    draft = replace(draft_with(tmp_path, *shelf), shop=ShopSettings(kerf=1.0, dressing=1.0, shrinkage=0.0, trim=0.0))
    paths = [path(chance), path(chance)]
    draft = draft.with_primaries(
        tuple(replace(p, steps=s, to_find=False) for p, s in zip(draft.primaries, paths, strict=True))
    )
    supply = supply_of(draft, draft.runs)
    bends = [step for steps in paths for step in steps if isinstance(step, Bend)]
    quick = lacking_in(supply, [(np.array([bend.angle for bend in bends]), tuple(bend.radius for bend in bends))])
    exact = len(list(without_stock(close(draft))))
    assert exact <= quick <= exact + 1


def path(chance: random.Random) -> tuple[Step, ...]:
    """Straights around each bend, the first one past plate and transition."""
    angles = (chance.choice((20.0, 30.0, 40.0, 55.0, 90.0)) for _ in range(chance.randint(1, 4)))
    bends = (Bend(math.radians(angle), 63.5, 0.5) for angle in angles)
    return (*(step for bend in bends for step in (Straight(80.0), bend)), Straight(80.0))


def found_pools(problem: RouteProblem) -> list[Pool]:
    best = next(islice(search(problem, 0), 8, None)).best
    assert best is not None
    return [pooled(problem, k, [run]) for k, run in enumerate(best.layout.runs)]


def test_sets_that_need_the_same_bend_cost_what_a_lacking_bend_costs(tmp_path: Path) -> None:
    """Enough for either tube; beside each other, as many bends as find nothing left cost their price."""
    plenty = problem_of(draft_with(tmp_path, items(180, 9)), {})
    pools = found_pools(plenty)
    angles = [pool.angles[0][pool.angles[0] > 0.0] for pool in pools]
    assert float(scarcer(plenty, pools[0], [pools[1]])[0]) == 0.0
    largest = [items(math.degrees(float(angle)) + 0.01, 1) for angle in angles[0]]
    few = replace(plenty, supply=supply_with(tmp_path, *largest))
    lacks = lacking_in(few.supply, [(each, (63.5,) * len(each)) for each in angles])
    alone = lacking_in(few.supply, [(angles[1], (63.5,) * len(angles[1]))])
    assert lacks > alone  # the first tube has taken all
    assert float(scarcer(few, pools[0], [pools[1]])[0]) == pytest.approx(300.0 * (lacks - alone))
    dear = replace(few.draft.routing, cost_weights=replace(few.draft.routing.cost_weights, lacking=7.0))
    cheap = replace(few, draft=replace(few.draft, routing=dear))
    assert float(scarcer(cheap, pools[0], [pools[1]])[0]) == pytest.approx(7.0 * (lacks - alone))
    assert len(sets_of(few, pools, 620.0, 0.0)) == 1


def test_beside_known_tubes_only_the_angles_that_are_left_are_tried(tmp_path: Path) -> None:
    problem = problem_of(draft_with(tmp_path, items(90, 2), items(60, 1), items(45, None)), {})
    pools = found_pools(problem)
    run = pools[1].runs[0]
    taken = replace(problem.supply, whole=np.zeros(3))  # type: ignore[type-var]
    part = replace(part_of(problem, (0,), np.array([0, 1]), {1: run}), supply=taken)
    assert [round(math.degrees(angle)) for angle in in_stock(problem, 63.5)] == [45, 60, 90]
    assert [round(math.degrees(angle)) for angle in in_stock(part, 63.5)] == [45]
    mine = pools[0].runs[0]
    for way in ways_to_hold(part, 0, mine):
        assert all(angle == 0.0 or round(math.degrees(angle)) == 45 or angle > math.radians(45) for angle in way)
    assert not np.array_equal(part_of(problem, (0,), np.array([0, 1]), {1: run}).supply.arcs, problem.supply.arcs)  # type: ignore[union-attr]


def test_a_bend_larger_than_what_is_left_is_brought_to_that(tmp_path: Path) -> None:
    """An item that is 10° short of both bends of a tube and the saw: either gives 10°."""
    problem = problem_of(draft_with(tmp_path, items(180, 9)), {})
    run = LayoutTube(0, (63.5, 63.5), np.array([200.0, 80.0]))
    one, other = seen(problem, 0, run, 2)[2].tolist()
    short = math.radians(10.0)
    assert min(one, other) > 2 * short
    item = one + other + LOST / 63.5 - short
    few = replace(problem, supply=Supply(np.array([item + LOST / 63.5]), np.array([63.5]), np.array([item]), (), LOST))
    ways = ways_to_hold(few, 0, run)
    assert any(way == pytest.approx((one - short, 0.0), abs=2e-4) and way[0] < one - short for way in ways)
    assert any(way == pytest.approx((0.0, other - short), abs=2e-4) and way[1] < other - short for way in ways)


def test_what_lacks_nothing_comes_first_though_it_costs_more(tmp_path: Path) -> None:
    """The ways to bring one tube to the shelf, by their cost with what then lacks."""
    problem = problem_of(draft_with(tmp_path, items(90, 2), items(60, 1), items(45, 2), items(30, 1)), {})
    best = next(islice(search(problem, 0), 8, None)).best
    assert best is not None
    costs = []
    for made in at_shelf_angles(problem, best.layout, 0):
        bends = [(seen(problem, k, run, 2)[2], run.radii) for k, run in enumerate(made.layout.runs)]
        costs.append(made.cost + 300.0 * lacking_in(problem.supply, bends))
    assert costs and costs == sorted(costs)
