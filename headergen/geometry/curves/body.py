"""Round bodies along a centreline, and the exact distance of points from them.

A body is the volume that a disc of the tube's radius sweeps along the centreline: its ends are flat. It is the union of
the volumes swept along each curve, each between the planes at the curve's ends; inside those planes the distance to the
skin is the distance to the curve minus the radius. A point beyond an end of the whole body is measured to the end disc.
Bodies with round ends and corners (a cable, a brake line) are measured to the centreline throughout.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.arrays import Array, Mask
from headergen.geometry.curves.centreline import frame_on, trace
from headergen.geometry.frames import add, cross, frame_from_normal, norm, subtract, unit
from headergen.model import Centreline, Cylinder, Line, Segment, Straight, TubeRun, Vec

End = tuple[Array, Array]  # centre and outward direction
Rows = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Curve:
    """One segment with its axes: a line from `origin` along `v`, or an arc about `origin` with `u` toward its start."""

    start: float  # length from the flange at which it begins
    length: float
    origin: Array
    u: Array
    v: Array
    radius: float  # 0 for a line
    angle: float
    edges: tuple[End, End]  # its two end planes, each with the direction that points out of the curve


@dataclass(frozen=True, eq=False)
class Body:
    """A swept disc. `ends`: centre and outward direction of each flat end; empty where the ends are round.

    `cone`: the radii at its start and end, if it is a cone about one line. `radius` is then the larger: by itself it is
    the cylinder round the cone, and geometry/distance/cones.py measures the cone.
    """

    curves: tuple[Curve, ...]
    radius: float
    ends: tuple[End, ...]
    cone: tuple[float, float] | None = None

    @property
    def span(self) -> tuple[float, float]:
        """The lengths from the flange at which the body begins and ends."""
        last = self.curves[-1]
        return self.curves[0].start, last.start + last.length


def curve_of(segment: Segment, start: float) -> Curve:
    """A segment as a curve that begins `start` mm along the centreline, with its arrays."""
    point, tangent, _ = frame_on(segment, segment.length)
    first = np.array(segment.tangent)
    edges = ((np.array(segment.start), -first), (np.array(point), np.array(tangent)))
    if isinstance(segment, Line):
        return Curve(start, segment.length, np.array(segment.start), np.zeros(3), first, 0.0, 0.0, edges)
    centre = np.array(add(segment.start, segment.normal, segment.radius))
    return Curve(start, segment.length, centre, -np.array(segment.normal), first, segment.radius, segment.angle, edges)


def tube_body(centreline: Centreline, radius: float, begins: float = 0.0) -> Body:
    """The flat-ended body along a centreline; length 0 of the centreline is `begins` from the flange."""
    starts = centreline.starts
    curves = tuple(curve_of(segment, begins + at) for segment, at in zip(centreline.segments, starts, strict=False))
    return Body(curves, radius, (curves[0].edges[0], curves[-1].edges[1]))


def cylinder_body(cylinder: Cylinder) -> Body:
    """A cylinder as a body with flat ends."""
    axis = subtract(cylinder.end, cylinder.start)
    line = trace(frame_from_normal(cylinder.start, axis), [Straight(norm(axis))])
    return tube_body(line, cylinder.diameter / 2)


def run_body(run: TubeRun) -> Body:
    """A cable or line through points: straight legs, with round corners and ends."""
    curves, at = [], 0.0
    for a, b in zip(run.points, run.points[1:], strict=False):
        leg = subtract(b, a)
        curves.append(curve_of(Line(0, a, unit(leg), (0.0, 0.0, 0.0), norm(leg)), at))
        at += norm(leg)
    return Body(tuple(curves), run.diameter / 2, ())


def rim(end: End, radius: float, start: float = 0.0) -> tuple[Curve, Curve]:
    """The edge circle of a flat end as two half arcs, measured as any arc is; their axis points out of the end.

    `start`: the length from the flange given to both half arcs.
    """
    axis: Vec = unit(tuple(end[1].tolist()))
    across = frame_from_normal((0.0, 0.0, 0.0), axis).x
    u, v = np.array(across), np.array(cross(axis, across))

    def half(x: Array, y: Array) -> Curve:
        edges = (end[0] + radius * x, -y), (end[0] - radius * x, -y)
        return Curve(start, math.pi * radius, end[0], x, y, radius, math.pi, edges)

    return half(u, v), half(-u, -v)


def points_on(curve: Curve, into: Array) -> Array:
    """(n, 3) points at lengths `into` (n,) along one curve."""
    if curve.radius == 0.0:
        return curve.origin + into[:, None] * curve.v
    turn = into / curve.radius
    return curve.origin + curve.radius * (np.cos(turn)[:, None] * curve.u + np.sin(turn)[:, None] * curve.v)


def nearest_on_curve(curve: Curve, points: Array) -> Array:
    """(n,) lengths (mm) into the curve of the places nearest to `points` (n, 3); exact."""
    w = points - curve.origin
    if curve.radius == 0.0:
        return np.clip(w @ curve.v, 0.0, curve.length)
    turn = np.arctan2(w @ curve.v, w @ curve.u)
    middle = curve.angle / 2
    # the angle is wrapped about the middle of the arc, so that clipping picks the nearer end
    turn = (turn - middle + math.pi) % (2 * math.pi) - math.pi + middle
    return np.clip(turn, 0.0, curve.angle) * curve.radius


def distance_to_curve(curve: Curve, points: Array) -> tuple[Array, Array]:
    """Distances (n,) of points (n, 3) from a curve and lengths (n,) into it."""
    into = nearest_on_curve(curve, points)
    return _length(points - points_on(curve, into)), into


def round_ended_distance(body: Body, points: Array) -> Array:
    """(n,) distances of points (n, 3) from the centreline minus the radius: a lower bound of their gap."""
    nearest = _squared_distance(body.curves[0], points)
    for curve in body.curves[1:]:
        np.minimum(nearest, _squared_distance(curve, points), out=nearest)
    return np.sqrt(nearest) - body.radius


def quick_distance(curve: Curve, points: Array) -> Array:
    """distance_to_curve without the lengths, so that no angle is computed: for ruling out far points."""
    return np.sqrt(_squared_distance(curve, points))


def _squared_distance(curve: Curve, points: Array) -> Array:
    w = points - curve.origin
    if curve.radius == 0.0:
        w -= np.clip(w @ curve.v, 0.0, curve.length)[:, None] * curve.v
        return np.asarray(np.einsum("ij,ij->i", w, w))
    a, b, height = w @ curve.u, w @ curve.v, w @ np.cross(curve.u, curve.v)
    rho = np.hypot(a, b)
    c, s = math.cos(curve.angle / 2), math.sin(curve.angle / 2)
    # where the point is outside the arc's sector: distance to the ends, mirrored so that both ends are one case
    ahead, beside = a * c + b * s, np.abs(b * c - a * s)
    to_end = (ahead - curve.radius * c) ** 2 + (beside - curve.radius * s) ** 2
    return np.asarray(np.where(ahead >= rho * c, (rho - curve.radius) ** 2, to_end) + height * height)


def distance_to_disc(end: End, radius: float, points: Array) -> Array:
    """(n,) distances of points (n, 3) from a flat end, taken as a disc."""
    w = points - end[0]
    axial = w @ end[1]
    beside = _length(w - axial[:, None] * end[1])
    return np.hypot(axial, np.maximum(beside - radius, 0.0))


def beyond(end: End, points: Array) -> Mask:
    """Which points (n, 3) lie on the far side of an end plane."""
    return np.asarray((points - end[0]) @ end[1] > 0.0)


def distance_to_body(body: Body, points: Array) -> tuple[Array, Array]:
    """Signed distances (n,) of points (n, 3) from the body, and the lengths (n,) along it where they are nearest.

    Inside, the value is the distance to the centreline minus the radius, as for a depth.
    """
    best = np.full(len(points), np.inf)
    at = np.zeros(len(points))
    for curve in body.curves:
        distance, into = distance_to_curve(curve, points)
        value = distance - body.radius
        if body.ends:
            value[beyond(curve.edges[0], points) | beyond(curve.edges[1], points)] = np.inf
        _take(best, at, value, curve.start + into)
    for end, place in zip(body.ends, body.span, strict=False):
        value = np.where(beyond(end, points), distance_to_disc(end, body.radius, points), np.inf)
        _take(best, at, value, np.full(len(points), place))
    return best, at


def points_along(body: Body, at: Array) -> Array:
    """(n, 3) centreline points at lengths (n,) from the flange, clipped to the body's span."""
    return _along(body, at, points_on)


def ways_along(body: Body, at: Array) -> Array:
    """(n, 3) unit tangents of the centreline at lengths (n,) from the flange, clipped to the body's span."""
    return _along(body, at, _travel)


def _along(body: Body, at: Array, on_curve: Callable[[Curve, Array], Array]) -> Array:
    starts = np.array([curve.start for curve in body.curves])
    index = np.clip(np.searchsorted(starts, at, side="right") - 1, 0, len(starts) - 1)
    out = np.empty((len(at), 3))
    for k, curve in enumerate(body.curves):
        mine = index == k
        if mine.any():
            out[mine] = on_curve(curve, np.clip(at[mine] - curve.start, 0.0, curve.length))
    return out


def part_of(body: Body, low: float, high: float) -> Body:
    """The part of a body between two lengths from the flange, with flat ends where it is cut."""
    curves = []
    for curve in body.curves:
        begin, end = max(low - curve.start, 0.0), min(high - curve.start, curve.length)
        if end > begin:
            curves.append(_cut_curve(curve, begin, end))
    first, last = curves[0].edges[0], curves[-1].edges[1]
    return Body(tuple(curves), body.radius, (first, last))


def _cut_curve(curve: Curve, begin: float, end: float) -> Curve:
    start, stop = points_on(curve, np.array([begin, end]))
    first, last = _travel(curve, np.array([begin, end]))
    edges = ((start, -first), (stop, last))
    if curve.radius == 0.0:
        return Curve(curve.start + begin, end - begin, start, curve.u, curve.v, 0.0, 0.0, edges)
    u = (start - curve.origin) / curve.radius
    angle = (end - begin) / curve.radius
    return Curve(curve.start + begin, end - begin, curve.origin, u, first, curve.radius, angle, edges)


def _travel(curve: Curve, into: Array) -> Array:
    """(n, 3) tangents of a curve at lengths into it."""
    if curve.radius == 0.0:
        return np.broadcast_to(curve.v, (len(into), 3))
    turn = into[:, None] / curve.radius
    return np.asarray(np.cos(turn) * curve.v - np.sin(turn) * curve.u)


def surface_point(body: Body, at: float, toward: Array, value: float) -> Array:
    """The point of the body's skin at length `at` whose distance from the point `toward` is |`value`|.

    It is on the side of the tube that faces `toward`; at a flat end it is on the disc where the disc has that gap.
    """
    centre = points_along(body, np.array([at]))[0]
    w = toward - centre
    reach = float(np.linalg.norm(w))
    side = (
        any_square(ways_along(body, np.array([at]))[0]) if reach < 1e-9 else w / reach
    )  # on the centreline every side is equally near
    found = [centre + body.radius * side]
    for end, place in zip(body.ends, body.span, strict=False):
        w = toward - end[0]
        axial = float(w @ end[1])
        if abs(at - place) < 1e-9 and axial > -1e-9:
            beside = w - axial * end[1]
            reach = float(np.linalg.norm(beside))
            found.append(end[0] + beside * (min(1.0, body.radius / reach) if reach > 0 else 0.0))
    return min(found, key=lambda skin: abs(float(np.linalg.norm(skin - toward)) - abs(value)))


def any_square(way: Array) -> Array:
    """A unit vector perpendicular to another."""
    return np.array(frame_from_normal((0.0, 0.0, 0.0), tuple(way.tolist())).x)


def _take(best: Array, at: Array, value: Array, place: Array) -> None:
    """Keep the smaller value and its place; a tie keeps the earlier one."""
    better = value < best
    best[better] = value[better]
    at[better] = place[better]


def _length(vectors: Array) -> Array:
    return np.asarray(np.sqrt(np.einsum("ij,ij->i", vectors, vectors)))
