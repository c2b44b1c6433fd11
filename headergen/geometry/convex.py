"""Convex envelopes (a box, a frustum) by their signed distance, and the smallest gap from one to anything else.

The signed distance of a convex body is a convex function with slope 1, so its least value over a triangle or along a
line has one valley. Triangles are halved toward it; what the slope rules out is left behind.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from headergen.geometry.body import Array, Body, End, points_along
from headergen.geometry.frames import axes_matrix, frame_from_normal
from headergen.model import Box, Frame, Plane

SMALLEST = 1e-7  # mm; a triangle of this reach is a point
MOST_KEPT = 256  # triangles halved in one round; convexity leaves no valley outside the best
GRID = 2.0  # mm between samples along a curve
ZOOM, ZOOM_ROUNDS = 16, 7
DISC_SIDES = 4096

SignedDistance = Callable[[Array], Array]  # points (n, 3) → (n,)


@dataclass(frozen=True)
class Frustum:
    """A solid of revolution about the frame's z: `start` radius at its origin, `end` radius `length` further on."""

    frame: Frame
    start: float
    end: float
    length: float


def box_distance(box: Box) -> SignedDistance:
    """Signed distance from a box: outside to its nearest point, inside to its nearest face, negative."""
    axes, centre, half = axes_matrix(box.frame), np.array(box.frame.origin), np.array(box.size) / 2

    def distance(points: Array) -> Array:
        over = np.abs((points - centre) @ axes.T) - half
        outside = np.linalg.norm(np.maximum(over, 0.0), axis=1)
        return np.asarray(outside + np.minimum(over.max(axis=1), 0.0))

    return distance


def frustum_distance(frustum: Frustum) -> SignedDistance:
    """Signed distance from a frustum: that of its half section, a convex quadrangle, in (radius, length)."""
    axes, origin = axes_matrix(frustum.frame), np.array(frustum.frame.origin)
    slant = np.array([frustum.end - frustum.start, frustum.length])
    outward = np.array([slant[1], -slant[0]]) / np.hypot(*slant)
    edges = (
        (np.array([0.0, 0.0]), np.array([frustum.start, 0.0])),
        (np.array([frustum.start, 0.0]), np.array([frustum.end, frustum.length])),
        (np.array([0.0, frustum.length]), np.array([frustum.end, frustum.length])),
    )

    def distance(points: Array) -> Array:
        local = (points - origin) @ axes.T
        section = np.stack([np.hypot(local[:, 0], local[:, 1]), local[:, 2]], axis=1)
        planes = [-section[:, 1], section[:, 1] - frustum.length, (section - edges[1][0]) @ outward]
        nearest = np.min([_to_edge(section, *edge) for edge in edges], axis=0)
        return np.asarray(np.where(np.max(planes, axis=0) <= 0.0, -nearest, nearest))

    return distance


def _to_edge(section: Array, a: Array, b: Array) -> Array:
    edge = b - a
    squared = float(edge @ edge)
    along = np.clip((section - a) @ edge / squared, 0.0, 1.0) if squared > 0 else np.zeros(len(section))
    return np.asarray(np.linalg.norm(section - a - along[:, None] * edge, axis=1))


def least_over_triangles(distance: SignedDistance, triangles: Array) -> tuple[float, Array]:
    """The least signed distance over triangles (n, 3, 3), and the point (3,) that has it.

    Raises ValueError for no triangles.
    """
    if not len(triangles):
        raise ValueError("no triangles to measure to")
    best, point = np.inf, triangles[0, 0]
    while True:
        centre = triangles.mean(axis=1)
        reach = np.linalg.norm(triangles - centre[:, None], axis=2).max(axis=1)
        value = distance(centre)
        lowest = int(np.argmin(value))
        if value[lowest] < best:
            best, point = float(value[lowest]), centre[lowest]
        kept = np.flatnonzero((value - reach < best) & (reach > SMALLEST))
        if not len(kept):
            return best, point
        kept = kept[np.argsort((value - reach)[kept], kind="stable")][:MOST_KEPT]
        triangles = _halved(triangles[kept])


def _halved(triangles: Array) -> Array:
    """Each triangle as four, cut at the middles of its edges: (4n, 3, 3)."""
    a, b, c = triangles[:, 0], triangles[:, 1], triangles[:, 2]
    ab, bc, ca = (a + b) / 2, (b + c) / 2, (c + a) / 2
    corners = ((a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca))
    return np.concatenate([np.stack(corner, axis=1) for corner in corners])


def least_along_body(distance: SignedDistance, body: Body) -> tuple[float, Array]:
    """The least signed distance over a round body, and the point of its skin or end that has it.

    Where the body is nearest at a flat end, the end is measured as the disc it is.
    """
    low, high = body.span
    at = np.linspace(low, high, max(3, int((high - low) / GRID) + 2))
    step = float(at[1] - at[0])
    for _ in range(ZOOM_ROUNDS):
        middle = float(at[int(np.argmin(distance(points_along(body, at))))])
        at = np.clip(middle + step * np.linspace(-1.0, 1.0, 2 * ZOOM + 1), low, high)
        step /= ZOOM
    value = distance(points_along(body, at))
    best = int(np.argmin(value))
    for end, edge in zip(body.ends, body.span, strict=False):
        if abs(float(at[best]) - edge) < 1e-9:
            return least_over_triangles(distance, _disc(end, body.radius))
    centre = points_along(body, at[best : best + 1])[0]
    away = nearest_point(distance, centre, float(value[best])) - centre
    size = float(np.linalg.norm(away))
    skin = centre + away * (body.radius / size) if size > 0 else centre
    return float(value[best]) - body.radius, skin


def _disc(end: End, radius: float) -> Array:
    """A flat end as a fan of triangles; inscribed by less than 1e-5 of a millimetre for any tube."""
    frame = frame_from_normal(*(tuple(v.tolist()) for v in end))
    turn = 2 * np.pi * np.arange(DISC_SIDES + 1)[:, None] / DISC_SIDES
    rim = end[0] + radius * (np.cos(turn) * np.array(frame.x) + np.sin(turn) * np.array(frame.y))
    centre = np.broadcast_to(end[0], (DISC_SIDES, 3))
    return np.stack([centre, rim[:-1], rim[1:]], axis=1)


def frustum_above_plane(frustum: Frustum, plane: Plane) -> tuple[float, Array]:
    """The least height of a frustum above a plane, and the point of it that has it. Closed form: it is on a rim."""
    normal, z = np.array(plane.normal), np.array(frustum.frame.z)
    down = -(normal - (normal @ z) * z)
    size = float(np.linalg.norm(down))
    aside = down / size if size > 1e-12 else np.zeros(3)
    low = np.inf
    point = np.array(frustum.frame.origin)
    for along, radius in ((0.0, frustum.start), (frustum.length, frustum.end)):
        rim = np.array(frustum.frame.origin) + along * z + radius * aside
        height = float((rim - np.array(plane.origin)) @ normal)
        if height < low:
            low, point = height, rim
    return float(low), point


def nearest_point(distance: SignedDistance, point: Array, value: float) -> Array:
    """The point of a convex body's skin nearest to `point`, whose signed distance is `value`, by the slope there."""
    h = 1e-4
    slope = np.array([distance((point + h * e)[None])[0] - distance((point - h * e)[None])[0] for e in np.eye(3)])
    size = float(np.linalg.norm(slope))
    return np.asarray(point - value * slope / size if size > 0 else point)
