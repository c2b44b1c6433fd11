"""Convex solids as two closed forms, signed distance with its gradient and support points; here the frustum.

The signed distance of a convex solid is a convex function: its gradient at any place bounds it everywhere from below.
With the support points, that is all that measuring to such a solid needs (geometry/distance/distance_convex.py).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.frames import axes_matrix, point_in
from headergen.model import Frame, Vec

ON_SKIN = 1e-9  # mm; this near to the skin the gradient is the face's normal: the difference of two points is noise


@dataclass(frozen=True, eq=False)
class Convex:
    """A convex solid.

    `skin`: points (n, 3) → signed distances (n,), negative inside (to the nearest face), and unit gradients (n, 3),
    which point away from the nearest place of the skin. `farthest`: directions (n, 3) → support points (n, 3), the
    points of the solid farthest along them. A ball of radius `reach` about `middle` contains the solid.
    """

    skin: Callable[[Array], tuple[Array, Array]]
    farthest: Callable[[Array], Array]
    middle: Array
    reach: float


@dataclass(frozen=True)
class Frustum:
    """A solid of revolution about the frame's z: radius `start` at the origin, radius `end` at `length` along z."""

    frame: Frame
    start: float
    end: float
    length: float


def frustum_solid(frustum: Frustum) -> Convex:
    """A frustum as a convex solid. It is measured in its half section, a quadrangle in (distance from axis, height).

    Raises ValueError for a frustum without length.
    """
    if frustum.length <= 0.0:
        raise ValueError("a frustum needs a length")
    axes, origin, section = axes_matrix(frustum.frame), np.array(frustum.frame.origin), _section(frustum)
    rims = np.array([[frustum.start, 0.0], [frustum.end, frustum.length]])

    def skin(points: Array) -> tuple[Array, Array]:
        local = (points - origin) @ axes.T
        beside = np.hypot(local[:, 0], local[:, 1])
        value, outward, upward = section(beside, local[:, 2])
        on_axis = beside == 0.0  # every side is equally near there: take x
        outward = outward / np.where(on_axis, 1.0, beside)
        slope = np.stack([np.where(on_axis, outward, outward * local[:, 0]), outward * local[:, 1], upward], axis=1)
        return value, slope @ axes

    def farthest(directions: Array) -> Array:
        local = directions @ axes.T
        beside = np.hypot(local[:, 0], local[:, 1])
        rim = rims[np.argmax(np.outer(beside, rims[:, 0]) + np.outer(local[:, 2], rims[:, 1]), axis=1)]
        across = local[:, :2] * (rim[:, 0] / np.where(beside > 0.0, beside, 1.0))[:, None]
        return np.asarray(origin + np.column_stack([across, rim[:, 1]]) @ axes)

    middle = np.array(point_in(frustum.frame, (0.0, 0.0, frustum.length / 2)))
    return Convex(skin, farthest, middle, math.hypot(frustum.length / 2, max(frustum.start, frustum.end)))


def _section(frustum: Frustum) -> Callable[[Array, Array], tuple[Array, Array, Array]]:
    """Signed distance and gradient in the half section: the components across from the axis and along it."""
    wide, narrow, length = frustum.start, frustum.end, frustum.length
    slant = math.hypot(length, narrow - wide)
    along = ((narrow - wide) / slant, length / slant)

    def distance(beside: Array, height: Array) -> tuple[Array, Array, Array]:
        aside = (beside - wide) * along[1] - height * along[0]  # distance from the line of the slant, positive outside
        cap = np.where(height > length / 2, height - length, -height)
        up = np.where(height > length / 2, 1.0, -1.0)
        is_in = np.maximum(aside, cap) <= ON_SKIN
        by_cap = cap >= aside
        # outside: the nearer of slant and cap, each clipped to its ends
        into = np.clip((beside - wide) * along[0] + height * along[1], 0.0, slant)
        slant_x, slant_y = beside - wide - into * along[0], height - into * along[1]
        cap_x = np.maximum(beside - np.where(height > length / 2, narrow, wide), 0.0)
        to_slant, to_cap = np.hypot(slant_x, slant_y), np.hypot(cap_x, cap)
        nearer_cap = to_cap < to_slant
        outside = np.where(nearer_cap, to_cap, to_slant)
        size = np.where(outside > 0.0, outside, 1.0)
        x, y = np.where(nearer_cap, cap_x, slant_x) / size, np.where(nearer_cap, cap * up, slant_y) / size
        inside_x, inside_y = np.where(by_cap, 0.0, along[1]), np.where(by_cap, up, -along[0])
        value = np.where(is_in, np.maximum(aside, cap), outside)
        return value, np.where(is_in, inside_x, x), np.where(is_in, inside_y, y)

    return distance


def moved(solid: Convex, shift: Vec) -> Convex:
    """The same solid, moved by `shift`."""
    by = np.array(shift)
    return replace(
        solid,
        skin=lambda points: solid.skin(points - by),
        farthest=lambda directions: solid.farthest(directions) + by,
        middle=solid.middle + by,
    )
