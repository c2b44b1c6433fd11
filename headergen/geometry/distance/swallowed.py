"""How deep a tube is where its centreline lies beyond a surface that it must not cross."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from headergen.geometry.arrays import Array, Mask
from headergen.geometry.curves.body import Body, any_square, points_along, ways_along
from headergen.geometry.distance.distance_triangles import Nearest
from headergen.geometry.distance.feet import Slabs, feet_on_index, slabs_of
from headergen.geometry.mesh.index import Rank, TriangleIndex
from headergen.geometry.mesh.winding import is_wrong_side, winding_numbers

CELL = 4.0  # mm between the first places
DIPS = 8  # minima that are refined, of those that may be the deepest
SLACK = 0.01  # relative error allowed in the distance to the surface, where very many places are equally near
TINY = 1e-9  # mm
HALF = 0.5  # winding number of a surface about a point above which the point is inside
ZOOM, ZOOM_ROUNDS = 4, 8  # from 4 mm to 1e-4 mm along the tube

Beyond = Callable[[Array], Mask]


def deepest(body: Body, surface: TriangleIndex, is_beyond: Beyond) -> Nearest | None:
    """Where a tube whose centreline is beyond a surface is deepest; None if it is nowhere beyond. See depths."""
    low, high = body.span
    slabs = slabs_of(surface)
    depth = _depths(body, surface, slabs, is_beyond)
    places = np.linspace(low, high, max(3, int((high - low) / CELL) + 2))
    step, value = float(places[1] - places[0]), depth(places)
    if not np.isfinite(value).any():
        return None
    padded = np.r_[np.inf, value, np.inf]
    # one step along the tube makes it deeper by at most the step, as long as the nearest place moves with it
    dips = np.flatnonzero((value <= padded[:-2]) & (value < padded[2:]) & (value <= value.min() + step))
    places = places[dips[np.argsort(value[dips], kind="stable")][:DIPS]]
    for _ in range(ZOOM_ROUNDS):
        fine = np.clip(places[:, None] + step * np.linspace(-1.0, 1.0, 2 * ZOOM + 1), low, high)
        value = depth(fine.ravel()).reshape(fine.shape)
        rows = np.arange(len(fine)), value.argmin(axis=1)
        places, value, step = fine[rows], value[rows], step / ZOOM
    at = places[value.argmin() : value.argmin() + 1]
    (centre,), (away,), (triangle,) = _feet(body, surface, slabs, at, 0.0)
    skin = centre - body.radius * _square_to(away, ways_along(body, at)[0])
    deep = -float(np.linalg.norm(centre + away - skin))
    return Nearest(deep, float(at[0]), centre + away, int(triangle), skin)


def depths(body: Body, surface: TriangleIndex, is_beyond: Beyond) -> Callable[[Array], Array]:
    """How deep a tube is at lengths from the flange, as a negative gap; infinite where its centreline is not beyond.

    The depth is measured from the nearest place of the surface to the skin on the far side of the tube: as far as the
    tube must move there to be clear. SLACK allows a place that is only nearly the nearest.
    """
    return _depths(body, surface, slabs_of(surface), is_beyond)


def _depths(body: Body, surface: TriangleIndex, slabs: Slabs, is_beyond: Beyond) -> Callable[[Array], Array]:
    def depth(at: Array) -> Array:
        centre = points_along(body, at)
        there = np.flatnonzero(is_beyond(centre))
        value = np.full(len(at), np.inf)
        if len(there):
            _, away, _ = _feet(body, surface, slabs, at[there], SLACK)
            along = ways_along(body, at[there])
            ahead = np.einsum("ij,ij->i", away, along)
            beside = np.linalg.norm(away - ahead[:, None] * along, axis=1)
            value[there] = -np.hypot(ahead, beside + body.radius)
        return value

    return depth


def _feet(body: Body, surface: TriangleIndex, slabs: Slabs, at: Array, slack: float) -> tuple[Array, Array, Rank]:
    """Points of the centreline, vectors to the nearest places of the surface, and the numbers of their triangles."""
    centre = points_along(body, at)
    feet, triangles = feet_on_index(centre, surface, slabs, slack)
    return centre, feet - centre, triangles


def _square_to(away: Array, along: Array) -> Array:
    """The unit vector perpendicular to the tube toward a place; any perpendicular if the place is along the tube."""
    beside = away - float(away @ along) * along
    reach = float(np.linalg.norm(beside))
    return np.asarray(beside / reach if reach > TINY else any_square(along))


def beyond(surface: TriangleIndex, role: str) -> Beyond:
    """Which points (n, 3) are on the side of an item's surface that its role forbids."""
    return lambda points: is_wrong_side(role, True, np.abs(winding_numbers(surface, points)), HALF, HALF)
