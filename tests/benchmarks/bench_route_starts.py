"""Paths of planted headers against random starts of SLSQP on the same demands, in one run and the same CPU time.

    python tests/benchmarks/bench_route_starts.py [SECONDS] [RIVAL'S SECONDS] [NAME …]

Each header of planted/ has an answer, its own paths, which are taken away first (`planted_headers.py`). Four more are
impossible by the straight-line bound. CPU seconds of one process; kernels are compiled before. Both methods are judged
by the exact checks alone. How good our paths are is measured by bench_route.py.
"""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from planted_headers import Case, cases
from scipy.optimize import minimize

from headergen.geometry.arrays import Array
from headergen.solve.route.answer import Answer, answer_of
from headergen.solve.route.infeasibility import what_forbids_it
from headergen.solve.route.kernels.descend import outline, overlaps
from headergen.solve.route.kernels.shape import MOST_BENDS
from headergen.solve.route.kernels.terms import CHASSIS, ITSELF, KINDS, SPARE, tube_terms
from headergen.solve.route.layout import Layout, _unpacked, seen, tubes_of
from headergen.solve.route.problem import RouteProblem, problem_of
from headergen.solve.route.search import search, warm_up
from headergen.solve.route.starts import random_layout

SEEN = 200.0  # mm of margin under which every distance shows


@dataclass(frozen=True)
class Run:
    first: float | None = None
    answer: Answer | None = None
    seconds: float = 0.0


def ours(case: Case, seconds: float) -> Run:
    begun = time.process_time()
    if what_forbids_it(case.draft, case.meshes):
        return Run(seconds=time.process_time() - begun)
    problem = problem_of(case.draft, case.meshes)
    first = None
    for found in search(problem, 0):
        spent = time.process_time() - begun
        if found.answers and first is None:
            first = spent
        if spent > seconds or first is not None:
            break
    return Run(first, found.best, time.process_time() - begun)


def rival(case: Case, seconds: float) -> Run:
    """SLSQP from random starts: least squared turns; lengths equal; straights, chassis, itself and pairs as limits."""
    begun = time.process_time()
    if what_forbids_it(case.draft, case.meshes):
        return Run(seconds=time.process_time() - begun)
    problem, chance = problem_of(case.draft, case.meshes), np.random.default_rng(0)
    while time.process_time() - begun < seconds:
        layout = random_layout(problem, chance)
        found = _slsqp(problem, layout)
        lengths = [seen(problem, k, run, 2)[3] for k, run in enumerate(found.runs)]
        near = np.abs(np.array(lengths) - problem.extra - found.length).max() < 1.0  # else not worth the checks
        answer = answer_of(problem, found) if near else None
        if answer is not None:
            spent = time.process_time() - begun
            return Run(spent, answer, spent)
    return Run(seconds=time.process_time() - begun)


def _slsqp(problem: RouteProblem, layout: Layout) -> Layout:
    tubes, K = tubes_of(problem, layout.runs, range(problem.count)), problem.count
    count = int(np.ceil(layout.length / 20.0))
    firsts = np.cumsum([0, *(len(run.x) for run in layout.runs)])
    want = problem.want._replace(margin=SEEN, flattest=0.0)
    scale = 50.0  # mm that an unknown of the optimiser counts

    def parts(x: Array) -> list[tuple[Array, Array, Array, float]]:
        return [
            outline(tubes.ends[k], tubes.bends[k], tubes.radii[k], x[firsts[k] : firsts[k + 1]], count)
            for k in range(K)
        ]

    def turns(y: Array) -> float:
        return float(sum((angles**2).sum() for _, _, angles, _ in parts(y * scale)))

    def lengths(y: Array) -> Array:
        return np.array([length for *_, length in parts(y * scale)]) - tubes.extra - layout.length

    def room(y: Array) -> Array:
        x, out = y * scale, []
        for k, (_, straights, angles, _) in enumerate(all_tubes := parts(x)):
            n, missing = tubes.bends[k], np.zeros(KINDS)
            at_port, at_bore = problem.least_ends[k]
            least = np.array([at_port, *[want.least] * (n - 1), at_bore]) + SPARE
            out += [*(straights - least), *(60.0 * (tubes.most[k, :n] - angles))]
            points, slopes, none = np.empty((count, 3)), np.empty((1, 3, 11)), np.zeros((0, 1))
            last = np.empty(12)
            X = np.append(x, layout.length)
            ones = np.ones((K, MOST_BENDS))
            tube_terms(X, firsts[k], k, tubes, problem.space, want, ones, none, slopes, points, last, missing)
            out += [-missing[CHASSIS] - 0.8, -missing[ITSELF] - 0.8]
        pair_want = problem.want._replace(margin=0.8)
        for a, b in combinations(range(K), 2):
            together = bool(problem.group[a] == problem.group[b])
            one, other = all_tubes[a], all_tubes[b]
            deep = overlaps(one[0][None], other[0][None], np.array([one[3]]), np.array([other[3]]), together, pair_want)
            out.append(-float(deep[0, 0]))
        return np.array(out)

    start = np.concatenate([run.x for run in layout.runs]) / scale
    constraints = [{"type": "eq", "fun": lengths}, {"type": "ineq", "fun": room}]
    found = minimize(turns, start, method="SLSQP", constraints=constraints, options={"maxiter": 60})
    x = found.x if np.isfinite(found.x).all() else start
    return _unpacked(layout, np.append(x * scale, layout.length))


def main() -> None:
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 20.0
    rivals = float(sys.argv[2]) if len(sys.argv) > 2 else seconds
    all_cases = list(cases(sys.argv[3:]))
    warm_up(problem_of(all_cases[0].draft, {}))
    print(f"{'header':<14}{'first':>7}{'SLSQP':>8}   CPU s; – is none in {seconds:g} s, SLSQP {rivals:g} s")
    firsts, theirs, false = [], [], 0
    possible = [case for case in all_cases if case.possible]
    for case in all_cases:
        mine, other = ours(case, seconds), rival(case, rivals)
        false += not case.possible and mine.first is not None
        if case.possible:
            firsts.append(mine.first)
            theirs.append(other.first)
        said = [f"{r.first:.2f}" if r.first is not None else "–" for r in (mine, other)]
        print(f"{case.name:<14}{said[0]:>7}{said[1]:>8}", flush=True)
    solved = sorted(first for first in firsts if first is not None)
    print(f"\nsolved {len(solved)} of {len(possible)}; SLSQP {sum(t is not None for t in theirs)} of {len(possible)}")
    if solved:
        tenth = [*solved, *[seconds] * (len(firsts) - len(solved))]
        print(
            f"first answer: median {np.median(tenth):.2f} s (bar 1), "
            f"90 % within {np.quantile(tenth, 0.9):.2f} s (bar 6)"
        )
    print(f"impossible called solved: {false} of {len(all_cases) - len(possible)} (bar 0)")


if __name__ == "__main__":
    main()
