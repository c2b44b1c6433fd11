"""A convex plane outline of lines and arcs, extruded perpendicular to its plane, as a convex solid: a flange plate."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from headergen.geometry.arrays import Array, Mask
from headergen.geometry.distance.convex import ON_SKIN, Convex
from headergen.geometry.frames import axes_matrix
from headergen.geometry.plate.outline import Edge, Outline, bounds, is_convex
from headergen.model import Frame

PAIRS = 400_000  # place–edge pairs measured at once, to bound the memory


def extruded_solid(outline: Outline, frame: Frame, height: float) -> Convex:
    """The solid of an outline in a frame's x and y, from its plane to `height` along z.

    Raises ValueError for an outline that is not convex, and for no height.
    """
    if height <= 0.0 or not is_convex(outline):
        raise ValueError("an extruded solid needs a convex outline and a height")
    axes, origin, section = axes_matrix(frame), np.array(frame.origin), _Section(outline)

    def skin(points: Array) -> tuple[Array, Array]:
        local = (points - origin) @ axes.T
        aside, outward = section.skin(local[:, :2])
        over = np.abs(local[:, 2] - height / 2) - height / 2
        up = np.where(local[:, 2] < height / 2, -1.0, 1.0)
        beyond = np.maximum(np.column_stack([aside, over]), 0.0)
        outside = np.hypot(beyond[:, 0], beyond[:, 1])
        is_out = outside > ON_SKIN
        by_side = aside >= over
        share = beyond / np.where(is_out, outside, 1.0)[:, None]
        across = np.where(is_out, share[:, 0], by_side)
        along = np.where(is_out, share[:, 1], ~by_side) * up
        slope = np.column_stack([outward * across[:, None], along])
        return np.where(is_out, outside, np.maximum(aside, over)), slope @ axes

    def farthest(directions: Array) -> Array:
        local = directions @ axes.T
        top = np.where(local[:, 2] > 0.0, height, 0.0)
        return np.asarray(origin + np.column_stack([section.farthest(local[:, :2]), top]) @ axes)

    (left, low), (right, high) = bounds(outline)
    middle = origin + np.array([(left + right) / 2, (low + high) / 2, height / 2]) @ axes
    return Convex(skin, farthest, middle, math.hypot(right - left, high - low, height) / 2)


class _Section:
    """The outline as arrays over its m edges. A straight edge has radius 0 and an unused centre."""

    def __init__(self, outline: Outline) -> None:
        self.start = np.array([edge.start for edge in outline])
        self.chord = np.array([edge.end for edge in outline]) - self.start
        self.length = np.array([edge.length for edge in outline])
        self.radius = np.array([edge.radius for edge in outline])
        self.centre = np.array([edge.centre or edge.start for edge in outline])
        self.begin = np.array([_heading(edge) for edge in outline])
        self.sweep = np.array([edge.sweep for edge in outline])

    def skin(self, points: Array) -> tuple[Array, Array]:
        """Signed distances (n,) of places (n, 2), and the unit gradients there (n, 2)."""
        value, slope = np.empty(len(points)), np.empty((len(points), 2))
        for part in _parts(len(points), len(self.length)):
            value[part], slope[part] = self._skin(points[part])
        return value, slope

    def _skin(self, points: Array) -> tuple[Array, Array]:
        """By the nearest place of the outline. All edges decide the sign: at a corner one may be wrong."""
        feet, normals = self._feet(points[:, None, :])
        away = points[:, None, :] - feet
        distance = np.hypot(away[..., 0], away[..., 1])
        rows = np.arange(len(points)), distance.argmin(axis=1)
        inside, least = self._holds(points), distance[rows]
        is_out = ~inside & (least > ON_SKIN)
        slope = np.where(is_out[:, None], away[rows] / np.where(is_out, least, 1.0)[:, None], normals[rows])
        return np.where(inside, -least, least), slope

    def _feet(self, points: Array) -> tuple[Array, Array]:
        """(n, m, 2) the place of each edge nearest to places (n, 1, 2), and the outward normal there."""
        along = self.chord / self.length[:, None]
        into = np.clip(((points - self.start) * along).sum(axis=-1), 0.0, self.length)
        on_line = self.start + into[..., None] * along
        off = points - self.centre
        middle = self.sweep / 2  # wrapped about the middle of the arc, so that clipping picks the nearer end
        turn = (np.arctan2(off[..., 1], off[..., 0]) - self.begin - middle + math.pi) % (2 * math.pi) - math.pi
        heading = self.begin + middle + np.clip(turn, -middle, middle)
        out = np.stack([np.cos(heading), np.sin(heading)], axis=-1)
        is_arc = (self.radius > 0.0)[:, None]
        across = np.column_stack([along[:, 1], -along[:, 0]])  # counter-clockwise: the outside is on the right
        on_arc = self.centre + self.radius[:, None] * out
        return np.where(is_arc, on_arc, on_line), np.where(is_arc, out, across)

    def _holds(self, points: Array) -> Mask:
        """(n,) whether places are inside every edge: left of a line, and left of an arc's chord or in its circle.

        On the line of a chord, the circle decides: the two halves of a whole circle have the same chord.
        """
        off = points[:, None, :] - self.start
        left = self.chord[:, 0] * off[..., 1] - self.chord[:, 1] * off[..., 0]
        away = points[:, None, :] - self.centre
        is_left = np.where(self.radius > 0.0, left > 0.0, left >= 0.0)
        return np.asarray((is_left | (np.hypot(away[..., 0], away[..., 1]) <= self.radius)).all(axis=1))

    def farthest(self, directions: Array) -> Array:
        """(n, 2) the places farthest along directions (n, 2)."""
        found = np.empty((len(directions), 2))
        for part in _parts(len(directions), len(self.length)):
            ways = directions[part][:, None, :]
            turned = np.where((self.radius > 0.0)[:, None], self.centre + ways, self.start)
            places = np.concatenate([self._feet_toward(turned), np.broadcast_to(self.start, turned.shape)], axis=1)
            best = (places * ways).sum(axis=-1).argmax(axis=1)
            found[part] = places[np.arange(len(best)), best]
        return found

    def _feet_toward(self, places: Array) -> Array:
        """(n, m, 2) on each edge, the place nearest to the edge's own row of `places` (n, m, 2)."""
        return self._feet(places)[0]


def _heading(edge: Edge) -> float:
    """The angle of an arc's start, seen from its centre."""
    if edge.centre is None:
        return 0.0
    return math.atan2(edge.start[1] - edge.centre[1], edge.start[0] - edge.centre[0])


def _parts(count: int, edges: int) -> Iterator[slice]:
    step = max(1, PAIRS // edges)
    return (slice(low, low + step) for low in range(0, count, step))
