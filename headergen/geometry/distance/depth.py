"""How deep one mesh goes through the skin of another, by sample points on it."""

from __future__ import annotations

import math

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.mesh.index import TriangleIndex, distance_to_index, nearest_on_index
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.geometry.mesh.winding import is_wrong_side, winding_numbers

SPACING = 2.0  # mm between sample points
MOST_PLACES = 200_000  # of one mesh; where it would have more, the spacing is larger


def deepest(mesh: TriangleMesh, body: TriangleIndex, role: str) -> tuple[float, Array, Array] | None:
    """How far the skin of a mesh goes beyond that of a closed body: into an obstacle, or out of an enclosure.

    The depth, the deepest place, and the place of the body nearest to it; None if it does not go beyond. The depth is
    never more than the true one, and less by at most the spacing of the sample points.
    """
    low, high = body.bounds
    places = places_on(mesh) if role == "enclosure" else places_on(mesh, low, high)
    if not len(places):
        return None
    around = np.abs(winding_numbers(body, places))
    through = places[is_wrong_side(role, True, around)]
    if not len(through):
        return None
    depths = distance_to_index(through, body)
    worst = int(np.round(depths, 6).argmax())
    return float(depths[worst]), through[worst], nearest_on_index(through[worst : worst + 1], body)[0][0]


def places_on(mesh: TriangleMesh, low: Array | None = None, high: Array | None = None) -> Array:
    """(n, 3) points on the triangles of a mesh, at most SPACING apart; only those between two corners if given.

    They lie in rows beside the longest edge of each triangle, so that a long thin triangle gets one row and no more
    points than it needs.
    """
    corners = np.asarray(mesh.vertices, dtype=float)[mesh.faces]
    if low is not None and high is not None:
        corners = corners[((corners.max(axis=1) >= low) & (corners.min(axis=1) <= high)).all(axis=1)]
    sides = np.linalg.norm(np.roll(corners, -1, axis=1) - corners, axis=2)
    corners = np.array([np.roll(c, -k, axis=0) for c, k in zip(corners, sides.argmax(axis=1), strict=True)])
    if not len(corners):
        return np.zeros((0, 3))
    areas = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1) / 2
    spacing = max(SPACING, math.sqrt(float(areas.sum()) / MOST_PLACES))
    found = np.concatenate(
        [_rows(c, side, area, spacing) for c, side, area in zip(corners, sides.max(axis=1), areas, strict=True)]
    )
    if low is not None and high is not None:
        found = found[((found >= low) & (found <= high)).all(axis=1)]
    return found


def _rows(corners: Array, longest: float, area: float, spacing: float) -> Array:
    a, b, c = corners
    height = 2 * area / longest if longest > 0 else 0.0
    rows = []
    for share in np.linspace(0.0, 1.0, max(1, math.ceil(height / spacing)) + 1):
        count = max(1, math.ceil((1 - share) * longest / spacing)) if share < 1 else 0
        along = np.linspace(0.0, 1.0, count + 1)[:, None]
        rows.append((a + share * (c - a)) * (1 - along) + (b + share * (c - b)) * along)
    return np.concatenate(rows)
