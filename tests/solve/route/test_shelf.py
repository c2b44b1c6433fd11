"""Whole bends of the shelf in found paths: held while tubes descend, then closed at exactly these angles."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import islice
from pathlib import Path

import numpy as np
import pytest
from wanted import job

from headergen.model import Bend, Draft, Stock, StockBend
from headergen.solve.route.cost import is_whole
from headergen.solve.route.layout import Layout, LayoutTube, seen
from headergen.solve.route.problem import problem_of
from headergen.solve.route.search import search
from headergen.solve.route.shelf import beside_the_others, in_stock, to_make_whole, with_whole
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
    assert whole >= 0.9 * len(bends) and cuts.amount == len(bends) - whole and cuts.each == 304.0


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
