"""The smallest gap between two round bodies, and between a round body and a half space.

Between two skins the nearest points stand either both on their sides, or one on a flat end. A side of `a` shows as a
minimum, inside the span, of the distance from a's centreline to `b` less a's radius; so does a side of `b`; what is
left is end against end. Minima are found on an even grid and zoomed in on; the grid's chord bounds what it can miss.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from headergen.geometry.body import (
    Array,
    Body,
    distance_to_body,
    distance_to_disc,
    points_along,
    points_on,
    rim,
    surface_point,
)
from headergen.geometry.triangles import Nearest
from headergen.model import Plane

GRID = 2.0  # mm between the samples in which minima are looked for
ZOOM = 16  # the factor by which a round of zooming narrows the search
ZOOM_ROUNDS = 6  # from 2 mm to 1e-7 mm along the tube; the gap's own error is the square of that
MEETING = 1e-6  # mm between flat ends at which they meet: what is left is the search for it
SQUARE = 1e-7  # cosine under which a direction counts as square to the tube


def body_to_body(a: Body, b: Body) -> tuple[Nearest, float]:
    """The smallest gap between two bodies as seen from `a`, and the place along `b`.

    Flat ends are kept. `Nearest.point` lies on b's skin; `triangle` is −1. Where two flat ends meet, the bodies cross
    and the depth is that of round ends: never less than the true one.
    """
    value, at_a, at_b = _side_minimum(a, b)
    point = surface_point(b, at_b, points_along(a, np.array([at_a]))[0])
    other, other_b, other_a = _side_minimum(b, a)
    if other < value:
        value, at_a, at_b = other, other_a, other_b
        centre = points_along(b, np.array([at_b]))[0]
        point = surface_point(b, at_b, surface_point(a, at_a, centre))
    ends = _end_to_end(a, b, value)
    if ends is not None:
        value, at_a, at_b, point = ends
        if value <= MEETING:
            centres = (points_along(body, np.array([at]))[0] for body, at in ((a, at_a), (b, at_b)))
            value = float(np.linalg.norm(np.subtract(*centres))) - a.radius - b.radius
    return Nearest(value, at_a, point, -1), at_b


def _side_minimum(a: Body, b: Body) -> tuple[float, float, float]:
    """The least distance from a's centreline to `b`, less a's radius, where a's side is what is near."""

    def value(at: Array) -> Array:
        return distance_to_body(b, points_along(a, at))[0] - a.radius

    best, best_at = math.inf, a.span[0]
    for at in _local_minima(value, a.span):
        found = float(value(np.array([at]))[0])
        if found < best and _side_is_near(a, b, at):
            best, best_at = found, at
    place = distance_to_body(b, points_along(a, np.array([best_at])))[1]
    return best, best_at, float(place[0])


def _local_minima(value: Callable[[Array], Array], span: tuple[float, float]) -> list[float]:
    """Places of the local minima that may be the least, ends included, lowest first."""
    low, high = span
    grid = np.linspace(low, high, max(3, math.ceil((high - low) / GRID) + 1))
    seen = value(grid)
    padded = np.r_[np.inf, seen, np.inf]
    dips = np.flatnonzero((seen <= padded[:-2]) & (seen < padded[2:]))  # of a level stretch, its last
    inner = dips[(dips > 0) & (dips < len(grid) - 1)]
    reach = (seen[inner].min() if len(inner) else np.inf) + GRID
    dips = dips[seen[dips] <= reach]
    dips = dips[np.argsort(seen[dips], kind="stable")][:8]
    step = grid[1] - grid[0]
    return [_zoom(value, float(grid[k]), float(step), span) for k in dips]


def _zoom(value: Callable[[Array], Array], at: float, step: float, span: tuple[float, float]) -> float:
    for _ in range(ZOOM_ROUNDS):
        fine = np.clip(at + step * np.linspace(-1.0, 1.0, 2 * ZOOM + 1), *span)
        at = float(fine[int(np.argmin(value(fine)))])
        step /= ZOOM
    return at


def _side_is_near(a: Body, b: Body, at: float) -> bool:
    """False where `at` is a flat end of `a` that `b` lies beyond: then the round end would read too near."""
    place = distance_to_body(b, points_along(a, np.array([at])))[1][0]
    centre = points_along(a, np.array([at]))[0]
    toward = surface_point(b, float(place), centre) - centre
    for end, edge in zip(a.ends, a.span, strict=False):
        if abs(at - edge) < 1e-6 and float(toward @ end[1]) > SQUARE * float(np.linalg.norm(toward)):
            return False
    return True


def _end_to_end(a: Body, b: Body, bound: float) -> tuple[float, float, float, Array] | None:
    """The least distance between a flat end of `a` and one of `b`, where it is less than `bound`."""
    best = None
    for end_a, at_a in zip(a.ends, a.span, strict=False):
        for end_b, at_b in zip(b.ends, b.span, strict=False):
            if float(np.linalg.norm(end_a[0] - end_b[0])) - a.radius - b.radius >= bound:
                continue
            value, point = _disc_to_disc((end_a, a.radius), (end_b, b.radius))
            if value < bound:
                bound, best = value, (value, at_a, at_b, point)
    return best


Disc = tuple[tuple[Array, Array], float]


def _disc_to_disc(a: Disc, b: Disc) -> tuple[float, Array]:
    """Distance of two discs that do not meet, and the point on the second: one of them is near with its edge."""
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


def _onto_disc(disc: Disc, point: Array) -> Array:
    (centre, axis), radius = disc
    w = point - centre
    beside = w - float(w @ axis) * axis
    reach = float(np.linalg.norm(beside))
    return np.asarray(centre + beside * min(1.0, radius / reach if reach > 0 else 1.0))


def body_to_plane(body: Body, plane: Plane) -> Nearest:
    """The smallest height of a flat-ended body above a plane; negative behind it. Closed form.

    A disc square to t reaches r·√(1 − (n·t)²) below its centre, so that along an arc the least height stands where
    the tube runs parallel to the plane, or at an end.
    """
    normal = np.array(plane.normal)
    best = Nearest(math.inf, 0.0, np.zeros(3), -1)
    for curve in body.curves:
        into = [0.0, curve.length]
        if curve.radius > 0.0:
            turn = math.atan2(float(curve.v @ normal), float(curve.u @ normal))
            into += [(t % (2 * math.pi)) * curve.radius for t in (turn, turn + math.pi)]
        for length in into:
            if length > curve.length:
                continue
            point = points_on(curve, np.array([length]))[0]
            along = float(_tangent(curve.u, curve.v, curve.radius, length) @ normal)
            drop = body.radius * math.sqrt(max(0.0, 1.0 - along * along))
            height = float((point - np.array(plane.origin)) @ normal)
            if height - drop < best.value:
                best = Nearest(height - drop, curve.start + length, point - height * normal, -1)
    return best


def _tangent(u: Array, v: Array, radius: float, into: float) -> Array:
    if radius == 0.0:
        return v
    turn = into / radius
    return np.asarray(math.cos(turn) * v - math.sin(turn) * u)
