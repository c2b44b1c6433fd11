"""Frames, planes, the steps of a path, and the exact lines and arcs made of them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate
from typing import Literal

Vec = tuple[float, float, float]
Vec2 = tuple[float, float]


@dataclass(frozen=True)
class Frame:
    """A right-handed set of unit axes at a point. For ports and bores z is the direction of travel."""

    origin: Vec
    x: Vec
    y: Vec
    z: Vec


@dataclass(frozen=True)
class Plane:
    """A half space: everything behind the plane (against its normal) must not be touched."""

    origin: Vec
    normal: Vec


@dataclass(frozen=True)
class Growth:
    """A run grows to a larger tube within a straight.

    By slip, the straight is the overlap: the larger tube begins where the straight does, and the smaller one ends where
    it ends. By cone, the straight is a cone from the smaller tube to the larger. `at`: the least and the greatest
    length from the start of the run at which the bore may grow; None: anywhere.
    """

    outside_diameter: float
    wall: float
    by: Literal["slip", "cone"]
    at: tuple[float, float] | None = None


@dataclass(frozen=True)
class Straight:
    length: float
    growth: Growth | None = None


@dataclass(frozen=True)
class Bend:
    """An arc. `rotation` turns the bend plane about the incoming travel direction, right-hand positive."""

    angle: float
    radius: float
    rotation: float


Step = Straight | Bend


@dataclass(frozen=True)
class Line:
    """A straight segment of a centreline; `normal` is carried along as the zero of the next bend's rotation."""

    step: int
    start: Vec
    tangent: Vec
    normal: Vec
    length: float


@dataclass(frozen=True)
class Arc:
    """A bent segment: from `start` along `tangent`, with its centre at `start + radius * normal`."""

    step: int
    start: Vec
    tangent: Vec
    normal: Vec
    radius: float
    angle: float

    @property
    def length(self) -> float:
        return self.radius * self.angle


Segment = Line | Arc


@dataclass(frozen=True)
class Centreline:
    """The exact centreline of one tube: segments in travel order, each starting where the one before ends."""

    run: str  # its name
    segments: tuple[Segment, ...]

    @property
    def length(self) -> float:
        return sum(segment.length for segment in self.segments)

    @cached_property
    def starts(self) -> tuple[float, ...]:
        """Length from the start at which each segment starts, then the developed length."""
        return tuple(accumulate((segment.length for segment in self.segments), initial=0.0))
