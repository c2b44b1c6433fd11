"""The direction in which to move a thing that is too near, and its wording."""

from __future__ import annotations

import math

from headergen.geometry.frames import norm, scaled, subtract, unit
from headergen.model import Header, Place, Straight, Vec
from headergen.words.numbers import INCH
from headergen.words.say import say_length, say_way

POINTS_APART = 1e-6  # mm; nearer points give no direction


def way_off(points: tuple[Vec, Vec], value: float) -> Vec | None:
    """The unit direction in which the gap of the thing with the first point grows fastest.

    Exact where the other thing is flat or convex: it stays behind the plane through its nearest point, and the gap
    grows by the component of a shift away from that plane. None where the points give no direction.
    """
    between = subtract(points[0], points[1])
    size = norm(between)
    return scaled(between, math.copysign(1 / size, value)) if size >= POINTS_APART else None


def say_shift(shift: Vec, units: str) -> str:
    """A shift in words for use beside the car, rounded up: "8.8 mm up", "8.8 mm up and forward"."""
    last_digit = 0.001 * INCH if units == "in" else 0.1
    enough = math.ceil(norm(shift) / last_digit - 1e-6) * last_digit
    return f"{say_length(enough, units)} {say_way(unit(shift))}"


def may_give_way(header: Header, place: Place) -> bool:
    """Whether a primary can be moved there: its first straight is fixed to the port's axis, its last to the bore's."""
    steps = header.run(place.run).steps
    return not (place.step in (1, len(steps)) and isinstance(steps[place.step - 1], Straight))
