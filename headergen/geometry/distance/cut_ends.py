"""The gap between parts of tubes where the nearest place is on a cut, which is not a skin.

A part that is measured by itself ends flat where the tube goes on. Where the nearest place is on such a cut, the gap
between the real skins is searched instead, round the tube and along it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.curves.body import (
    Body,
    beyond,
    distance_to_curve,
    points_along,
    surface_point,
    ways_along,
)
from headergen.geometry.distance.cones import NearestGap, distance_to_any
from headergen.geometry.distance.distance_triangles import Nearest

INSIDE = 1e-7  # mm under the skin of the whole tube
AROUND, STEP = 48, 2.0  # places round a tube, and mm between rings of them
STARTS, HALVINGS = 8, 32  # of the search: down to 1e-9 of the first step


def off_cuts(parts: tuple[Body, Body], wholes: tuple[Sequence[Body], Sequence[Body]], gap: NearestGap) -> NearestGap:
    """The gap as found, for two parts that are apart; if it goes through a cut, the larger gap between their skins.

    `wholes`: all bodies of each tube.
    """
    nearest, _ = gap
    shown = (nearest.skin, nearest.point)
    if nearest.value <= 0.0 or all(
        distance_to_any(whole, point) > -INSIDE for whole, point in zip(wholes, shown, strict=True)
    ):
        return gap
    return _between_skins(*parts)


def _between_skins(a: Body, b: Body) -> NearestGap:
    skin_of, (low, high) = _skin(a), a.span
    at = np.linspace(low, high, max(3, int((high - low) / STEP) + 2))
    turn = np.linspace(0.0, 2 * np.pi, AROUND, endpoint=False)
    places = np.stack(np.meshgrid(at, turn, indexing="ij"), axis=-1).reshape(-1, 2)
    steps = np.array([at[1] - at[0], turn[1]])
    value = _off_skin(b, skin_of(places))[0]
    places = places[np.argsort(value, kind="stable")[:STARTS]]
    shifts = np.stack(np.meshgrid(*[np.linspace(-1.0, 1.0, 5)] * 2, indexing="ij"), axis=-1).reshape(-1, 2)
    for _ in range(HALVINGS):
        fine = places[:, None] + shifts * steps
        fine[..., 0] = np.clip(fine[..., 0], low, high)
        value = _off_skin(b, skin_of(fine.reshape(-1, 2)))[0].reshape(fine.shape[:2])
        places, steps = fine[np.arange(len(fine)), value.argmin(axis=1)], steps / 2
    best = places[value.min(axis=1).argmin()]
    skin = skin_of(best[None])
    away, at_b = (float(each[0]) for each in _off_skin(b, skin))
    point = _rim_point(b, at_b, skin[0], away)
    return Nearest(float(np.linalg.norm(point - skin[0])), float(best[0]), point, -1, skin[0]), at_b


def _skin(body: Body) -> Callable[[Array], Array]:
    """Maps lengths along the body and angles round it (n, 2) to points (n, 3) of the skin."""
    along = ways_along(body, np.linspace(*body.span, AROUND))
    across = np.eye(3)[np.abs(along).max(axis=0).argmin()]  # the axis most nearly perpendicular to the tube

    def points(places: Array) -> Array:
        way = ways_along(body, places[:, 0])
        x = across - (way @ across)[:, None] * way
        x /= np.linalg.norm(x, axis=1)[:, None]
        side = np.cos(places[:, 1:]) * x + np.sin(places[:, 1:]) * np.cross(way, x)
        return np.asarray(points_along(body, places[:, 0]) + body.radius * side)

    return points


def _off_skin(body: Body, points: Array) -> tuple[Array, Array]:
    """Distances (n,) of points (n, 3) outside a body from its skin, with open ends, and where along it (n,)."""
    best, at = np.full(len(points), np.inf), np.zeros(len(points))
    for curve in body.curves:
        away, into = distance_to_curve(curve, points)
        off = beyond(curve.edges[0], points) | beyond(curve.edges[1], points)
        value = np.where(off, np.inf, np.abs(away - body.radius))
        at, best = np.where(value < best, curve.start + into, at), np.minimum(value, best)
    for end, place in zip(body.ends, body.span, strict=True):
        ahead, beside = _from_end(end, points)
        value = np.hypot(ahead, beside - body.radius)
        at, best = np.where(value < best, place, at), np.minimum(value, best)
    return best, at


def _from_end(end: tuple[Array, Array], points: Array) -> tuple[Array, Array]:
    ahead = (points - end[0]) @ end[1]
    return ahead, np.linalg.norm(points - end[0] - ahead[:, None] * end[1], axis=1)


def _rim_point(body: Body, at: float, toward: Array, away: float) -> Array:
    """The point of the skin at a length that is `away` from another point; at an end, the point of its edge."""
    for end, place in zip(body.ends, body.span, strict=True):
        if abs(at - place) < 1e-9:
            ahead, beside = _from_end(end, toward[None])
            side = (toward - end[0] - ahead[0] * end[1]) / beside[0]
            return np.asarray(end[0] + body.radius * side)
    return surface_point(body, at, toward, away)
