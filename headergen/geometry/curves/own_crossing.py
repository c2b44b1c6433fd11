"""Whether a tube runs into itself: two places far apart along it are nearer than the tube is wide.

Within π·r along the tube the bend radius alone decides (a bend of radius ≥ r does not meet itself). Beyond that, the
centreline distance must be at least the outside diameter.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.curves.body import Body, points_along

SAMPLE = 2.0  # mm; a crossing narrower than this along both legs is under half a sample deep
ZOOM_ROUNDS = 8
COARSE = 0.25  # radii between the samples that show that most tubes are far from themselves


Radii = Callable[[Array], Array]  # outside radii at lengths (n,)


def nearest_own_places(body: Body, radii: Radii | None = None) -> tuple[float, float, float] | None:
    """The smallest centreline distance of two places at least π·radius apart along a body, and their two lengths.

    With `radii`, of a tube that grows: the distance at the two places whose skins are nearest. None where the body is
    shorter than that.
    """
    low, high = body.span
    apart = math.pi * body.radius
    if high - low <= apart:
        return None
    at = np.linspace(low, high, math.ceil((high - low) / SAMPLE) + 1)
    first, second = _nearest_pair(body, (at, at), apart, radii)
    step = at[1] - at[0]
    for _ in range(ZOOM_ROUNDS):
        fine = step * np.linspace(-1.0, 1.0, 9)
        around = np.clip(first + fine, low, high), np.clip(second + fine, low, high)
        first, second = _nearest_pair(body, around, apart, radii)
        step /= 4
    a, b = points_along(body, np.array([first, second]))
    return float(np.linalg.norm(a - b)), first, second


def is_far_from_itself(body: Body, reach: float) -> bool:
    """Whether any two places at least π·radius apart along a body are certainly more than `reach` from each other.

    Each place is within half a step of a sample. False proves nothing.
    """
    low, high = body.span
    at = np.linspace(low, high, math.ceil((high - low) / (COARSE * body.radius)) + 1)
    step = at[1] - at[0]
    points = points_along(body, at)
    off = ((points[:, None] - points[None]) ** 2).sum(axis=2)
    return bool((off[at[None] - at[:, None] >= math.pi * body.radius - step] > (reach + step) ** 2).all())


def _nearest_pair(body: Body, places: tuple[Array, Array], apart: float, radii: Radii | None) -> tuple[float, float]:
    firsts, seconds = places
    a, b = points_along(body, firsts), points_along(body, seconds)
    off = ((a[:, None] - b[None]) ** 2).sum(axis=2)
    if radii is not None:
        off = np.sqrt(off) - radii(firsts)[:, None] - radii(seconds)[None]
    off[seconds[None, :] - firsts[:, None] < apart - 1e-9] = np.inf
    i, j = np.unravel_index(int(np.argmin(off)), off.shape)
    return float(firsts[i]), float(seconds[j])
