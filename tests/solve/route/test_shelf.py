"""Whole bends of the shelf in found paths: held while tubes descend, then closed at exactly these angles."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from itertools import islice
from pathlib import Path

import numpy as np
import pytest
from wanted import job

from headergen.geometry.curves.centreline import trace
from headergen.model import Bend, Draft, ShopSettings, Step, Stock, StockBend, Straight
from headergen.shop.course import Course, CourseBend
from headergen.shop.plan import plan_of
from headergen.solve.route.cost import cost_terms, is_whole
from headergen.solve.route.layout import Layout, LayoutTube, seen
from headergen.solve.route.problem import problem_of
from headergen.solve.route.search import search
from headergen.solve.route.shelf import (
    WAYS,
    at_shelf_angles,
    beside_the_others,
    in_stock,
    to_make_whole,
    ways_to_hold,
    with_whole,
)
from headergen.solve.route.starts import pooled

SHELF = tuple(StockBend(63.5, math.radians(angle), (80.0, 80.0)) for angle in (180, 90, 60, 45, 30))


def stocked(folder: Path, shelf: str = "only") -> Draft:
    draft = job(folder)[1]
    routing = replace(draft.routing, shelf=shelf, sharpest=math.radians(150))  # type: ignore[arg-type]
    return replace(draft, stock=Stock((*SHELF, StockBend(80.0, 0.5)), ()), routing=routing)


def test_angles_in_stock_are_those_of_the_radius_within_the_range(tmp_path: Path) -> None:
    problem = problem_of(stocked(tmp_path), {})
    assert [round(math.degrees(angle)) for angle in in_stock(problem, 63.5)] == [30, 45, 60, 90]  # a U is too sharp
    assert in_stock(problem, 100.0) == ()


def test_the_nearest_comes_first_and_no_more_than_a_tube_can_hold(tmp_path: Path) -> None:
    """Two bends leave one freedom beside the length: a tube with one of them held is full."""
    problem = problem_of(stocked(tmp_path), {})
    run = LayoutTube(0, (63.5, 63.5), np.array([200.0, 80.0]))
    layout = Layout((run, run), 620.0)
    found = to_make_whole(problem, layout)
    angles = [*seen(problem, 0, run, 2)[2], *seen(problem, 1, run, 2)[2]]
    assert found[0].off == pytest.approx(min(abs(a - s) for a in angles for s in in_stock(problem, 63.5)))
    assert [each.off for each in found] == sorted(each.off for each in found)
    full = replace(run, held=(0.0, math.radians(90)))
    assert {each.tube for each in to_make_whole(problem, Layout((full, run), 620.0))} == {1}


def test_a_held_bend_has_its_angle_exactly_and_the_tube_still_arrives(tmp_path: Path) -> None:
    problem = problem_of(stocked(tmp_path), {})
    best = next(islice(search(problem, 0), 4, None)).best
    assert best is not None
    made = next(
        m for w in to_make_whole(problem, best.layout) if (m := with_whole(problem, best.layout, w)) is not None
    )
    [(tube, bend)] = [(k, j) for k, run in enumerate(made.runs) for j, angle in enumerate(run.held) if angle > 0]
    _, _, angles, length = seen(problem, tube, made.runs[tube], 2)
    assert angles[bend] == pytest.approx(made.runs[tube].held[bend], abs=1e-9)
    assert length == pytest.approx(made.length, abs=1e-6)


@pytest.mark.slow
def test_a_search_with_a_shelf_uses_whole_bends(tmp_path: Path) -> None:
    best = next(islice(search(problem_of(stocked(tmp_path), {}), 0), 45, None)).best
    assert best is not None
    bends = [step for p in best.draft.primaries for step in p.steps if isinstance(step, Bend)]
    cuts = {term.what: term for term in best.terms}["arc cuts"]
    whole = sum(is_whole(bend, SHELF) for bend in bends)
    assert whole >= 0.9 * len(bends) and cuts.amount == len(bends) - whole and cuts.each == 306.0


def test_one_tube_is_brought_to_the_shelf_beside_the_others(tmp_path: Path) -> None:
    """The other tube stays as it is; the first one gets whole bends, as many as it has or one less."""
    problem = problem_of(stocked(tmp_path), {})
    best = next(islice(search(replace(problem, draft=replace(problem.draft, stock=None)), 0), 8, None)).best
    assert best is not None and not any(run.held for run in best.layout.runs)
    pool = pooled(problem, 0, [best.layout.runs[0]])
    for made in beside_the_others(problem, best.layout, 0, pool):
        assert made.runs[1] is best.layout.runs[1]
        angles, held = seen(problem, 0, made.runs[0], 2)[2], made.runs[0].held
        assert any(held) and all(abs(a - h) < 1e-8 for a, h in zip(angles, held, strict=True) if h > 0.0)
        assert seen(problem, 0, made.runs[0], 2)[3] == pytest.approx(made.length, abs=1e-6)
    assert list(beside_the_others(problem, best.layout, 0, pool)), "one way at least"


def test_a_tube_is_held_in_all_ways_that_are_near_and_no_more_than_it_can_hold(tmp_path: Path) -> None:
    """Three bends; from 76° only 60 and 90 are within 25°, from 24° only 30 and 45."""
    problem = problem_of(stocked(tmp_path), {})
    best = next(islice(search(problem, 0), 8, None)).best
    assert best is not None
    for tube, run in enumerate(best.layout.runs):
        angles = seen(problem, tube, run, 2)[2]
        ways = ways_to_hold(problem, tube, replace(run, held=()))
        near = [sum(abs(math.degrees(a) - s) < 25 for s in (30, 45, 60, 90)) for a in angles]
        if run.bends == 3:
            assert len(ways) == min(math.prod(each + 1 for each in near) - 1, WAYS)
        else:
            assert len(ways) == sum(near)  # one of two
        change = [sum(abs(w - a) for w, a in zip(way, angles, strict=True) if w > 0.0) for way in ways]
        assert change == sorted(change) and len(set(ways)) == len(ways)
        assert ways[0] not in ways_to_hold(problem, tube, replace(run, held=ways[0]))


def test_bends_of_one_tube_at_shelf_angles_cost_the_least_first_and_leave_the_others(tmp_path: Path) -> None:
    problem = problem_of(stocked(tmp_path, "where it pays"), {})
    best = next(islice(search(replace(problem, draft=replace(problem.draft, stock=None)), 0), 8, None)).best
    assert best is not None and not any(run.held for run in best.layout.runs)
    found = at_shelf_angles(problem, best.layout, 0)
    assert found and [each.cost for each in found] == sorted(each.cost for each in found)
    for made in found:
        assert made.layout.runs[1] is best.layout.runs[1]
        written = [step.angle for step in made.draft.primaries[0].steps if isinstance(step, Bend)]
        held = made.layout.runs[0].held
        assert any(held) and all(abs(a - h) < 1e-6 for a, h in zip(written, held, strict=True) if h > 0.0)
        assert trace(made.draft.primaries[0].port.frame, made.draft.primaries[0].steps).length == pytest.approx(
            best.layout.length, abs=0.01
        )


def random_path(chance: random.Random) -> tuple[Step, ...]:
    steps: list[Step] = [Straight(chance.uniform(10.0, 150.0))]
    for _ in range(chance.randint(1, 4)):
        steps.append(Bend(math.radians(chance.choice((30.0, 45.0, 90.0, chance.uniform(10.0, 150.0)))), 63.5, 1.0))
        steps.append(Straight(chance.uniform(10.0, 250.0)))
    return tuple(steps)


@pytest.mark.parametrize("seed", range(30))
def test_joints_and_arc_cuts_are_those_of_the_plan(seed: int, tmp_path: Path) -> None:
    """Counted by its pieces, with nothing left on and no clamp in the way: the ends of bends inside their arcs."""
    chance = random.Random(seed)
    legs = [chance.choice((20.0, 60.0, 100.0)) for _ in range(10)]
    stock = Stock(tuple(replace(each, legs=(legs[2 * k], legs[2 * k + 1])) for k, each in enumerate(SHELF)), ())
    paths = [random_path(chance), random_path(chance)]
    draft = replace(stocked(tmp_path, "where it pays"), stock=stock)
    draft = draft.with_primaries(tuple(replace(p, steps=s) for p, s in zip(draft.primaries, paths, strict=True)))
    terms = {term.what: term.amount for term in cost_terms(draft, [1, 2])}
    settings = ShopSettings(kerf=0.0, dressing=0.0, shrinkage=0.0, trim=0.0, clamp=0.0, apart=0.0)
    plan = plan_of([course_of(path, f"run {k}") for k, path in enumerate(paths)], stock, settings)
    assert terms["joints"] == len(plan.joints)
    assert terms["arc cuts"] == sum(end.cut == "arc" for piece in plan.pieces for end in piece.ends)


def course_of(path: tuple[Step, ...], name: str) -> Course:
    straights = tuple(step.length for step in path if isinstance(step, Straight))
    bends = (CourseBend(s.angle, s.radius, s.rotation, k) for k, s in enumerate(path) if isinstance(s, Bend))
    return Course(name, straights, tuple(bends), 21.2)
