"""Starts of searches: random starts of all tubes together, and pools of single tubes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.random import Generator

from headergen.geometry.arrays import Array
from headergen.solve.route.cost import price_of_arching, price_of_bend, price_of_cut, price_of_doubling_back
from headergen.solve.route.kernels.descend import descend_alone
from headergen.solve.route.kernels.shape import MOST_BENDS, UNKNOWNS
from headergen.solve.route.layout import COARSE, Layout, LayoutTube, most_held, seen, tubes_of
from headergen.solve.route.problem import RouteProblem, padded
from headergen.solve.route.supply import lacking_in
from headergen.solve.route.tidiness import arched, doubled_back

BENDS_TRIED = (2, 3, 3, 4)  # numbers of bends, drawn at random
SHARE = {2: 0.4, 3: 1.0, 4: 1.2, 5: 1.2}  # of the starts of a pool
POOL_WISHES = np.array([6.0, 1.0, 0.0])
POOL_ROUNDS = 18
APART = 18.0  # mm by which two tubes of a pool must differ somewhere
KEPT = 40  # of one tube in one bore
POINTS = 36
NEAR_BEST = 0.6  # share of the lengths tried that are near the best answer's
NEAR = 0.1  # of the range of lengths


@dataclass(frozen=True, eq=False)
class Pool:
    """A tube's candidates, cheapest first: `cost` (C,) in degrees, `bores` (C,), `points` (C, POINTS, 3), `lengths`.

    The cost is that of one tube: bends with joints, degrees, doubling back, arching, bends that cannot be whole ones of
    the shelf, and those for which nothing is on hand. `angles` and `radii` (C, MOST_BENDS) of its bends end with zeros.
    """

    runs: tuple[LayoutTube, ...]
    cost: Array
    bores: Array
    points: Array
    lengths: Array
    angles: Array
    radii: Array

    def some(self, which: Sequence[int]) -> Pool:
        """Those candidates alone."""
        chosen = np.array(which, dtype=np.int64)
        arrays = (each[chosen] for each in (self.cost, self.bores, self.points, self.lengths, self.angles, self.radii))
        return Pool(tuple(self.runs[k] for k in which), *arrays)


def random_run(problem: RouteProblem, tube: int, bore: int, bends: int, length: float, chance: Generator) -> LayoutTube:
    """A random tube between its port and a bore."""
    end, (least_first, least_last) = problem.ends(tube, bore), problem.least_ends[tube]
    radii = np.full(bends, problem.radii[chance.integers(len(problem.radii))])
    first = least_first + radii[0] * chance.uniform(0.3, 2.0)
    last = least_last + radii[-1] * chance.uniform(0.3, 2.5)
    start, stop = end[:3] + first * end[3:6], end[6:9] - last * end[9:]
    low, high = problem.box
    inner = np.zeros((0, 3))
    if bends > 2:
        t = (np.arange(1, bends - 1) / (bends - 1))[:, None]
        inner = start * (1 - t) + stop * t
        if chance.uniform() < 0.25:
            inner = chance.uniform(low, high, (bends - 2, 3))
        else:
            inner = inner + chance.normal(size=inner.shape) * chance.uniform(0.08, 0.4) * length
        inner = np.clip(inner, low, high)
    return LayoutTube(bore, tuple(radii.tolist()), np.concatenate([[first, last], inner.ravel()]))


def random_layout(problem: RouteProblem, chance: Generator) -> Layout:
    """All tubes random, into bores that go together."""
    length = some_length(problem, chance)
    way = problem.assignments[chance.integers(len(problem.assignments))]
    most = problem.draft.routing.most_bends
    runs = (
        random_run(problem, k, int(way[k]), min(int(chance.choice(BENDS_TRIED)), most), length, chance)
        for k in range(problem.count)
    )
    return Layout(tuple(runs), length)


def some_length(problem: RouteProblem, chance: Generator, best: float | None = None) -> float:
    """A common length in its range; if the range is wide, mostly in its lower part, or near the best so far."""
    low, high = problem.want.shortest, problem.want.longest
    if best is not None and chance.uniform() < NEAR_BEST:
        return float(np.clip(best + NEAR * (high - low) * chance.normal(), low, high))
    return float(low + (high - low) * (chance.beta(1.3, 2.0) if high - low > 20.0 else chance.uniform()))


def pool_of(problem: RouteProblem, tube: int, length: float, chance: Generator, per: int) -> Pool:
    """The results of random starts of one tube, `per` for each bore and number of bends, without its neighbours."""
    bores = sorted(set(problem.assignments[:, tube].tolist()))
    most = problem.draft.routing.most_bends
    starts = [
        random_run(problem, tube, bore, bends, length + problem.extra[tube], chance)
        for bore in bores
        for bends in range(2, most + 1)
        for _ in range(max(4, int(per * SHARE[bends])))
    ]
    return pooled(
        problem, tube, descended(problem, tube, starts, length, (POOL_WISHES, POOL_ROUNDS, 2 * problem.want.margin))
    )


def descended(
    problem: RouteProblem, tube: int, starts: list[LayoutTube], length: float, way: tuple[Array, int, float]
) -> list[LayoutTube]:
    """Those runs of one tube that meet what is required of it alone, after descents at a common length.

    `way`: the penalties on bending, one descent after the other; the rounds of each; the miss (mm) that is allowed.
    """
    if not starts:
        return []
    wishes, rounds, allowed = way
    rows = np.zeros((len(starts), UNKNOWNS))
    for row, run in zip(rows, starts, strict=True):
        row[: len(run.x)] = run.x
    tubes = tubes_of(problem, starts, [tube] * len(starts))
    count = int(np.ceil(length / COARSE))
    missing = descend_alone(rows, tubes, problem.space, problem.want, wishes, length, count, rounds, allowed)
    return [
        replace(run, x=row[: len(run.x)].copy())
        for run, row, lacks in zip(starts, rows, missing, strict=True)
        if lacks < allowed
    ]


def pooled(problem: RouteProblem, tube: int, runs: list[LayoutTube]) -> Pool:
    """Runs as a pool: the cheapest of each bore, without near duplicates."""
    known = [(run, *seen(problem, tube, run, POINTS)) for run in runs]
    back, cut = price_of_doubling_back(problem.draft), price_of_cut(problem.draft, problem.runs)
    arching, over = price_of_arching(problem.draft), problem.over_ports
    bend, scarce = price_of_bend(problem.draft), problem.draft.routing.cost_weights.lacking
    costs = [
        float(np.degrees(angles.sum()))
        + bend * run.bends
        + back * doubled_back(points)
        + arching * arched(points, over)
        + cut * (run.bends - (sum(angle > 0.0 for angle in run.held) or most_held(run.bends)))
        + scarce * lacking_in(problem.supply, [(angles, run.radii)])
        for run, points, _, angles, _ in known
    ]
    kept: list[int] = []
    by_bore: dict[int, list[int]] = {}
    for index in np.argsort(costs, kind="stable").tolist():
        same = by_bore.setdefault(known[index][0].bore, [])
        if len(same) < KEPT and all(np.abs(known[k][1] - known[index][1]).max() >= APART for k in same):
            same.append(index)
            kept.append(index)
    return Pool(
        runs=tuple(known[k][0] for k in kept),
        cost=np.array([costs[k] for k in kept]),
        bores=np.array([known[k][0].bore for k in kept], dtype=np.int64),
        points=np.array([known[k][1] for k in kept]).reshape(-1, POINTS, 3),
        lengths=np.array([known[k][4] for k in kept]),
        angles=_table([known[k][3] for k in kept]),
        radii=_table([np.array(known[k][0].radii) for k in kept]),
    )


def _table(rows: list[Array]) -> Array:
    """Rows of up to MOST_BENDS figures, filled up with 0."""
    return np.array([padded(row) for row in rows]).reshape(-1, MOST_BENDS)


def pools_of_layout(problem: RouteProblem, layout: Layout) -> list[Pool]:
    """Each run of a layout as a pool of one."""
    return [pooled(problem, k, [run]) for k, run in enumerate(layout.runs)]
