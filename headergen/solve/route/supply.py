"""What is left of the bends on hand, where not all kinds can be bought: a quick count that steers the search.

The exact count is an integer programme (`shop/on_hand.py`), too slow for the thousands of candidates of a pool. Here
bends are put one by one into the smallest arc that still has room for them, the largest bends first, then the smallest
first; what finds no room that way is lacking, in the better of the two orders. What lacks costs more wherever
candidates are compared; what an answer lacks in the end is counted exactly.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.arrays import Array, Mask
from headergen.model import Draft, Run
from headergen.model.stock import SAME_RADIUS
from headergen.shop.on_hand import is_limited
from headergen.solve.route.cost import bends_in_stock

Numbers = NDArray[np.int64]
EXACT = 1e-6  # rad by which a bend may be larger than what is left
MOST = 24  # items of a kind that are counted: more than a header uses


@dataclass(frozen=True, eq=False)
class Supply:
    """Items on hand: `arcs` (I,), the rad left of each with the saw's loss, and `radii` (I,).

    `whole` (I,): the angle of an item that nothing is cut from, else 0. `endless`: radius and largest angle of kinds
    that are bought or not counted. `lost`: mm between two pieces of an item.
    """

    arcs: Array
    radii: Array
    whole: Array
    endless: tuple[tuple[float, float], ...]
    lost: float


def supply_of(draft: Draft, runs: Sequence[Run]) -> Supply | None:
    """The bends on hand for these runs; None if all kinds can be bought."""
    if not is_limited(draft.stock):
        return None
    shelf = bends_in_stock(draft, runs)
    items = [bend for bend in shelf if not bend.can_be_bought for _ in range(min(bend.count or 0, MOST))]
    whole, radii = np.array([bend.real_angle for bend in items]), np.array([bend.radius for bend in items])
    lost = draft.shop.between
    endless = tuple((bend.radius, bend.real_angle) for bend in shelf if bend.can_be_bought)
    return Supply(whole + lost / radii, radii, whole, endless, lost)


def lacking_in(supply: Supply | None, runs: Sequence[tuple[Array, tuple[float, ...]]]) -> int:
    """How many bends find nothing left; of each tube its angles (n,) and radii are given."""
    if supply is None or not runs:
        return 0
    angles, radii = np.concatenate([angles for angles, _ in runs]), np.concatenate([radii for _, radii in runs])
    return int(lacking(supply, angles[None], radii[None])[0])


def lacking(supply: Supply, angles: Array, radii: Array) -> Numbers:
    """How many bends (S, B), of radii (S, B), of each set find nothing left (S,); an angle of 0 is no bend."""
    found = np.zeros(len(angles), dtype=np.int64)
    for radius, downward in _by_radius(supply, angles, radii):
        orders = (downward, downward[:, ::-1])
        found += np.min([_put(supply, order, radius)[0] for order in orders], axis=0)
    return found


def _by_radius(supply: Supply, angles: Array, radii: Array) -> Iterator[tuple[float, Array]]:
    """Each radius of bends (S, B) that must come from what is on hand, their angles (S, B) from large to 0."""
    counted = angles > 0.0
    for radius, most in supply.endless:
        counted &= ~((np.abs(radii - radius) < SAME_RADIUS) & (angles <= most + EXACT))
    for radius in np.unique(radii[counted]).tolist():
        yield radius, -np.sort(-np.where(counted & (radii == radius), angles, 0.0), axis=1, kind="stable")


def _put(supply: Supply, angles: Array, radius: float) -> tuple[Numbers, Array]:
    """Bends (S, B) of a radius, put one after the other into what is left: how many lack (S,), and what is left then
    of the items (S, I), 0 of those of other radii."""
    left = np.repeat(np.where(_of_radius(supply, radius), supply.arcs, 0.0)[None], len(angles), axis=0)
    lack = np.zeros(len(angles), dtype=np.int64)
    rows = np.arange(len(angles))
    for angle in angles.T:
        takes = angle + supply.lost / radius
        room = left >= (takes - EXACT)[:, None]
        has = room.any(axis=1) & (angle > 0.0)
        lack += (angle > 0.0) & ~has
        if not left.shape[1]:
            continue
        smallest = np.where(room, left, np.inf).argmin(axis=1)
        left[rows[has], smallest[has]] -= takes[has]
    return lack, left


def _of_radius(supply: Supply, radius: float) -> Mask:
    """Which items (I,) are of a radius."""
    same: Mask = np.abs(supply.radii - radius) < SAME_RADIUS
    return same


def without(supply: Supply, angles: Sequence[float], radii: Sequence[float]) -> Supply:
    """What is left when these bends are cut, the largest first."""
    arcs = supply.arcs.copy()
    for radius, downward in _by_radius(supply, np.array([angles], dtype=float), np.array([radii], dtype=float)):
        same = _of_radius(supply, radius)
        arcs[same] = _put(replace(supply, arcs=arcs), downward, radius)[1][0, same]
    return replace(supply, arcs=arcs, whole=np.where(arcs < supply.arcs, 0.0, supply.whole))


def whole_left(supply: Supply, radius: float, angle: float) -> bool:
    """Whether a whole item of an angle is left, or can be bought."""
    same = _of_radius(supply, radius)
    bought = any(abs(r - radius) < SAME_RADIUS and abs(most - angle) < EXACT for r, most in supply.endless)
    return bought or bool((same & (np.abs(supply.whole - angle) < EXACT)).any())


def largest_left(supply: Supply, radius: float) -> float:
    """The largest bend (rad) of a radius that can still be cut; 0 if none can."""
    cut = float((supply.arcs - supply.lost / radius)[_of_radius(supply, radius)].max(initial=0.0))
    return max([cut, *(most for r, most in supply.endless if abs(r - radius) < SAME_RADIUS)])
