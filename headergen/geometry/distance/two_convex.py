"""The smallest gap between any two convex solids, given by their support points and signed distances alone.

Apart: the differences of their points form a convex solid, and the gap is its distance from the origin. A simplex of at
most four of its support points is moved toward the origin (Gilbert, Johnson and Keerthi, IEEE J. Robotics and
Automation 4 (1988), 193–203); the support point toward the origin gives a lower bound.
Meeting: the least signed distance of one in the other, by cutting planes. The gradient at any place bounds a convex
function from below, so each place adds one row to a linear programme in the place and the value (Kelley, J. SIAM 8
(1960), 703–712).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.distance.convex import Convex
from headergen.geometry.distance.distance_convex import ENOUGH, ConvexGap

MOST_STEPS = 400  # toward the origin; usually about 20, more where two round faces lie flat on each other
MEETING = 1e-7  # mm; nearer than this they count as meeting
CUT_ENOUGH, MOST_CUTS = 1e-6, 300  # mm by which the true depth may exceed the stated one
FACES = [list(rows) for size in (1, 2, 3, 4) for rows in combinations(range(4), size)]


@dataclass(frozen=True, eq=False)
class _Pairs:
    """Points (n, 3) of one solid and of the other."""

    ours: Array
    theirs: Array

    @property
    def apart(self) -> Array:
        return np.asarray(self.ours - self.theirs)

    def rows(self, rows: list[int]) -> _Pairs:
        return _Pairs(self.ours[rows], self.theirs[rows])

    def beside(self, other: _Pairs) -> _Pairs:
        return _Pairs(np.vstack([self.ours, other.ours]), np.vstack([self.theirs, other.theirs]))


def gap_to_convex(solid: Convex, other: Convex) -> ConvexGap:
    """The smallest gap (mm) to another convex solid, to 1e-8 mm where they are apart.

    If negative: how deep the deepest point of `other` is in `solid`, to 1e-6 mm; the depth is measured to the nearest
    face.
    """
    found = _nearest(solid, other)
    return _deepest(solid, other) if found.value < MEETING else found


def _nearest(solid: Convex, other: Convex) -> ConvexGap:
    pairs, weights = _farthest(solid, other, solid.middle - other.middle), np.ones(1)
    for _ in range(MOST_STEPS):
        away = weights @ pairs.apart
        length = float(np.linalg.norm(away))
        if length < MEETING:
            break
        new = _farthest(solid, other, away)
        if length - float(new.apart[0] @ away) / length <= ENOUGH:
            break
        rows, closer = _nearest_of_simplex(pairs.beside(new).apart)
        nearer = pairs.beside(new).rows(rows)
        if np.linalg.norm(closer @ nearer.apart) >= length:  # only rounding is left to gain
            break
        pairs, weights = nearer, closer
    ours, theirs = weights @ pairs.ours, weights @ pairs.theirs
    return ConvexGap(float(np.linalg.norm(ours - theirs)), ours, theirs)


def _farthest(solid: Convex, other: Convex, away: Array) -> _Pairs:
    """The support points of both solids for one direction, `away`, which points from the other to the solid."""
    return _Pairs(solid.farthest(-away[None]), other.farthest(away[None]))


def _nearest_of_simplex(corners: Array) -> tuple[list[int], Array]:
    """The corners (n, 3), n ≤ 4, of the face nearest to the origin, and the weights of its nearest point."""
    best: tuple[float, list[int], Array] | None = None
    for rows in FACES:
        if rows[-1] >= len(corners):
            continue
        weights = _foot(corners[rows])
        if (weights < 0.0).any():
            continue
        length = float(np.linalg.norm(weights @ corners[rows]))
        if best is None or length < best[0]:
            best = length, rows, weights
    assert best is not None, "a corner alone is a face"
    return best[1], best[2]


def _foot(corners: Array) -> Array:
    """Weights, with sum 1, of the point nearest to the origin on the line or plane through corners (n, 3)."""
    first, sides = corners[0], corners[1:] - corners[0]
    along = np.linalg.lstsq(sides.T, -first, rcond=None)[0]
    return np.asarray(np.concatenate([[1.0 - along.sum()], along]))


def _deepest(solid: Convex, other: Convex) -> ConvexGap:
    """The place of `other` with the least signed distance in `solid`."""
    from scipy.optimize import linprog  # slow to import, and most gaps are found without it

    reach = other.reach
    rows, limits = [], []
    best, place, at = np.inf, other.middle, other.middle
    for _ in range(MOST_CUTS):
        (side,), (out,) = other.skin(at[None])
        rows.append([*out, 0.0])
        limits.append(float(out @ at - side))
        within = at - max(float(side), 0.0) * out
        for spot in (at, within):
            (value,), (slope,) = solid.skin(spot[None])
            rows.append([*slope, -1.0])
            limits.append(float(slope @ spot - value))
        if value < best:
            best, place = float(value), within
        bounds = [(float(x) - reach, float(x) + reach) for x in other.middle] + [(None, None)]
        lowest = linprog([0.0, 0.0, 0.0, 1.0], rows, limits, bounds=bounds, method="highs")
        if lowest.x is None or best - float(lowest.x[3]) <= CUT_ENOUGH:
            break
        at = lowest.x[:3]
    (value,), (slope,) = solid.skin(place[None])
    return ConvexGap(float(value), place - value * slope, place)
