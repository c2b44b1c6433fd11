"""Combines tubes of the pools: a beam search over the tubes for sets with different bores."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from headergen.geometry.arrays import Array
from headergen.solve.route.cost import price_of_crossing
from headergen.solve.route.kernels.crossings import crossings
from headergen.solve.route.kernels.descend import overlaps
from headergen.solve.route.layout import Layout
from headergen.solve.route.problem import Numbers, RouteProblem
from headergen.solve.route.starts import Pool
from headergen.solve.route.tidiness import views_of

BEAM = 500
CHILDREN = 25  # of each set that is kept
SETS = 24
NEVER = 1e9
THIRD = 3  # of the points of a tube that are enough to see crossings


def sets_of(
    problem: RouteProblem, pools: Sequence[Pool], length: float, per_overlap: float, crossed: float = 1.0
) -> list[Layout]:
    """The best sets of tubes, cheapest first; any two differ in two tubes; an overlap of d mm costs per_overlap·d².

    `crossed`: times the price of crossings.
    """
    if any(len(pool.runs) == 0 for pool in pools):
        return []
    order = sorted(range(problem.count), key=lambda k: len(pools[k].runs))
    costs = pair_costs(problem, pools, per_overlap, crossed)
    states: Numbers = np.arange(len(pools[order[0]].runs), dtype=np.int64)[:, None]
    total = pools[order[0]].cost.copy()
    for done in range(1, problem.count):
        found = _one_more(problem, pools, order[: done + 1], states, total, costs)
        if found is None:
            return []
        states, total = found
    chosen: list[Numbers] = []
    for row in states[np.argsort(total, kind="stable")]:
        if all((row == other).sum() <= max(problem.count - 2, 0) for other in chosen):
            chosen.append(row)
        if len(chosen) == SETS:
            break
    places = {tube: place for place, tube in enumerate(order)}
    return [Layout(tuple(pools[k].runs[int(row[places[k]])] for k in range(problem.count)), length) for row in chosen]


def pair_costs(
    problem: RouteProblem, pools: Sequence[Pool], per_overlap: float, crossed: float = 1.0
) -> dict[tuple[int, int], Array]:
    """For every two tubes, the cost of each candidate of one beside each candidate of the other."""
    costs = {}
    for a in range(problem.count):
        for b in range(a):
            one, other = pools[a], pools[b]
            together = bool(problem.group[a] == problem.group[b])
            cost = beside(problem, one, other, together, per_overlap, crossed)
            cost[one.bores[:, None] == other.bores[None]] = NEVER
            costs[a, b], costs[b, a] = cost, cost.T
    return costs


def beside(
    problem: RouteProblem, one: Pool, other: Pool, together: bool, per_overlap: float, crossed: float = 1.0
) -> Array:
    """What the candidates of one tube (A,) cost beside those of another (B,): (A, B), for overlaps and crossings."""
    deep = overlaps(one.points, other.points, one.lengths, other.lengths, together, problem.want)
    cost: Array = per_overlap * deep**2
    price = crossed * price_of_crossing(problem.draft)
    if price > 0.0:
        views = np.array(views_of(problem.wanted))
        cost += price * crossings(_flat(one.points, views), _flat(other.points, views))
    return cost


def _flat(points: Array, views: Array) -> Array:
    """Points (A, N, 3), every third of them, in views (V, 2, 3): (V, A, n, 2)."""
    return np.ascontiguousarray(np.einsum("vij,anj->vani", views, points[:, ::THIRD]))


def _one_more(
    problem: RouteProblem,
    pools: Sequence[Pool],
    order: Sequence[int],
    states: Numbers,
    total: Array,
    costs: dict[tuple[int, int], Array],
) -> tuple[Numbers, Array] | None:
    """The beam with one more tube, the last of `order`; None if no set can be continued."""
    tube = order[-1]
    cost = total[:, None] + pools[tube].cost[None]
    for place, other in enumerate(order[:-1]):
        cost = cost + costs[other, tube][states[:, place]]
    taken = np.stack([pools[other].bores[states[:, place]] for place, other in enumerate(order[:-1])], axis=1)
    goes = (taken[:, None] == problem.assignments[None][:, :, list(order[:-1])]).all(axis=2)
    bores = goes @ (problem.assignments[:, tube][:, None] == pools[tube].bores[None])
    cost[~bores] = NEVER
    best = np.argsort(cost, axis=None, kind="stable")[: 4 * BEAM]
    parents, children = np.unravel_index(best, cost.shape)
    rows, count = [], dict.fromkeys(range(len(states)), 0)
    for parent, child in zip(parents.tolist(), children.tolist(), strict=True):
        if cost[parent, child] < NEVER / 10 and count[parent] < CHILDREN:
            count[parent] += 1
            rows.append((parent, child))
        if len(rows) == BEAM:
            break
    if not rows:
        return None
    i, j = np.array(rows).T
    return np.concatenate([states[i], j[:, None]], axis=1), cost[i, j]
