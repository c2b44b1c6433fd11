"""Camera positions and distances, and the projection of points into a picture."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from headergen.geometry.frames import PARALLEL, add, any_normal, cross, norm, rotated, scaled, subtract, unit
from headergen.geometry.mesh.triangles import Points
from headergen.model import Vec

UP: Vec = (0.0, 0.0, 1.0)  # ISO 8855
VIEW_ANGLE = math.radians(18)  # of the picture's height: a long lens, which keeps the proportions of nested tubes
FILL = 0.90  # share of the picture that the header spans in the tighter direction
SWINGS = (-52, -38, -24, 24, 38, 52)  # degrees of azimuth from straight in front of the flange
RISES = (18, 26, 34)  # degrees of elevation


@dataclass(frozen=True)
class View:
    """A camera: its position and its target. With `half_height` (mm) the projection is parallel."""

    position: Vec
    focus: Vec
    up: Vec = UP
    half_height: float | None = None


def other_directions(outward: Vec) -> list[Vec]:
    """Unit directions from everywhere above the horizon, for what is not visible from in front of the flange."""
    level = (outward[0], outward[1], 0.0)
    front = unit(level) if norm(level) > 0.1 else any_normal(UP)
    sides = [rotated(front, UP, math.radians(swing)) for swing in range(0, 360, 30)]
    lifts = [math.radians(rise) for rise in (6, 28, 55)]
    return [add(scaled(side, math.cos(lift)), UP, math.sin(lift)) for side in sides for lift in lifts]


def view_directions(outward: Vec) -> list[Vec]:
    """Unit directions from the header to possible cameras: round the flange normal `outward`, above the horizon."""
    level = (outward[0], outward[1], 0.0)
    front = unit(level) if norm(level) > 0.1 else any_normal(UP)
    sides = [rotated(front, UP, math.radians(swing)) for swing in SWINGS]
    lifts = [math.radians(rise) for rise in RISES]
    return [add(scaled(side, math.cos(lift)), UP, math.sin(lift)) for side in sides for lift in lifts]


def picture_axes(direction: Vec, up: Vec) -> tuple[Vec, Vec]:
    """Right and upward unit directions of a picture seen from the unit `direction`."""
    right = cross(up, direction)
    right = unit(right) if norm(right) > PARALLEL else any_normal(direction)
    return right, cross(direction, right)


def fitted(points: Points, direction: Vec, aspect: float) -> View:
    """The view from `direction` in which the (n, 3) points span FILL of a picture `aspect` wide by 1 high, centred.

    A point x to the right and z toward the camera is inside if |x − c| ≤ t·(d − z), with t the tangent of half the view
    angle. The largest values of z + x/t and of z − x/t give the middle c and the distance d.
    """
    toward = points @ direction
    half = FILL * math.tan(VIEW_ANGLE / 2)
    centre, distance = (0.0, 0.0, 0.0), 0.0
    for axis, t in zip(picture_axes(direction, UP), (half * aspect, half), strict=True):
        high = float(np.max(toward + points @ axis / t))
        low = float(np.max(toward - points @ axis / t))
        centre = add(centre, axis, (high - low) * t / 2)
        distance = max(distance, (high + low) / 2)
    middle = float(toward.max() + toward.min()) / 2
    return View(add(centre, direction, distance), add(centre, direction, middle))


def projected(points: Points, view: View, size: tuple[int, int]) -> Points:
    """(n, 2) column and row in pixels, from the top left, of (n, 3) points in front of a perspective camera."""
    direction = unit(subtract(view.position, view.focus))
    right, upward = picture_axes(direction, view.up)
    local = points - np.array(view.position)
    scale = size[1] / 2 / math.tan(VIEW_ANGLE / 2) / -(local @ direction)
    return np.stack([size[0] / 2 + local @ right * scale, size[1] / 2 - local @ upward * scale], axis=1)
