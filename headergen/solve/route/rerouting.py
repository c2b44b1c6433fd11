"""Two tubes of a header sought anew between the others, which stay: the pair that costs the most first.

Pools of whole headers hold what each tube would like best. What it can have beside given tubes is seldom among that.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

import numpy as np
from numpy.random import Generator

from headergen.geometry.arrays import Array
from headergen.solve.route.choose import LIGHT, beside, sprawled
from headergen.solve.route.layout import Layout, LayoutTube
from headergen.solve.route.parts import part_of
from headergen.solve.route.problem import RouteProblem
from headergen.solve.route.starts import Pool, pool_of, pooled, pools_of_layout
from headergen.solve.route.tidiness import AROUND, reach_of

STARTS = 12  # of a pool: for each tube and number of bends
WORTH = 20.0  # degrees by which a pair may look dearer and still be tried
TRIED = 5  # pairs of candidates that are descended together with the others


def pairs_to_reroute(problem: RouteProblem, layout: Layout, pools: Sequence[Pool]) -> list[tuple[int, int]]:
    """Pairs of tubes, those first that cost most beside what each costs at its best, and beside the others."""
    now = pools_of_layout(problem, layout)
    least = [pool.cost.min(initial=here.cost[0]) for pool, here in zip(pools, now, strict=True)]
    own = np.array([here.cost[0] - best for here, best in zip(now, least, strict=True)])
    shared = np.zeros((problem.count, problem.count))
    for a, b in combinations(range(problem.count), 2):
        shared[a, b] = shared[b, a] = beside(problem, (now[a], a), (now[b], b), LIGHT)[0, 0]
    each = own + shared.sum(axis=1)
    found = combinations(range(problem.count), 2)
    return sorted(found, key=lambda pair: -(each[pair[0]] + each[pair[1]] - shared[pair]))


def rerouted(
    problem: RouteProblem, layout: Layout, pair: tuple[int, int], chance: Generator
) -> Iterator[Layout | None]:
    """The layout with other paths for two tubes, the most promising first; None after each piece of work before."""
    row = np.array([run.bore for run in layout.runs])
    known = {k: run for k, run in enumerate(layout.runs) if k not in pair}
    part = part_of(problem, pair, row, known)
    pools = []
    for tube in range(2):
        pools.append(pool_of(part, tube, layout.length, chance, STARTS))
        yield None
    if not all(len(pool.runs) for pool in pools):
        return
    one, other = pools
    cost = _total(problem, known, pools, pair)
    mine = [pooled(problem, k, [layout.runs[k]]) for k in pair]
    most = float(_total(problem, known, mine, pair)[0, 0]) + WORTH
    for best in np.argsort(cost, axis=None, kind="stable")[:TRIED]:
        i, j = np.unravel_index(int(best), cost.shape)
        if cost[i, j] < most:
            yield layout.with_run(pair[0], one.runs[int(i)]).with_run(pair[1], other.runs[int(j)])


def _total(problem: RouteProblem, known: dict[int, LayoutTube], pools: Sequence[Pool], pair: tuple[int, int]) -> Array:
    """What each candidate of one tube costs with each of the other (A, B), beside those that stay."""
    stay = [(pooled(problem, k, [run]), k) for k, run in known.items()]
    each = [
        pool.cost + sum(beside(problem, (pool, tube), other, LIGHT)[:, 0] for other in stay)
        for pool, tube in zip(pools, pair, strict=True)
    ]
    reach = np.max([np.full(len(AROUND), -np.inf), *(reach_of(pool.points[0]) for pool, _ in stay)], axis=0)
    first = np.maximum(reach, reach_of(pools[0].points))
    both = beside(problem, (pools[0], pair[0]), (pools[1], pair[1]), LIGHT)
    wide = sprawled(problem, reach[None], pools[0])[0][:, None] + sprawled(problem, first, pools[1])
    cost: Array = each[0][:, None] + each[1][None] + both + wide
    return cost
