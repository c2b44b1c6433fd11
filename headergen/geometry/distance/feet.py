"""The nearest places on very many triangles to points, for few points: exact where few triangles are as near.

A ball round a run of triangles says little of a point in the middle of a closed body, where every run is as near; the
run's slab, between two planes square to its area, says how near it can be to within its own bulge. Where even so more
than FEW runs may hold the nearest place, those that could only be nearer by a small share of the distance are left out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.curves.body import Rows
from headergen.geometry.distance.distance_triangles import nearest_on_triangles
from headergen.geometry.mesh.index import LEAF, PAIRS, Rank, TriangleIndex, nearest_on_index

FEW = 8  # runs that are measured whatever the slack
SMALL = 1024  # triangles, all of which are measured at once
FIRST = 4  # runs measured at first; then twice as many each time
TINY = 1e-12  # mm² of area that has no direction
ROUNDING = 1e-9  # of a height


@dataclass(frozen=True, eq=False)
class Slabs:
    """Two planes for each run of triangles, that it lies between: heights (m,) along unit normals (m, 3)."""

    normal: Array
    low: Array
    high: Array


def slabs_of(index: TriangleIndex) -> Slabs:
    """The slabs of an index's leaves; one look at every triangle."""
    size = np.sqrt((index.leaves.area**2).sum(axis=1))
    normal = np.where(size[:, None] > TINY, index.leaves.area / np.maximum(size, TINY)[:, None], np.array([0.0, 0, 1]))
    low, high = np.empty(len(normal)), np.empty(len(normal))
    chunk = PAIRS // LEAF
    for first in range(0, len(normal), chunk):
        corners = index.triangles(slice(first * LEAF, (first + chunk) * LEAF))
        starts = np.arange(0, len(corners), LEAF)
        ways = np.repeat(normal[first : first + chunk], LEAF, axis=0)[: len(corners)]
        heights = np.einsum("ijk,ik->ij", corners, ways)
        low[first : first + chunk] = np.minimum.reduceat(heights.min(axis=1), starts)
        high[first : first + chunk] = np.maximum.reduceat(heights.max(axis=1), starts)
    slack = ROUNDING * (1.0 + np.maximum(np.abs(low), np.abs(high)))
    return Slabs(normal, low - slack, high + slack)


def feet_on_index(points: Array, index: TriangleIndex, slabs: Slabs, slack: float) -> tuple[Array, Rank]:
    """Places on triangles (n, 3) nearest to points (n, 3), and the file's numbers of the triangles (n,).

    None is farther than 1 / (1 − slack) of the nearest; with no slack, and where few triangles are as near, none is.
    """
    if len(index) <= SMALL:
        return nearest_on_index(points, index)
    feet, triangles = np.empty((len(points), 3)), np.empty(len(points), np.int32)
    for k, point in enumerate(points):
        feet[k], triangles[k] = _foot(point, index, slabs, slack)
    return feet, triangles


def _foot(point: Array, index: TriangleIndex, slabs: Slabs, slack: float) -> tuple[Array, int]:
    """Run after run, those first that may be nearest, until none that is left can be nearer."""
    lowest = _lowest(point, index, slabs)
    runs, done, size = np.argpartition(lowest, FIRST)[:FIRST], 0, FIRST
    best, foot, triangle = _nearest_of(point, index, runs)
    runs = np.flatnonzero(lowest <= best)
    runs = runs[np.argsort(lowest[runs], kind="stable")]
    while done < len(runs) and lowest[runs[done]] <= (best if done < FEW else best * (1.0 - slack)):
        found = _nearest_of(point, index, runs[done : done + size])
        if (found[0], found[2]) < (best, triangle):
            best, foot, triangle = found
        done, size = done + size, min(2 * size, PAIRS // LEAF)
    return foot, triangle


def _lowest(point: Array, index: TriangleIndex, slabs: Slabs) -> Array:
    """(m,) what no place of each leaf is nearer to a point than."""
    off = index.leaves.centre - point
    ball = np.sqrt(np.einsum("ij,ij->i", off, off)) - index.leaves.radius
    height = slabs.normal @ point
    return np.asarray(np.maximum(ball, np.maximum(slabs.low - height, height - slabs.high)))


def _nearest_of(point: Array, index: TriangleIndex, runs: Rows) -> tuple[float, Array, int]:
    """Distance, place and the file's number of the nearest triangle of some leaves; of ties the lowest number."""
    rows = (runs[:, None] * LEAF + np.arange(LEAF)).ravel()
    rows = rows[rows < len(index)]
    feet = nearest_on_triangles(index.triangles(rows), np.broadcast_to(point, (len(rows), 3)))
    away = np.sqrt(((feet - point) ** 2).sum(axis=1))
    order = index.order[rows]
    first = np.lexsort((order, away))[0]
    return float(away[first]), feet[first], int(order[first])
