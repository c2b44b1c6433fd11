"""Combines tubes of the pools: a beam search over the tubes for sets with different bores."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from headergen.geometry.arrays import Array
from headergen.solve.route.cost import price_of_crossing, price_of_parting, price_of_sprawl
from headergen.solve.route.kernels.crossings import crossings
from headergen.solve.route.kernels.descend import overlaps
from headergen.solve.route.layout import Layout
from headergen.solve.route.problem import Numbers, RouteProblem
from headergen.solve.route.starts import Pool, pooled
from headergen.solve.route.supply import lacking
from headergen.solve.route.tidiness import (
    AROUND,
    apart_all_along,
    directions,
    reach_of,
)

LIGHT, FULL = 0.12, 0.5  # degrees for a square millimetre of overlap between tubes
BEAM = 500
CHILDREN = 25  # of each set that is kept
SETS = 12
NEVER = 1e9
THIRD = 3  # of the points of a tube, which are enough to see crossings where many tubes are compared
MANY = 100  # pairs of tubes


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
    nothing = np.full((1, len(AROUND)), -np.inf)
    states: Numbers = np.arange(len(pools[order[0]].runs), dtype=np.int64)[:, None]
    total = pools[order[0]].cost + sprawled(problem, nothing, pools[order[0]])[0]
    for done in range(1, problem.count):
        found = _one_more(problem, pools, order[: done + 1], states, total, costs)
        if found is None:
            return []
        states, total = found
    chosen: list[Numbers] = []
    total = total + _scarcer_sets(problem, pools, order, states)
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
            cost = beside(problem, (one, a), (other, b), per_overlap, crossed)
            cost[one.bores[:, None] == other.bores[None]] = NEVER
            costs[a, b], costs[b, a] = cost, cost.T
    return costs


def beside(
    problem: RouteProblem, mine: tuple[Pool, int], his: tuple[Pool, int], per_overlap: float, crossed: float = 1.0
) -> Array:
    """What the candidates (A,) of one tube cost beside those (B,) of another: (A, B).

    For overlaps, for crossings and, if they are neighbours, for parting. Each is given with its number.
    """
    (one, a), (other, b) = mine, his
    together = bool(problem.group[a] == problem.group[b])
    deep = overlaps(one.points, other.points, one.lengths, other.lengths, together, problem.want)
    cost: Array = per_overlap * deep**2
    price = crossed * price_of_crossing(problem.draft)
    if price > 0.0:
        every = THIRD if len(one.runs) * len(other.runs) > MANY else 1
        cost += price * crossings(*(in_views(problem, pool, tube, every) for pool, tube in (mine, his)))
    price = price_of_parting(problem.draft)
    if price > 0.0 and (b in problem.neighbours[a] or a in problem.neighbours[b]):
        ports = problem.ports[a, :3], problem.ports[b, :3]
        cost += price * apart_all_along(directions(one.points), directions(other.points), *ports)
    return cost


def sprawled(problem: RouteProblem, reaches: Array, pool: Pool) -> Array:
    """What sets (S, 26) that reach so far cost more for sprawl with each candidate (C,) of one more tube: (S, C)."""
    price, ends = price_of_sprawl(problem.draft), problem.reach_of_ends
    if price == 0.0:
        return np.zeros((len(reaches), len(pool.runs)))
    beyond = np.maximum(reaches - ends, 0.0)
    theirs = np.maximum(reach_of(pool.points) - ends, 0.0)
    more: Array = np.maximum(theirs[None] - beyond[:, None], 0.0).mean(axis=2)
    return price * more


def scarcer(problem: RouteProblem, pool: Pool, others: Sequence[Pool]) -> Array:
    """What the candidates (C,) of a pool cost more beside tubes, pools of one each, that use the same bends on hand."""
    count = len(pool.runs)
    if problem.supply is None or not others:
        return np.zeros(count)
    angles = [pool.angles, *(np.repeat(other.angles, count, axis=0) for other in others)]
    radii = [pool.radii, *(np.repeat(other.radii, count, axis=0) for other in others)]
    return _scarcer(problem, angles, radii)


def _scarcer_sets(problem: RouteProblem, pools: Sequence[Pool], order: Sequence[int], states: Numbers) -> Array:
    """What sets (S, tubes of `order`) cost more since their tubes use the same bends on hand: (S,)."""
    if problem.supply is None:
        return np.zeros(len(states))
    angles = [pools[tube].angles[states[:, place]] for place, tube in enumerate(order)]
    return _scarcer(problem, angles, [pools[tube].radii[states[:, place]] for place, tube in enumerate(order)])


def _scarcer(problem: RouteProblem, angles: Sequence[Array], radii: Sequence[Array]) -> Array:
    """What sets cost for bends that lack beside each other, and not alone; angles and radii (S, B) of each tube."""
    assert problem.supply is not None
    alone = sum(lacking(problem.supply, *each) for each in zip(angles, radii, strict=True))
    together = lacking(problem.supply, np.concatenate(angles, axis=1), np.concatenate(radii, axis=1))
    return np.asarray(problem.draft.routing.cost_weights.lacking * (together - alone), dtype=float)


def looks(problem: RouteProblem, layout: Layout) -> float:
    """What a layout costs by those terms by which sets are chosen, whatever it still misses."""
    pools = [pooled(problem, k, [run]) for k, run in enumerate(layout.runs)]
    each = sum(float(pool.cost[0]) for pool in pools)
    shared = sum(
        float(beside(problem, (pools[a], a), (pools[b], b), 0.0)[0, 0]) for a, b in combinations(range(len(pools)), 2)
    )
    reach = np.max([reach_of(pool.points[0]) for pool in pools], axis=0)
    scarce = float(scarcer(problem, pools[0], pools[1:])[0])
    return (
        each
        + shared
        + scarce
        + price_of_sprawl(problem.draft) * float(np.maximum(reach - problem.reach_of_ends, 0.0).mean())
    )


def in_views(problem: RouteProblem, pool: Pool, tube: int, every: int) -> Array:
    """The candidates (A,) of a tube in all views, from port to bore with some of their points between: (V, A, n, 2).

    Without their ends, crossings right before the bores would be missed.
    """
    ports, bores = np.broadcast_to(problem.ports[tube, :3], (len(pool.runs), 3)), problem.bores[pool.bores, :3]
    points = np.concatenate([ports[:, None], pool.points[:, every // 2 :: every], bores[:, None]], axis=1)
    return np.ascontiguousarray(np.einsum("vij,anj->vani", np.array(problem.views), points))


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
    reaches = np.max([reach_of(pools[k].points)[states[:, place]] for place, k in enumerate(order[:-1])], axis=0)
    cost = total[:, None] + pools[tube].cost[None] + sprawled(problem, reaches, pools[tube])
    for place, other in enumerate(order[:-1]):
        cost = cost + costs[other, tube][states[:, place]]
    taken = np.stack([pools[other].bores[states[:, place]] for place, other in enumerate(order[:-1])], axis=1)
    goes = (taken[:, None] == problem.assignments[None][:, :, list(order[:-1])]).all(axis=2)
    bores = goes @ (problem.assignments[:, tube][:, None] == pools[tube].bores[None])
    cost[~bores] = NEVER
    best = np.argsort(cost, axis=None, kind="stable")[: 4 * BEAM]
    if problem.supply is not None:
        parents, children = np.unravel_index(best, cost.shape)
        sets = np.concatenate([states[parents], children[:, None]], axis=1)
        scarce = _scarcer_sets(problem, pools, order, sets)
        best = best[np.argsort(cost.ravel()[best] + scarce, kind="stable")]
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
