"""The cheapest of all subsets of what may be changed that closes a half-built run.

A subset costs what freedoms.py says: a fixed sum for each work in it, and each millimetre and degree. The equations are
made linear where the best answer so far is, and an integer programme (HiGHS) gives the cheapest subset. That one is
closed exactly, then forbidden, and the next is asked for, until no other can be cheaper.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from headergen.built.freedoms import Freedom, WorkKey, work_of
from headergen.geometry.arrays import Array, Mask
from headergen.shop.solver import Programme, cells_of, optimum

ROUNDS = 20  # of making the equations linear again
CLOSED = 1e-7  # mm, and mm at the end of a lever
STILL = 1e-6  # mm and degrees, between two rounds
SIDES = 16  # of the polygon in place of the circle of leans; what it says of their cost is never too much
CURVED = 0.02  # share of a cost by which linear equations may put another subset too dear
TRIES = 40  # subsets that are closed exactly
IN_USE = 1e-9  # mm and rad from which a value is work
NEARLY = 1e-9  # mm and degrees by which a value may be past its limit

Linear = Callable[[Array], tuple[Array, Array]]  # values → (5,) how far the end is off, (5, n) slopes of that


@dataclass(frozen=True, eq=False)
class WorkToClose:
    """What may be changed, and what comes of it. Costs and limits are in mm and degrees, values in mm and rad."""

    use: tuple[Freedom, ...]
    linear: Linear

    @cached_property
    def works(self) -> tuple[WorkKey, ...]:
        """What the values belong to: each is done as one."""
        return tuple(dict.fromkeys(work_of(each) for each in self.use))

    @cached_property
    def of(self) -> Array:
        """(n,) the work of each value, from 0."""
        return np.array([self.works.index(work_of(each)) for each in self.use], int)

    @cached_property
    def units(self) -> Array:
        return np.array([each.unit for each in self.use])

    @cached_property
    def by_unit(self) -> Array:
        return np.array([each.by_unit for each in self.use]) * self.units

    @cached_property
    def fixed(self) -> Array:
        """(w,) for each work, as soon as it is done at all."""
        return np.array([next(each.fixed for each in self.use if work_of(each) == work) for work in self.works])

    @cached_property
    def limits(self) -> Array:
        found: Array = np.array([(each.low, each.high) for each in self.use], float).reshape(-1, 2)
        return found / self.units[:, None]

    @cached_property
    def leans(self) -> Mask:
        """(w,) the works with two values, across each other."""
        found: Mask = np.bincount(self.of, minlength=len(self.works)) == 2
        return found

    def used(self, values: Array) -> frozenset[int]:
        return frozenset(int(work) for work in self.of[np.abs(values) > IN_USE])

    def cost(self, values: Array) -> float:
        squares = np.bincount(self.of, (values / self.units * self.by_unit) ** 2, len(self.works))
        return float(self.fixed[sorted(self.used(values))].sum() + np.sqrt(squares).sum())


def least_work(closing: WorkToClose) -> Array | None:
    """The values of the cheapest subset; None if all together do not close the run."""
    best = closed(closing, frozenset(range(len(closing.works))))
    if best is None or not closing.use:
        return best
    tried = [closing.used(best)]
    for _ in range(TRIES):
        found = _cheapest_subset(closing, best, tried)
        if found is None:
            break
        tried.append(found)
        values = closed(closing, found, best)
        if values is not None and closing.cost(values) < closing.cost(best):
            best = values
            tried.append(closing.used(values))
    return best


def closed(closing: WorkToClose, subset: frozenset[int], near: Array | None = None) -> Array | None:
    """The least of a subset's amounts that close the run, within their limits; None if none were found.

    `near`: values to begin with. Fixed sums play no part.
    """
    if not closing.use:  # a tube of one piece that is welded already
        return np.zeros(0) if np.abs(closing.linear(np.zeros(0))[0]).max() < CLOSED else None
    mine = np.isin(closing.of, sorted(subset))
    values = np.zeros(len(closing.use)) if near is None else np.where(mine, near, 0.0)
    facets = _polygon(closing)
    for _ in range(ROUNDS):
        off, slopes = closing.linear(values)
        programme = _Programme(closing, slopes @ values - off, slopes, tuple(facets))
        found = programme.least_amounts(mine)
        if found is None:
            return None
        moved = np.abs((found - values) / closing.units).max(initial=0.0)
        values = found
        facets += _touching(closing, values)
        if moved < STILL:
            break
    return _polished(closing, values, mine)


def _polished(closing: WorkToClose, values: Array, mine: Mask) -> Array | None:
    """The nearest values that close the run to the last digit; those at a limit stay there."""
    low, high = closing.limits.T * closing.units
    inside = mine & (values > low + NEARLY) & (values < high - NEARLY) & (np.abs(values) > IN_USE)
    values = np.where(inside | (values <= low + NEARLY) | (values >= high - NEARLY), values, 0.0)
    for _ in range(ROUNDS):
        off, slopes = closing.linear(values)
        if np.abs(off).max() < CLOSED:
            past = np.maximum(low - values, values - high) / closing.units
            return values if past.max(initial=0.0) <= NEARLY else None
        scaled = (slopes * closing.units)[:, inside]
        step = np.linalg.lstsq(scaled, -off, rcond=1e-10)[0]
        values = values.copy()
        values[inside] += step * closing.units[inside]
    return None


def _cheapest_subset(closing: WorkToClose, best: Array, tried: Sequence[frozenset[int]]) -> frozenset[int] | None:
    """The subset that is cheapest by equations made linear at the best answer; None if none can be cheaper."""
    off, slopes = closing.linear(best)
    programme = _Programme(closing, slopes @ best - off, slopes, (*_polygon(closing), *_touching(closing, best)))
    return programme.cheapest(closing.cost(best) * (1 + CURVED), tried)


Facet = tuple[int, float]  # of a lean: its work, and a direction in which its cost is measured (rad)


def _polygon(closing: WorkToClose) -> list[Facet]:
    ways = [2 * math.pi * side / SIDES for side in range(SIDES)]
    return [(int(work), way) for work in np.flatnonzero(closing.leans) for way in ways]


def _touching(closing: WorkToClose, values: Array) -> list[Facet]:
    """For leans in use, the direction in which their cost is exact."""
    found = []
    for work in np.flatnonzero(closing.leans):
        x, y = values[closing.of == work]
        if math.hypot(x, y) > IN_USE:
            found.append((int(work), math.atan2(y, x)))
    return found


@dataclass(frozen=True, eq=False)
class _Programme:
    """Linear equations slopes @ values = goal, with the costs; leans are measured in the directions of the facets.

    Columns: what each value is above nought, below it (mm, degrees), the cost of each lean, and whether a work is done.
    """

    closing: WorkToClose
    goal: Array
    slopes: Array
    facets: tuple[Facet, ...]

    def least_amounts(self, mine: Mask) -> Array | None:
        """The values with the least cost by amounts, of those in `mine`."""
        n, w = len(self.closing.use), len(self.closing.works)
        above, below = self._reach()
        high = np.concatenate([above * mine, below * mine, np.full(w, np.inf), np.zeros(w)])
        found = optimum(self._programme(self._amounts(), high, np.zeros(len(high)), ()))
        if found.x is None:
            return None
        values: Array = (found.x[:n] - found.x[n : 2 * n]) * self.closing.units
        return values

    def cheapest(self, most: float, tried: Sequence[frozenset[int]]) -> frozenset[int] | None:
        """The works of the cheapest subset below `most` that was not tried."""
        closing = self.closing
        n, w = len(closing.use), len(closing.works)
        costs = self._amounts()
        costs[2 * n + w :] = closing.fixed
        above, below = self._reach()
        room = np.maximum(most - closing.fixed[closing.of], 0.0) / closing.by_unit
        above, below = np.minimum(above, room), np.minimum(below, room)
        done = np.eye(w)[closing.of]
        links = np.block(
            [
                [np.eye(n), np.zeros((n, n + w)), -above[:, None] * done],
                [np.zeros((n, n)), np.eye(n), np.zeros((n, w)), -below[:, None] * done],
            ]
        )
        others = np.zeros((len(tried), 2 * n + 2 * w))
        for row, subset in zip(others, tried, strict=True):
            row[2 * n + w :] = [1.0 if work in subset else -1.0 for work in range(w)]
        limits = (
            (links, np.zeros(len(links))),
            (others, np.array([len(subset) - 1.0 for subset in tried])),
            (costs[None], np.array([most])),
        )
        whole = np.concatenate([np.zeros(2 * n + w), np.ones(w)])
        high = np.concatenate([above, below, np.full(w, np.inf), np.ones(w)])
        # its presolve costs more than it saves here
        found = optimum(self._programme(costs, high, whole, limits), presolve="off")
        if found.x is None:
            return None
        return frozenset(int(work) for work in np.flatnonzero(found.x[2 * n + w :] > 0.5))

    def _reach(self) -> tuple[Array, Array]:
        return np.maximum(self.closing.limits[:, 1], 0.0), np.maximum(-self.closing.limits[:, 0], 0.0)

    def _amounts(self) -> Array:
        closing = self.closing
        single = closing.by_unit * ~closing.leans[closing.of]
        return np.concatenate([single, single, closing.leans.astype(float), np.zeros(len(closing.works))])

    def _programme(self, costs: Array, high: Array, whole: Array, limits: Sequence[tuple[Array, Array]]) -> Programme:
        """The equations, the cost of each lean, and rows that are at most so much."""
        closing = self.closing
        n, w = len(closing.use), len(closing.works)
        by = self.slopes * closing.units
        met = np.hstack([by, -by, np.zeros((len(by), 2 * w))])
        rows = np.zeros((len(self.facets), 2 * n + 2 * w))
        for row, (work, way) in zip(rows, self.facets, strict=True):
            x, y = np.flatnonzero(closing.of == work)
            dearer = np.array([math.cos(way), math.sin(way)]) * closing.by_unit[[x, y]]
            row[[x, y]], row[[n + x, n + y]], row[2 * n + work] = dearer, -dearer, -1.0
        below = [(rows, np.zeros(len(rows))), *limits]
        most = np.concatenate([self.goal, *(each for _, each in below)])
        least = np.concatenate([self.goal, np.full(len(most) - len(self.goal), -np.inf)])
        cells = cells_of(np.concatenate([met, *(each for each, _ in below)]))
        return Programme(costs, (np.zeros(len(high)), high), cells, (least, most), whole)
