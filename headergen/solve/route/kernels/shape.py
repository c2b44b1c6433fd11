"""A tube as a rounded polyline, and the inputs of the other kernels.

A tube with n bends is the polyline P, P + a·d, V2 … Vn−1, C − b·c, C with its inner corners rounded. Whatever its
unknowns a, b, V2 … are (3n − 4 numbers), it leaves along the port's direction d and arrives along the bore's direction
c.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from numba import njit

MOST_BENDS = 5
CORNERS = MOST_BENDS + 2
UNKNOWNS = 3 * MOST_BENDS - 4
STEEP = 2.9  # rad; above this, the tangent length grows linearly, so that a corner that doubles back stays finite


class Tubes(NamedTuple):
    """The fixed data of tubes.

    `ends` (K, 12): port, its direction, bore, its direction; `radii`, `most` (K, MOST_BENDS): radius and largest angle
    of each bend; `held` (K, MOST_BENDS): the angle that a bend must have, 0 if it is free; `group` (K + F,): the
    collector of each tube, then of each fixed one; `extra` (K,): length beyond the common one; `least_ends` (K, 2):
    least first and last straight; `source` (K,): the collector whose outlet each comes from, -1 for a port; `slim`
    (K + F, 3): a length from the start, and how much thinner than the common radius the tube is before it and after
    it; `grows` (K, G, 5): where each must grow in a straight: the least and the greatest length at which that may
    begin, and the straight before it, in it and after it; a row without need is all 0.
    """

    ends: Any
    bends: Any
    radii: Any
    most: Any
    held: Any
    group: Any
    extra: Any
    least_ends: Any
    source: Any
    slim: Any
    grows: Any


class Space(NamedTuple):
    """The obstacles.

    Solids (n, 21): kind, origin, axes, sizes, clearance, sign, free length at the flange, a collector, and the length
    before it over which its own tubes are free. Grids (g, x, y, z) of distance minus clearance, with corner, step and
    free lengths (g,). Fixed tubes as samples (F, N, 3), with lengths (F,).
    """

    solids: Any
    grids: Any
    corner: Any
    step: float
    free: Any
    fixed: Any
    fixed_lengths: Any


class Demands(NamedTuple):
    """What is required of all tubes, and `weight`, that of bending.

    `may_miss`: by how much two tubes may be nearer than their bores; the gap grows between `ramp_start` and `ramp_end`
    before the bores (`geometry/distance/ramp.py`).
    """

    radius: float
    least: float
    gap: float
    may_miss: float
    ramp_start: float
    ramp_end: float
    margin: float
    flattest: float
    shortest: float
    longest: float
    weight: float


@njit(cache=True)
def shape(end, n, radii, x, points, straights, turns):  # type: ignore[no-untyped-def]
    """Fills `points` (N, 3) evenly along the length, and `straights` (n + 1,) and `turns` (n, 3).

    `turns` are the changes of direction at each corner. Returns the length and the sampled length.
    """
    corners = np.empty((CORNERS, 3))
    along = np.empty((CORNERS, 3))
    legs = np.empty(CORNERS)
    angles = np.empty(MOST_BENDS)
    backs = np.zeros(CORNERS + 1)
    for c in range(3):
        corners[0, c] = end[c]
        corners[1, c] = end[c] + x[0] * end[3 + c]
        corners[n, c] = end[6 + c] - x[1] * end[9 + c]
        corners[n + 1, c] = end[6 + c]
        for i in range(2, n):
            corners[i, c] = x[2 + 3 * (i - 2) + c]
    for i in range(1, n):
        d = corners[i + 1] - corners[i]
        legs[i] = math.sqrt(d[0] * d[0] + d[1] * d[1] + d[2] * d[2] + 1e-12)
        for c in range(3):
            along[i, c] = d[c] / legs[i]
    for c in range(3):  # the outer legs keep their direction, whatever their sign
        along[0, c] = end[3 + c]
        along[n, c] = end[9 + c]
    legs[0] = x[0]
    legs[n] = x[1]
    length = 0.0
    for i in range(n):
        less = 0.0
        more = 0.0
        for c in range(3):
            turns[i, c] = along[i + 1, c] - along[i, c]
            less += turns[i, c] ** 2
            more += (along[i + 1, c] + along[i, c]) ** 2
        angle = 2.0 * math.atan2(math.sqrt(less), math.sqrt(more))
        angles[i] = angle
        tangent = math.tan(0.5 * min(angle, STEEP))
        backs[i + 1] = radii[i] * (tangent + max(angle - STEEP, 0.0) * 0.5 * (1.0 + tangent * tangent))
        length += radii[i] * angle
    sampled = length
    for i in range(n + 1):
        straights[i] = legs[i] - backs[i] - (backs[i + 1] if i < n else 0.0)
        length += straights[i]
        sampled += max(straights[i], 0.0)
    step = sampled / points.shape[0]
    at = 0.5 * step
    k = 0
    done = 0.0
    for i in range(n + 1):
        straight = max(straights[i], 0.0)
        while k < points.shape[0] and at <= done + straight:
            from_corner = at - done + backs[i]
            for c in range(3):
                points[k, c] = corners[i, c] + along[i, c] * from_corner
            k += 1
            at += step
        done += straight
        if i < n:
            arc = radii[i] * angles[i]
            cosine = math.cos(angles[i])
            sine = max(math.sin(angles[i]), 1e-9)
            while k < points.shape[0] and at <= done + arc:
                turn = (at - done) / radii[i]
                for c in range(3):
                    inward = (along[i + 1, c] - cosine * along[i, c]) / sine
                    points[k, c] = (
                        corners[i + 1, c]
                        - backs[i + 1] * along[i, c]
                        + radii[i] * (math.sin(turn) * along[i, c] + (1.0 - math.cos(turn)) * inward)
                    )
                k += 1
                at += step
            done += arc
    while k < points.shape[0]:
        points[k] = corners[n + 1]
        k += 1
    return length, sampled
