"""The smallest gap from a convex solid to triangles, to a round body or a frustum, and to a half space; exact.

The signed distance is convex, so along a straight edge it has one minimum. If a convex solid does not meet a flat patch
(a triangle, the flat end of a tube), the nearest place of the patch is on its edge, or it is the foot of the solid's
support point toward the patch's plane. Only if they meet is the deepest place searched for inside the patch. Patches
whose lower bound, by the gradient, is above the best value so far are left out.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.curves.body import Body, End, points_along, rim
from headergen.geometry.distance.convex import Convex, Frustum
from headergen.geometry.distance.distance_triangles import nearest_on_triangles
from headergen.geometry.frames import frame_from_normal
from headergen.model import Plane

ENOUGH = 1e-8  # mm; a search ends when the gradient shows that no more than this can be gained
GRID = 2.0  # mm between samples along a curve, where bends may make several minima
ZOOM, ZOOM_ROUNDS = 16, 7
VALLEYS = 8
ON_END = 1e-6  # mm along a tube
MOST_CUTS = 200  # each removes more than a third of the area; usually 50 are enough


@dataclass(frozen=True, eq=False)
class ConvexGap:
    """A signed gap and its two points: one on the skin of the convex solid, one on the other body."""

    value: float
    mine: Array
    theirs: Array


@dataclass(frozen=True, eq=False)
class _Least:
    """The least signed distance so far, and its place."""

    value: float
    point: Array

    def beside(self, values: Array, points: Array) -> _Least:
        row = int(np.argmin(values))
        return _Least(float(values[row]), points[row]) if values[row] < self.value else self


NOTHING_YET = _Least(math.inf, np.zeros(3))


def gap_to_plane(solid: Convex, plane: Plane) -> ConvexGap:
    """The least height above a plane; if negative, how deep the solid is behind it. Closed form."""
    normal = np.array(plane.normal)
    lowest = solid.farthest(-normal[None])[0]
    height = float((lowest - np.array(plane.origin)) @ normal)
    return ConvexGap(height, lowest, lowest - height * normal)


def gap_to_triangles(solid: Convex, triangles: Array) -> ConvexGap:
    """The smallest gap to triangles (n, 3, 3). If negative: how deep their deepest point is in the solid.

    The depth of a point is its distance from the nearest face of the solid. Raises ValueError for no triangles.
    """
    if not len(triangles):
        raise ValueError("no triangles to measure to")
    lower, best = _bounds(solid, triangles)
    near = np.flatnonzero(lower < best.value - ENOUGH)
    corners = triangles[near]
    best = _least_on_edges(solid, corners.reshape(-1, 3), np.roll(corners, -1, axis=1).reshape(-1, 3), best)
    near = near[lower[near] < best.value - ENOUGH]
    if len(near):
        normals = np.cross(triangles[near, 1] - triangles[near, 0], triangles[near, 2] - triangles[near, 0])
        foot = nearest_on_triangles(triangles[near], _toward_planes(solid, triangles[near, 0], normals))
        best = best.beside(solid.skin(foot)[0], foot)
    if best.value < ENOUGH:  # they meet: the best so far may be on the skin only
        for row in near[np.argsort(lower[near], kind="stable")]:
            if lower[row] < best.value - ENOUGH:
                best = _deepest(solid, triangles[row], best)
    return _with_skin(solid, best)


def _bounds(solid: Convex, triangles: Array) -> tuple[Array, _Least]:
    """(n,) a lower bound for each triangle, and the least value met on the way."""
    centre = triangles.mean(axis=1)
    value, slope = solid.skin(centre)
    rise = np.einsum("ij,ikj->ik", slope, triangles - centre[:, None])
    lowest = rise.argmin(axis=1)
    lower = value + rise[np.arange(len(triangles)), lowest]
    best = NOTHING_YET.beside(value, centre)
    rows = np.flatnonzero(lower < best.value)
    corner = triangles[rows, lowest[rows]]
    return lower, best.beside(solid.skin(corner)[0], corner) if len(rows) else best


def _least_on_edges(solid: Convex, a: Array, b: Array, best: _Least) -> _Least:
    """The least signed distance on the edges from `a` to `b` (n, 3), by bisection on the sign of the slope."""
    low, high = np.zeros(len(a)), np.ones(len(a))
    while len(a):
        at = (low + high) / 2
        points = a + at[:, None] * (b - a)
        value, slope = solid.skin(points)
        best = best.beside(value, points)
        rise = np.einsum("ij,ij->i", slope, b - a)
        low, high = np.where(rise < 0.0, at, low), np.where(rise < 0.0, high, at)
        open_ = value - np.abs(rise) * (high - low) < best.value - ENOUGH
        a, b, low, high = a[open_], b[open_], low[open_], high[open_]
    return best


def _toward_planes(solid: Convex, on: Array, normals: Array) -> Array:
    """(n, 3) a point of the solid nearest to each plane, or on it; a plane is a point `on` and a normal (n, 3)."""
    low, high = solid.farthest(-normals), solid.farthest(normals)
    below = np.einsum("ij,ij->i", low - on, normals)
    spread = np.einsum("ij,ij->i", high - low, normals)
    into = np.clip(-below / np.where(spread > 0.0, spread, 1.0), 0.0, 1.0)
    return np.asarray(low + into[:, None] * (high - low))


def _deepest(solid: Convex, polygon: Array, best: _Least, disc: tuple[Array, float] | None = None) -> _Least:
    """The least signed distance in a flat convex polygon (n, 3), or in the disc (centre, radius) that it contains.

    The polygon is cut again and again through its middle, perpendicular to the gradient there; the downhill half is
    kept.
    """
    for _ in range(MOST_CUTS):
        middle = _middle(polygon)
        away = middle - disc[0] if disc is not None else np.zeros(3)
        if disc is not None and float(np.linalg.norm(away)) > disc[1]:
            uphill = away
        else:
            value, slope = solid.skin(middle[None])
            best, uphill = best.beside(value, middle[None]), slope[0]
            if value[0] + float(((polygon - middle) @ uphill).min()) >= best.value - ENOUGH:
                return best
        polygon = _cut(polygon, middle, uphill)
        if len(polygon) < 3:
            return best
    return best


def _middle(polygon: Array) -> Array:
    """The centroid; of a sliver, the mean of its corners."""
    fan = np.stack([np.broadcast_to(polygon[0], polygon[2:].shape), polygon[1:-1], polygon[2:]], axis=1)
    area = np.linalg.norm(np.cross(fan[:, 1] - fan[:, 0], fan[:, 2] - fan[:, 0]), axis=1)
    if area.sum() < 1e-18:
        return np.asarray(polygon.mean(axis=0))
    return np.asarray(area @ fan.mean(axis=1) / area.sum())


def _cut(polygon: Array, through: Array, uphill: Array) -> Array:
    """The part of a convex polygon on the downhill side of a point."""
    height = (polygon - through) @ uphill
    kept = []
    for k in range(len(polygon)):
        here, there = height[k - 1], height[k]
        if (here < 0.0) != (there < 0.0):
            kept.append(polygon[k - 1] + here / (here - there) * (polygon[k] - polygon[k - 1]))
        if there < 0.0:
            kept.append(polygon[k])
    return np.array(kept)


def gap_to_body(solid: Convex, body: Body) -> ConvexGap:
    """The smallest gap (mm) to a round body, with its flat ends if it has them.

    If negative: how far the body must move sideways to come free, or how deep the deepest point of a flat end is in the
    solid.
    """
    swept = _Swept(lambda at: points_along(body, at), lambda at: np.full(len(at), body.radius), body.span)
    return _gap_to_swept(solid, swept, tuple((end, body.radius) for end in body.ends))


def gap_to_frustum(solid: Convex, other: Frustum) -> ConvexGap:
    """The smallest gap to a frustum, measured to the balls inside it that touch its side and to its flat ends.

    If the side leans by α, the ball that touches it where the frustum's radius is r has the radius r/cos α, and its
    centre is r·tan α back along the axis. Negative as for a body.
    """
    start, z = np.array(other.frame.origin), np.array(other.frame.z)
    lean = math.atan2(other.start - other.end, other.length)

    def radius(at: Array) -> Array:
        return np.maximum(other.start - math.tan(lean) * at, 0.0)

    swept = _Swept(
        lambda at: start + (at - radius(at) * math.tan(lean))[:, None] * z,
        lambda at: radius(at) / math.cos(lean),
        (0.0, other.length),
    )
    return _gap_to_swept(solid, swept, (((start, -z), other.start), ((start + other.length * z, z), other.end)))


@dataclass(frozen=True, eq=False)
class _Swept:
    """A swept ball: its centre and radius as functions of length."""

    centre: Callable[[Array], Array]
    radius: Callable[[Array], Array]
    span: tuple[float, float]


def _gap_to_swept(solid: Convex, swept: _Swept, discs: tuple[tuple[End, float], ...]) -> ConvexGap:
    """The least over the sweep and the flat ends; a minimum at an end of the sweep is left to the flat end."""
    best = ConvexGap(math.inf, np.zeros(3), np.zeros(3))
    for _, place in _valleys(lambda at: solid.skin(swept.centre(at))[0] - swept.radius(at), swept.span):
        if discs and min(abs(place - edge) for edge in swept.span) < ON_END:
            continue
        at = np.array([place])
        centre, radius = swept.centre(at), float(swept.radius(at)[0])
        (value,), (slope,) = solid.skin(centre)
        if value - radius < best.value:
            best = ConvexGap(float(value) - radius, centre[0] - value * slope, centre[0] - radius * slope)
    for end, radius in discs:
        found = _least_on_disc(solid, end, radius, best.value)
        if found is not None:
            best = _with_skin(solid, found)
    return best


def _valleys(value: Callable[[Array], Array], span: tuple[float, float]) -> list[tuple[float, float]]:
    """Values and places of the local minima that may be the global one, ends included, lowest first."""
    low, high = span
    at = np.linspace(low, high, max(3, math.ceil((high - low) / GRID) + 1))
    step = float(at[1] - at[0])
    seen = value(at)
    padded = np.r_[np.inf, seen, np.inf]
    dips = np.flatnonzero((seen <= padded[:-2]) & (seen < padded[2:]))
    dips = dips[np.argsort(seen[dips], kind="stable")]
    inner = [k for k in dips if 0 < k < len(at) - 1]
    reach = seen[inner[0]] + step if inner else math.inf
    places = at[[k for k in dips if seen[k] <= reach][:VALLEYS]]
    fan = np.linspace(-1.0, 1.0, 2 * ZOOM + 1)
    for _ in range(ZOOM_ROUNDS):
        fine = np.clip(places[:, None] + step * fan, low, high)
        found = value(fine.ravel()).reshape(fine.shape)
        rows = np.arange(len(fine)), found.argmin(axis=1)
        places, lowest, step = fine[rows], found[rows], step / ZOOM
    return sorted(zip(lowest.tolist(), places.tolist(), strict=True))


def _least_on_disc(solid: Convex, end: End, radius: float, bound: float) -> _Least | None:
    """The least signed distance on a flat end, if it is below `bound`."""
    centre, outward = end
    best = _Least(bound, centre)
    value = solid.skin(centre[None])[0]
    if radius == 0.0:  # the tip of a cone
        return best.beside(value, centre[None]) if value[0] < bound else None
    if value[0] - radius >= bound:
        return None
    near = _toward_planes(solid, centre[None], outward[None])[0] - centre
    near = near - float(near @ outward) * outward
    beside = float(np.linalg.norm(near))
    points = np.array([centre, centre + near * min(1.0, radius / beside if beside > 0.0 else 1.0)])
    best = best.beside(solid.skin(points)[0], points)
    edge = _rim_body(end, radius)
    lowest, at = _valleys(lambda at: solid.skin(points_along(edge, at))[0], edge.span)[0]
    best = best.beside(np.array([lowest]), points_along(edge, np.array([at])))
    if best.value < ENOUGH:
        frame = frame_from_normal(tuple(centre.tolist()), tuple(outward.tolist()))
        x, y = radius * np.array(frame.x), radius * np.array(frame.y)
        square = np.array([centre + x + y, centre - x + y, centre - x - y, centre + x - y])
        best = _deepest(solid, square, best, (centre, radius))
    return best if best.value < bound else None


def _rim_body(end: End, radius: float) -> Body:
    first, second = rim(end, radius)
    return Body((first, replace(second, start=first.length)), 0.0, ())


def _with_skin(solid: Convex, least: _Least) -> ConvexGap:
    slope = solid.skin(least.point[None])[1][0]
    return ConvexGap(least.value, least.point - least.value * slope, least.point)
