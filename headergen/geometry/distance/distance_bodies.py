"""The smallest gap between two round bodies, and between a round body and a half space.

The nearest points of two skins are either both on the sides, or one is on a flat end. First, sides that face each other
are measured, for many pairs at once. That is the answer unless one place is at an end and the other body lies beyond
that end; then the flat ends are measured too.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.curves.body import (
    Body,
    any_square,
    distance_to_body,
    distance_to_disc,
    points_along,
    points_on,
    rim,
    surface_point,
    ways_along,
)
from headergen.geometry.distance.distance_curves import Facing, facing
from headergen.geometry.distance.distance_triangles import Nearest
from headergen.model import Plane

GRID = 2.0  # mm between the samples in which minima are looked for
ZOOM = 16  # the factor by which a round of zooming narrows the search
ZOOM_ROUNDS = 6  # from 2 mm to 1e-7 mm along the tube; the gap's own error is the square of that
MEETING = 1e-6  # mm between flat ends below which they meet: the search finds them no better
NEARLY_MEETING = 1e-4  # mm of gap at flat ends, measured by discs, below which they may cross
END = 1e-6  # mm along the tube within which a place counts as the tube's end
LEVEL = 1e-12  # sine of the angle between a tube and a plane's normal below which its disc is parallel to the plane
SQUARE = 1e-7  # cosine below which a direction counts as perpendicular to the tube


def body_to_body(a: Body, b: Body) -> tuple[Nearest, float]:
    """The smallest gap between two bodies as seen from `a`, and the place along `b`.

    Ends are flat. `Nearest.point` lies on b's skin; `triangle` is −1. Where two flat ends meet, the bodies cross and
    the depth is that of round ends: never less than the true depth.
    """
    return bodies_to_bodies([(a, b)])[0]


def bodies_to_bodies(pairs: Sequence[tuple[Body, Body]]) -> list[tuple[Nearest, float]]:
    """body_to_body of many pairs, far faster than one call for each."""
    if not pairs:
        return []
    found = facing(pairs, flat=False)
    # where sides face each other nothing is nearer, with round ends and so also with flat ones
    answers = [_side_to_side(a, b, found, k) for k, (a, b) in enumerate(pairs)]
    ends = [k for k, (a, b) in enumerate(pairs) if _is_off_end(a, b, found.at[k], found.points[k])]
    if ends:
        flat = facing([pairs[k] for k in ends], flat=True)
        for row, k in enumerate(ends):
            answers[k] = _with_flat_ends(pairs[k], flat, row, may_cross=float(found.value[k]) < 0.0)
    return answers


def _is_off_end(a: Body, b: Body, at: Array, feet: Array) -> bool:
    """Whether one place lies beyond a flat end on which the other is: there round ends give too small a gap."""
    return _is_beyond(a, at[0], feet[1] - feet[0]) or _is_beyond(b, at[1], feet[0] - feet[1])


def _is_beyond(body: Body, at: float, toward: Array) -> bool:
    for end, edge in zip(body.ends, body.span, strict=False):
        if abs(at - edge) < END and float(toward @ end[1]) > SQUARE * float(np.linalg.norm(toward)):
            return True
    return False


def _side_to_side(a: Body, b: Body, facing: Facing, k: int) -> tuple[Nearest, float]:
    (at_a, at_b), (centre, onto) = facing.at[k].tolist(), facing.points[k]
    way, value = _way_to((a, at_a, centre), (b, at_b, onto)), float(facing.value[k])
    skin, point = centre + a.radius * way, onto - b.radius * way
    apart = value + a.radius + b.radius
    if apart < max(a.radius, b.radius) and (_is_within(a, skin) or _is_within(b, point)):
        # inside the corner of a bend that side is not skin, because the other leg covers it: the outer side is
        value, skin, point = -apart - a.radius - b.radius, centre - a.radius * way, onto + b.radius * way
    return Nearest(value, at_a, point, -1, skin), at_b


def _is_within(body: Body, point: Array) -> bool:
    return float(distance_to_body(body, point[None])[0][0]) < -END


OnLine = tuple[Body, float, Array]  # a body, a length along it, and the point of its centreline there


def _way_to(one: OnLine, other: OnLine) -> Array:
    """The unit vector from a place on one centreline to a place on another."""
    apart = other[2] - one[2]
    distance = float(np.linalg.norm(apart))
    return np.asarray(apart / distance if distance > END else _square_to_both(one, other))


def _deep_sides(one: OnLine, other: OnLine) -> tuple[Nearest, float]:
    """The depth as the distance between two disc rims, each at the point nearest to the other disc's centre.

    Where the discs are perpendicular to the line between their centres, this is how far both skins overlap.
    """
    (a, at_a, centre), (b, at_b, onto) = one, other
    way = _way_to(one, other)
    skin = centre + a.radius * _within_disc(way, _way_along(a, at_a))
    point = onto - b.radius * _within_disc(way, _way_along(b, at_b))
    return Nearest(-float(np.linalg.norm(skin - point)), at_a, point, -1, skin), at_b


def _square_to_both(one: OnLine, other: OnLine) -> Array:
    """Where centrelines meet: a unit vector perpendicular to both."""
    first, second = (_way_along(body, at) for body, at, _ in (one, other))
    across = np.cross(first, second)
    size = float(np.linalg.norm(across))
    return np.asarray(across / size if size > END else any_square(first))


def _way_along(body: Body, at: float) -> Array:
    return np.asarray(ways_along(body, np.array([at]))[0])


def _with_flat_ends(pair: tuple[Body, Body], flat: Facing, row: int, may_cross: bool) -> tuple[Nearest, float]:
    """The gap with flat ends: between sides, between a side and an end, or between two ends.

    `may_cross`: the bodies cross with round ends. Then a gap between sides may be a crossing, so the sides are checked
    too.
    """
    (a, b), value = pair, float(flat.value[row])
    if value <= NEARLY_MEETING or (may_cross and _sides_cross(a, b)):
        return _crossing(a, b)
    ends = _end_to_end(a, b, value)
    if ends is None:
        at_a, at_b = flat.at[row].tolist()
        return Nearest(value, at_a, flat.points[row, 1], -1, flat.points[row, 0]), at_b
    return ends if ends[0].value > MEETING else _crossing(a, b)


def _sides_cross(a: Body, b: Body) -> bool:
    """Whether one body goes through the side of the other: so far within its radius that it is in the disc there."""
    return min(_side_minimum(a, b)[0].value, _side_minimum(b, a)[0].value) < 0.0


def _crossing(a: Body, b: Body) -> tuple[Nearest, float]:
    """The depth where bodies cross at an end, from both sides; the discs' distance is no measure of a deep crossing."""
    best, at_b = _side_minimum(a, b)
    other, at_a = _side_minimum(b, a)
    if other.value < best.value:
        best, at_b = Nearest(other.value, at_a, other.skin, -1, other.point), other.at
    ends = _end_to_end(a, b, best.value)
    if ends is None:
        return best, at_b
    if ends[0].value > MEETING:
        return ends
    places = ((a, ends[0].at), (b, ends[1]))
    rims = [(body, at, points_along(body, np.array([at]))[0]) for body, at in places]
    return _deep_sides(rims[0], rims[1])


def _within_disc(way: Array, axis: Array) -> Array:
    """The unit vector along `way` made perpendicular to an axis; any perpendicular if it is along the axis."""
    square = way - float(way @ axis) * axis
    size = float(np.linalg.norm(square))
    return np.asarray(square / size if size > END else any_square(axis))


def _side_minimum(a: Body, b: Body) -> tuple[Nearest, float]:
    """The least distance from a's centreline to `b` minus a's radius, where the nearest point of `a` is on its side."""

    def value(at: Array) -> Array:
        return distance_to_body(b, points_along(a, at))[0] - a.radius

    best, best_at = math.inf, a.span[0]
    for at in _local_minima(value, a.span):
        found = float(value(np.array([at]))[0])
        if found < best and _side_is_near(a, b, at):
            best, best_at = found, at
    centre = points_along(a, np.array([best_at]))
    distance, place = (each[0] for each in distance_to_body(b, centre))
    if distance > 0.0:
        point = surface_point(b, float(place), centre[0], float(distance))
        way = (point - centre[0]) / np.linalg.norm(point - centre[0])
        return Nearest(best, best_at, point, -1, centre[0] + a.radius * way), float(place)
    onto = points_along(b, np.array([place]))[0]
    return _deep_sides((a, best_at, centre[0]), (b, float(place), onto))


def _local_minima(value: Callable[[Array], Array], span: tuple[float, float]) -> list[float]:
    """Places of the local minima that may be the global one, ends included, lowest first."""
    low, high = span
    grid = np.linspace(low, high, max(3, math.ceil((high - low) / GRID) + 1))
    seen = value(grid)
    padded = np.r_[np.inf, seen, np.inf]
    dips = np.flatnonzero((seen <= padded[:-2]) & (seen < padded[2:]))  # of a plateau, its last sample
    inner = dips[(dips > 0) & (dips < len(grid) - 1)]
    reach = (seen[inner].min() if len(inner) else np.inf) + GRID
    dips = dips[seen[dips] <= reach]
    dips = dips[np.argsort(seen[dips], kind="stable")][:8]
    return _zoom(value, grid[dips], float(grid[1] - grid[0]), span)


def _zoom(value: Callable[[Array], Array], at: Array, step: float, span: tuple[float, float]) -> list[float]:
    for _ in range(ZOOM_ROUNDS):
        fine = np.clip(at[:, None] + step * np.linspace(-1.0, 1.0, 2 * ZOOM + 1), *span)
        lowest = value(fine.ravel()).reshape(fine.shape).argmin(axis=1)
        at = np.take_along_axis(fine, lowest[:, None], axis=1)[:, 0]
        step /= ZOOM
    return [float(each) for each in at]


def _side_is_near(a: Body, b: Body, at: float) -> bool:
    """False where `at` is a flat end of `a` that `b` lies beyond."""
    centre = points_along(a, np.array([at]))
    place = float(distance_to_body(b, centre)[1][0])
    away = float(distance_to_body(b, centre)[0][0])
    return not _is_beyond(a, at, surface_point(b, place, centre[0], away) - centre[0])


def _end_to_end(a: Body, b: Body, bound: float) -> tuple[Nearest, float] | None:
    """The least distance between a flat end of `a` and a flat end of `b`, if it is less than `bound`."""
    best = None
    for end_a, at_a in zip(a.ends, a.span, strict=False):
        for end_b, at_b in zip(b.ends, b.span, strict=False):
            if float(np.linalg.norm(end_a[0] - end_b[0])) - a.radius - b.radius >= bound:
                continue
            value, point = _disc_to_disc((end_a, a.radius), (end_b, b.radius))
            if value < bound:
                bound = value
                best = Nearest(value, at_a, point, -1, _onto_disc((end_a, a.radius), point)), at_b
    return best


PlacedDisc = tuple[tuple[Array, Array], float]


def _disc_to_disc(a: PlacedDisc, b: PlacedDisc) -> tuple[float, Array]:
    """Distance between two discs that do not meet, and the point on the second. One of the points is on a rim."""
    best, point = math.inf, b[0][0]
    for disc, other, mine in ((a, b, False), (b, a, True)):
        for half in rim(*disc):

            def value(into: Array, half=half, other=other) -> Array:  # type: ignore[no-untyped-def]
                return distance_to_disc(other[0], other[1], points_on(half, into))

            for into in _local_minima(value, (0.0, half.length)):
                found = float(value(np.array([into]))[0])
                if found < best:
                    edge = points_on(half, np.array([into]))[0]
                    best, point = found, edge if mine else _onto_disc(other, edge)
    return best, point


def _onto_disc(disc: PlacedDisc, point: Array) -> Array:
    (centre, axis), radius = disc
    w = point - centre
    beside = w - float(w @ axis) * axis
    reach = float(np.linalg.norm(beside))
    return np.asarray(centre + beside * min(1.0, radius / reach if reach > 0 else 1.0))


def body_to_plane(body: Body, plane: Plane) -> Nearest:
    """The smallest height of a flat-ended body above a plane; negative behind it. Closed form.

    A disc perpendicular to t reaches r·√(1 − (n·t)²) below its centre. So the least height along an arc is where the
    tube runs parallel to the plane, or at an end.
    """
    normal = np.array(plane.normal)
    best = Nearest(math.inf, 0.0, np.zeros(3), -1, np.zeros(3))
    for curve in body.curves:
        into = [0.0, curve.length]
        if curve.radius > 0.0:
            turn = math.atan2(float(curve.v @ normal), float(curve.u @ normal))
            into += [(t % (2 * math.pi)) * curve.radius for t in (turn, turn + math.pi)]
        for length in into:
            if length > curve.length:
                continue
            centre = points_on(curve, np.array([length]))[0]
            tangent = _tangent(curve.u, curve.v, curve.radius, length)
            lowest = centre - body.radius * _steepest(normal, tangent)
            height = float((lowest - np.array(plane.origin)) @ normal)
            if height < best.value:
                best = Nearest(height, curve.start + length, lowest - height * normal, -1, lowest)
    return best


def _steepest(normal: Array, tangent: Array) -> Array:
    """The unit vector perpendicular to a tube that rises most; zero where its disc is parallel to the plane."""
    across = normal - float(normal @ tangent) * tangent
    across -= float(across @ tangent) * tangent  # again: nearly along the normal the first is mostly rounding
    size = float(np.linalg.norm(across))
    return np.asarray(across / size if size > LEVEL else np.zeros(3))


def _tangent(u: Array, v: Array, radius: float, into: float) -> Array:
    if radius == 0.0:
        return v
    turn = into / radius
    return np.asarray(math.cos(turn) * v - math.sin(turn) * u)
