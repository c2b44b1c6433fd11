"""The nearest places to a few points on very many triangles; exact where few triangles are equally near.

In the middle of a closed body all runs of triangles are about equally near, and a ball round a run is a poor bound. A
slab round the run, between two planes perpendicular to its area vector, is a bound as good as the run is flat. If more
than FEW runs may still have the nearest place, runs that could be nearer only by a small share of the distance are
skipped.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.curves.body import Rows
from headergen.geometry.distance.distance_triangles import nearest_on_triangles
from headergen.geometry.mesh.index import LEAF, PAIRS, Rank, TriangleIndex, nearest_on_index

FEW = 8  # runs that are always measured, whatever the slack
SMALL = 1024  # number of triangles below which all are measured at once
FIRST = 4  # runs measured in the first round; each round measures twice as many
TINY = 1e-12  # mm² of area vector below which it has no direction
ROUNDING = 1e-9  # relative error of a height


@dataclass(frozen=True, eq=False)
class Slabs:
    """For each run of triangles, the two planes that enclose it: heights (m,) along unit normals (m, 3)."""

    normal: Array
    low: Array
    high: Array


def slabs_of(index: TriangleIndex) -> Slabs:
    """The slabs of an index's leaves; each triangle is visited once."""
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

    The distance is at most 1 / (1 − slack) times the true one. It is exact with no slack, and where few are near.
    """
    if len(index) <= SMALL:
        return nearest_on_index(points, index)
    feet, triangles = np.empty((len(points), 3)), np.empty(len(points), np.int32)
    for k, point in enumerate(points):
        feet[k], triangles[k] = _foot(point, index, slabs, slack)
    return feet, triangles


def _foot(point: Array, index: TriangleIndex, slabs: Slabs, slack: float) -> tuple[Array, int]:
    """Measure run after run, the lowest bound first, until none of the rest can be nearer."""
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
    """(m,) a lower bound of the distance from a point to each leaf."""
    off = index.leaves.centre - point
    ball = np.sqrt(np.einsum("ij,ij->i", off, off)) - index.leaves.radius
    height = slabs.normal @ point
    return np.asarray(np.maximum(ball, np.maximum(slabs.low - height, height - slabs.high)))


def _nearest_of(point: Array, index: TriangleIndex, runs: Rows) -> tuple[float, Array, int]:
    """Distance, place and the file's number of the nearest triangle in some leaves; of ties, the lowest number."""
    rows = (runs[:, None] * LEAF + np.arange(LEAF)).ravel()
    rows = rows[rows < len(index)]
    feet = nearest_on_triangles(index.triangles(rows), np.broadcast_to(point, (len(rows), 3)))
    away = np.sqrt(((feet - point) ** 2).sum(axis=1))
    order = index.order[rows]
    first = np.lexsort((order, away))[0]
    return float(away[first]), feet[first], int(order[first])
