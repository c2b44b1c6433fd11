"""Which way to move a thing that is too near, along one axis of the engine, and by how much."""

from __future__ import annotations

import math
from collections.abc import Iterator

from headergen.checks.words import INCH, say_length, say_way
from headergen.geometry.frames import norm, scaled, subtract, unit
from headergen.model import Header, Place, Straight, Vec

POINTS_APART = 1e-6  # mm; nearer, the two points give no direction
SLANTING = 0.4  # of the gap an axis must open a millimetre moved along it; what opens less is no good advice


def ways_apart(points: tuple[Vec, Vec], value: float, required: float) -> Iterator[Vec]:
    """Shifts of the thing that holds the first point, each along one axis, that make the gap as wide as required.

    The shortest comes first. Exact where the other is flat or convex: it stays behind the plane through its nearest
    point, and the gap grows by the part of the shift that leads away from that plane. None when the points give no
    direction.
    """
    between = subtract(points[0], points[1])
    size = norm(between)
    if size < POINTS_APART:
        return
    away = scaled(between, math.copysign(1 / size, value))
    for axis in sorted(range(3), key=lambda k: -abs(away[k])):
        if abs(away[axis]) >= SLANTING:
            shift = (required - value) / away[axis]
            yield (shift * (axis == 0), shift * (axis == 1), shift * (axis == 2))


def say_shift(shift: Vec, units: str) -> str:
    """A shift along one axis as one would say it beside the car, rounded up: "8.8 mm up"."""
    last_digit = 0.001 * INCH if units == "in" else 0.1
    enough = math.ceil(norm(shift) / last_digit - 1e-6) * last_digit
    return f"{say_length(enough, units)} {say_way(unit(shift))}"


def may_give_way(header: Header, place: Place) -> bool:
    """Whether a primary can be moved there: its first straight stands on the port's axis, its last on the bore's."""
    steps = next(primary.steps for primary in header.primaries if primary.number == place.primary)
    return not (place.step in (1, len(steps)) and isinstance(steps[place.step - 1], Straight))
