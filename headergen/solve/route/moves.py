"""Changes of one tube of an answer: for another of its pool, or by a swap of bores with a second tube."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from headergen.geometry.arrays import Array
from headergen.solve.route.answer import Answer
from headergen.solve.route.choose import LIGHT, beside, scarcer, sprawled
from headergen.solve.route.layout import Layout
from headergen.solve.route.problem import RouteProblem
from headergen.solve.route.starts import Pool, pools_of_layout
from headergen.solve.route.tidiness import AROUND, reach_of

WORTH_TRYING = 25.0  # degrees by which a move may look worse and still be tried
MOVES = 8  # tried for one improvement


def moves(problem: RouteProblem, pools: Sequence[Pool], answer: Answer, tried: set[tuple[int, ...]]) -> list[Layout]:
    """The most promising changes of an answer's layout that were not `tried` at its cost; they are added to that."""
    layout = answer.layout
    now = pools_of_layout(problem, layout)
    found: list[tuple[float, tuple[int, ...]]] = []
    nothing = np.full((1, len(AROUND)), -np.inf)
    for tube, pool in enumerate(pools):
        if not len(pool.runs):
            continue
        cost = pool.cost - now[tube].cost[0]
        others = [other for other in range(problem.count) if other != tube]
        cost = cost - sum(float(_beside(problem, now[tube], tube, now[other], other)[0]) for other in others)
        reaches = np.max([reach_of(now[other].points[0]) for other in others], axis=0)[None] if others else nothing
        cost = cost + sprawled(problem, reaches, pool)[0] - sprawled(problem, reaches, now[tube])[0, 0]
        beside_it = [now[other] for other in others]
        cost = cost + (scarcer(problem, pool, beside_it) - scarcer(problem, now[tube], beside_it)[0])
        takes = np.full(len(pool.runs), -1)
        for other in others:
            same = pool.bores == layout.runs[other].bore
            takes[same] = other
            cost = cost + np.where(same, 0.0, _beside(problem, pool, tube, now[other], other))
        for way in np.argsort(cost, kind="stable")[:60].tolist():
            if takes[way] < 0:
                found.append((float(cost[way]), (tube, way, -1, -1)))
            elif takes[way] > tube:
                found += _swaps(problem, pools, now, (tube, way, int(takes[way])), float(cost[way]))
    out: list[Layout] = []
    for gain, move in sorted(found):
        key = (round(answer.cost), *move)
        if gain > WORTH_TRYING or len(out) == MOVES:
            break
        if key not in tried:
            tried.add(key)
            made = _moved(pools, layout, move)
            if (problem.assignments == [run.bore for run in made.runs]).all(axis=1).any():
                out.append(made)
    return out


def _beside(problem: RouteProblem, pool: Pool, tube: int, one: Pool, other: int) -> Array:
    """The cost of the candidates of a pool beside one other tube (C,)."""
    return beside(problem, (pool, tube), (one, other), LIGHT)[:, 0]


def _swaps(
    problem: RouteProblem, pools: Sequence[Pool], now: Sequence[Pool], move: tuple[int, int, int], cost: float
) -> list[tuple[float, tuple[int, ...]]]:
    """A tube takes the bore of another; the other takes its best candidate in the bore that is left."""
    tube, way, other = move
    pool = pools[other]
    left = np.flatnonzero(pool.bores == now[tube].bores[0])
    if len(left) == 0:
        return []
    part = pool.some(left.tolist())
    one = pools[tube]
    chosen = one.some([way])
    total = part.cost - now[other].cost[0] + _beside(problem, part, other, chosen, tube)
    for third in range(problem.count):
        if third not in (tube, other):
            total = total + _beside(problem, part, other, now[third], third)
            total = total - float(_beside(problem, now[other], other, now[third], third)[0])
    best = int(np.argmin(total))
    return [(cost + float(total[best]), (tube, way, other, int(left[best])))]


def _moved(pools: Sequence[Pool], layout: Layout, move: tuple[int, ...]) -> Layout:
    tube, way, other, theirs = move
    made = layout.with_run(tube, pools[tube].runs[way])
    return made if other < 0 else made.with_run(other, pools[other].runs[theirs])
