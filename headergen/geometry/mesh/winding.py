"""Winding numbers of a surface about points: exact near by; far away a run of triangles counts as one facet.

From far away a run of triangles acts like one small facet with its area vector (Barill, Dickson, Schmidt, Levin,
Jacobson, "Fast winding numbers for soups and clouds", 2018): more than FAR radii away, the error is about 1 %. A closed
mesh gives 1 inside and 0 outside; an open one gives a fraction, with the sign of its faces.
"""

from __future__ import annotations

import math

import numpy as np

from headergen.geometry.arrays import Array, Mask
from headergen.geometry.curves.body import Rows
from headergen.geometry.mesh.index import BRANCH, LEAF, Runs, TriangleIndex, grown, in_parts

FAR = 3.0  # in radii of a run
INSIDE, OUTSIDE = 0.75, 0.25  # |w| above which a point counts as inside, and below which as outside


def winding_numbers(index: TriangleIndex, points: Array) -> Array:
    """(n,) winding numbers of an index about points (n, 3)."""
    total = np.zeros(len(points))
    who = np.repeat(np.arange(len(points)), len(index.branches.radius))
    which = np.tile(np.arange(len(index.branches.radius)), len(points))
    for runs, size, count in ((index.branches, BRANCH, len(index.leaves.radius)), (index.leaves, LEAF, len(index))):
        away = runs.middle[which] - points[who]
        distance = np.sqrt((away * away).sum(axis=1))
        # the centroid of the area may be off the ball's centre: both radii count
        off = np.sqrt(((runs.middle - runs.centre) ** 2).sum(axis=1))
        far = distance > FAR * (runs.radius + off)[which]
        _add(total, who[far], _as_facets(runs, which[far], away[far], distance[far]))
        who, which = grown(who[~far], which[~far], size, count)
    for part in in_parts(len(who)):
        _add(total, who[part], _solid_angles(index.triangles(which[part]) - points[who[part]][:, None]))
    return total / (4 * math.pi)


def is_wrong_side(role: str, is_closed: bool, around: Array, inside: float = INSIDE, outside: float = OUTSIDE) -> Mask:
    """Whether each |winding number| (…) of an item's surface puts its point on the side that the item's role forbids.

    An obstacle forbids its inside, and an enclosure its outside, which only a closed surface has. A surface forbids
    neither.
    """
    if role == "obstacle":
        return np.asarray(around > inside)
    return np.asarray(around < outside) if role == "enclosure" and is_closed else np.zeros(around.shape, dtype=bool)


def _add(total: Array, who: Rows, angles: Array) -> None:
    total += np.bincount(who, angles, len(total))


def _as_facets(runs: Runs, which: Rows, away: Array, distance: Array) -> Array:
    return np.asarray(np.einsum("ij,ij->i", runs.area[which], away) / distance**3)


def _solid_angles(seen: Array) -> Array:
    """Solid angles of triangles (n, 3, 3) seen from the origin (van Oosterom and Strackee 1983)."""
    a, b, c = seen[:, 0], seen[:, 1], seen[:, 2]
    la, lb, lc = (np.sqrt(np.einsum("ij,ij->i", v, v)) for v in (a, b, c))
    volume = np.einsum("ij,ij->i", a, np.cross(b, c))
    dots = [np.einsum("ij,ij->i", p, q) for p, q in ((a, b), (b, c), (c, a))]
    return np.asarray(2 * np.arctan2(volume, la * lb * lc + dots[0] * lc + dots[1] * la + dots[2] * lb))
