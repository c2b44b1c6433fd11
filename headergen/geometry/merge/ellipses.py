"""Unions of ellipses: their outlines as arcs, and their areas in closed form.

A section of a bundle of tubes is a union of ellipses, one of each tube. Its outline is made of the arcs that are inside
no other ellipse, each run counter-clockwise about its own ellipse, so that holes are run clockwise. Millimetres and
radians.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from headergen.geometry.arrays import Array
from headergen.model import Vec2

POLISH = 4  # Newton steps
SAME_PLACE = 1e-7  # radians of parameter: a shorter arc is a corner
WITHIN = 1e-9  # of a unit circle's radius: a place this near an outline counts as on it
MEETS = 1e-4  # mm within which the ends of arcs meet

LOOKS = np.linspace(0.0, 2 * math.pi, 257)
_LOOKED = np.column_stack([np.ones(257), np.cos(LOOKS), np.sin(LOOKS), np.cos(2 * LOOKS), np.sin(2 * LOOKS)])


@dataclass(frozen=True)
class Ellipse:
    """`along`: the unit direction of the semi-axis `a`; `b` is the semi-axis 90° on from it."""

    centre: Vec2
    along: Vec2
    a: float
    b: float

    def at(self, t: float) -> Vec2:
        """The place at parameter `t`, counted from `along`."""
        u, v = self.a * math.cos(t), self.b * math.sin(t)
        (x, y), (c, s) = self.centre, self.along
        return x + u * c - v * s, y + u * s + v * c

    def places(self, t: Array) -> Array:
        """As `at`, for parameters (n,): (n, 2)."""
        u, v = self.a * np.cos(t), self.b * np.sin(t)
        c, s = self.along
        return np.column_stack([self.centre[0] + u * c - v * s, self.centre[1] + u * s + v * c])

    def as_circle(self, place: Vec2) -> Vec2:
        """A place, where this ellipse is the unit circle about the origin."""
        x, y, (c, s) = place[0] - self.centre[0], place[1] - self.centre[1], self.along
        return (x * c + y * s) / self.a, (y * c - x * s) / self.b

    def is_in(self, place: Vec2) -> bool:
        """Whether a place is inside the ellipse, off its edge."""
        x, y = self.as_circle(place)
        return x * x + y * y < 1 - WITHIN

    def grown(self, by: float) -> Ellipse:
        """With both semi-axes multiplied."""
        return replace(self, a=by * self.a, b=by * self.b)


@dataclass(frozen=True)
class EllipseArc:
    """An arc of the ellipse number `tube`, from parameter `start` to `end`, which is greater."""

    tube: int
    ellipse: Ellipse
    start: float
    end: float

    @property
    def ends(self) -> tuple[Vec2, Vec2]:
        return self.ellipse.at(self.start), self.ellipse.at(self.end)

    def points(self, steps: int) -> Array:
        """(steps + 1, 2) places along it."""
        return self.ellipse.places(np.linspace(self.start, self.end, steps + 1))

    @property
    def area(self) -> float:
        """½∮(x dy − y dx) along it (Green's theorem): ½(ab·Δt + c × (end − start))."""
        (x0, y0), (x1, y1) = self.ends
        cx, cy = self.ellipse.centre
        return (self.ellipse.a * self.ellipse.b * (self.end - self.start) + cx * (y1 - y0) - cy * (x1 - x0)) / 2


Loop = tuple[EllipseArc, ...]


def crossings(one: Ellipse, others: Sequence[Ellipse]) -> list[float]:
    """The parameters of `one`, from 0 to 2π and in order, at which it crosses any of the others.

    Where another is the unit circle, `one` is d + A·cos t + B·sin t, and its power |d + A·cos t + B·sin t|² − 1 changes
    sign. Overlaps narrower than a step of LOOKS are missed: they are shallower than 2·10⁻⁴ of the radius.
    """
    found = list[float]()
    for other in others:
        if math.dist(one.centre, other.centre) < max(one.a, one.b) + max(other.a, other.b):
            found += _changes(_power_of(one, other))
    return sorted(found)


Power = tuple[float, float, float, float, float]  # level, and factors of cos t, sin t, cos 2t, sin 2t


def _power_of(one: Ellipse, other: Ellipse) -> Power:
    dx, dy = other.as_circle(one.centre)
    (ax, ay), (bx, by) = other.as_circle(one.at(0.0)), other.as_circle(one.at(math.pi / 2))
    ax, ay, bx, by = ax - dx, ay - dy, bx - dx, by - dy
    squares = ax * ax + ay * ay, bx * bx + by * by
    level = dx * dx + dy * dy - 1 + sum(squares) / 2
    crosswise = 2 * (dx * ax + dy * ay), 2 * (dx * bx + dy * by)
    return level, *crosswise, (squares[0] - squares[1]) / 2, ax * bx + ay * by


def _changes(power: Power) -> list[float]:
    values = _LOOKED @ np.array(power)
    places = np.flatnonzero((values[:-1] < 0.0) != (values[1:] < 0.0))
    low, high = values[places], values[places + 1]
    t = LOOKS[places] + (LOOKS[1] - LOOKS[0]) * low / (low - high)
    level, p, q, r, s = power
    for _ in range(POLISH):
        value = level + p * np.cos(t) + q * np.sin(t) + r * np.cos(2 * t) + s * np.sin(2 * t)
        slope = -p * np.sin(t) + q * np.cos(t) - 2 * r * np.sin(2 * t) + 2 * s * np.cos(2 * t)
        t = t - value / np.where(np.abs(slope) > WITHIN, slope, np.inf)
    found: list[float] = (t % (2 * math.pi)).tolist()
    return found


def outline(ellipses: Sequence[Ellipse]) -> list[EllipseArc]:
    """The arcs of the outline of a union. Two equal ellipses count once."""
    pieces = []
    for k, one in enumerate(ellipses):
        others = [each for i, each in enumerate(ellipses) if i != k and not (i > k and each == one)]
        cuts = crossings(one, others)
        spans = list(zip(cuts, [*cuts[1:], cuts[0] + 2 * math.pi], strict=True)) if cuts else [(0.0, 2 * math.pi)]
        for start, end in spans:
            middle = one.at((start + end) / 2)
            if end - start > SAME_PLACE and not any(other.is_in(middle) or other == one for other in others):
                pieces.append(EllipseArc(k, one, start, end))
    return pieces


def union_area(ellipses: Sequence[Ellipse]) -> float:
    """Area of a union, mm²; holes are left out of it."""
    return math.fsum(piece.area for piece in outline(ellipses))


def loops(pieces: Sequence[EllipseArc]) -> list[Loop]:
    """The closed curves of an outline, each with its arcs in order. Raises ValueError where an arc ends nowhere."""
    left, found = list(pieces), list[Loop]()
    while left:
        loop = [left.pop(0)]
        first = loop[0].ends[0]
        while math.dist(loop[-1].ends[1], first) > MEETS:
            end = loop[-1].ends[1]
            after = next((piece for piece in left if math.dist(piece.ends[0], end) < MEETS), None)
            if after is None:
                raise ValueError("an arc of an outline ends nowhere")
            left.remove(after)
            loop.append(after)
        found.append(tuple(loop))
    return found


def loop_area(loop: Loop) -> float:
    """Its area, mm²; negative for a hole."""
    return math.fsum(piece.area for piece in loop)
