"""Pairs of tubes sought anew between the others, what layouts look like they cost, and checks that wait."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import islice
from pathlib import Path

import numpy as np
import pytest
from wanted import changed, job

from headergen.model import Draft
from headergen.solve.route import rerouting
from headergen.solve.route.answer import priced_of
from headergen.solve.route.choose import in_views, looks
from headergen.solve.route.cost import cost_terms, total
from headergen.solve.route.layout import HELD, Layout, LayoutTube, may_pass, seen
from headergen.solve.route.problem import RouteProblem, problem_of
from headergen.solve.route.rerouting import pairs_to_reroute, rerouted
from headergen.solve.route.search import SearchState, keep, search
from headergen.solve.route.starts import pooled

THREE = (
    (
        "    2: {at: [100, 0], shape: {round: 38}}\n",
        "    2: {at: [100, 0], shape: {round: 38}}\n    3: {at: [200, 0], shape: {round: 38}}\n",
    ),
    ("bores: [1, 2] ", "bores: [1, 2, 3] "),
    ("  2: {find: true}\n", "  2: {find: true}\n  3: find\n"),
)


def problem_in(folder: Path, *more: tuple[str, str]) -> RouteProblem:
    _, draft, meshes = job(folder, changed(*more))
    return problem_of(draft, meshes)


def layout_of(problem: RouteProblem) -> Layout:
    runs = (LayoutTube(k, (63.5, 63.5), np.array([60.0 + 5 * k, 90.0])) for k in range(problem.count))
    return Layout(tuple(runs), 620.0)


def weighing(problem: RouteProblem, **weights: float) -> RouteProblem:
    routing = problem.draft.routing
    weighed = replace(routing.cost_weights, **weights)
    return replace(problem, draft=replace(problem.draft, routing=replace(routing, cost_weights=weighed)))


def test_a_pair_is_sought_anew_and_the_third_tube_stays(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rerouting, "WORTH", 1e5)  # the tubes below are cheap, since they miss their length by far
    problem = problem_in(tmp_path, *THREE)
    layout = layout_of(problem)
    made = [each for each in rerouted(problem, layout, (0, 1), np.random.default_rng(0)) if each is not None]
    assert made
    for each in made:
        assert each.runs[2] is layout.runs[2] and each.length == layout.length
        assert [run.bore for run in each.runs] == [0, 1, 2]
        assert each.runs[0] is not layout.runs[0] and each.runs[1] is not layout.runs[1]


def test_what_misses_a_straight_by_a_hair_is_not_sent_to_the_checks(tmp_path: Path) -> None:
    """The last straight becomes 0.03 mm short, a tenth of what a descent may miss in length."""
    problem = problem_in(tmp_path)
    best = next(found.best for found in search(problem, 0) if found.best is not None)
    assert may_pass(problem, best.layout)
    last = [seen(problem, k, run, 2)[1][-1] for k, run in enumerate(best.layout.runs)]
    for short, passes in ((0.0, True), (0.03, False)):
        ends = np.column_stack([problem.least_ends[:, 0], np.array(last) + short])
        assert may_pass(replace(problem, least_ends=ends), best.layout) is passes
    assert HELD > 0.03


def test_the_pair_comes_first_that_costs_most(tmp_path: Path) -> None:
    """One tube of three could be far cheaper: both pairs with it come before the pair without."""
    problem = weighing(problem_in(tmp_path, *THREE), crossing=0.0, parting=0.0)
    layout = layout_of(problem)
    pools = [pooled(problem, k, [run]) for k, run in enumerate(layout.runs)]
    pools[1] = replace(pools[1], cost=pools[1].cost - 5000.0)
    assert pairs_to_reroute(problem, layout, pools)[2] == (0, 2)


def test_a_layout_looks_like_what_it_costs(tmp_path: Path) -> None:
    problem = problem_in(tmp_path, *THREE)
    layout = layout_of(problem)
    plain = weighing(
        problem, bend=30.0, crossing=0.0, parting=0.0, sprawl=0.0, arching=0.0, doubling_back=0.0, weld=0.0
    )
    degrees = sum(math.degrees(seen(problem, k, run)[2].sum()) for k, run in enumerate(layout.runs))
    assert looks(plain, layout) == pytest.approx(degrees + 6 * 30)
    for name, what in (("parting", "degrees that neighbours part"), ("sprawl", "diameters of sprawl")):
        one = weighing(plain, **{name: 100.0})
        priced = priced_of(one, layout)
        assert priced is not None
        [cost] = [term.cost for term in priced.terms if term.what == what]
        assert looks(one, layout) - looks(plain, layout) == pytest.approx(cost, rel=0.05) and cost > 1.0


@pytest.mark.parametrize("every", [1, 3])
def test_a_tube_is_seen_from_its_port_to_its_bore(every: int, tmp_path: Path) -> None:
    """Tubes may cross between the last of their samples and the bores."""
    problem = problem_in(tmp_path, *THREE)
    pool = pooled(problem, 1, [layout_of(problem).runs[1]])
    seen_so = in_views(problem, pool, 1, every)[:, 0]
    for view, points in zip(problem.views, seen_so, strict=True):
        assert points[0] == pytest.approx(view @ problem.ports[1, :3])
        assert points[-1] == pytest.approx(view @ problem.bores[1, :3])
        assert len(points) == 36 // every + 2


def test_what_is_too_dear_waits_for_its_checks(tmp_path: Path) -> None:
    problem = problem_in(tmp_path)
    best = next(found.best for found in search(problem, 0) if found.best is not None)
    found = SearchState()
    assert keep(problem, found, best.layout, best.cost - 1.0) is None
    assert not found.answers and [each.cost for each in found.waiting] == [pytest.approx(best.cost)]
    made = keep(problem, found, best.layout)
    assert made is not None and found.best is not None and found.best.cost == made.cost == best.cost


@pytest.mark.slow
def test_where_the_look_counts_nothing_bends_and_degrees_cost_least(tmp_path: Path) -> None:
    """A search that is asked for the look as well pays for it in bends and degrees."""
    problem = problem_in(tmp_path, *THREE)
    plain = {}
    for tidy in (0.0, 1.0):
        *_, last = islice(search(problem_of(as_tidy(problem.draft, tidy), problem.meshes), 0), 150)
        assert last.best is not None
        terms = cost_terms(as_tidy(last.best.draft, 0.0), [run.key for run in problem.runs], problem.families)
        plain[tidy] = total(terms)
    assert plain[0.0] < plain[1.0] - 5.0


def as_tidy(draft: Draft, tidy: float) -> Draft:
    return replace(draft, routing=replace(draft.routing, tidy=tidy))
