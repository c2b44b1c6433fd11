"""Openings in plates as given in a spec: shapes and bolt holes, on a head's flange or on the plate of an outlet."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Literal, Self

from pydantic import Field, model_validator

from headergen.geometry.plate.outline import is_convex, polygon
from headergen.model import PortShape
from headergen.spec.entry import Entry, exactly_one, one_of
from headergen.spec.fields import CorneredSize, Hole, Opening, OvalSize, Spot, complain

SHAPES: tuple[Literal["round", "oval", "rectangle", "d", "free"], ...] = ("round", "oval", "rectangle", "d", "free")


class ShapeEntry(Entry):
    """The opening in the head: one of round, oval, rectangle, d, free."""

    model_config = one_of("round", "oval", "rectangle", "d", "free", together={})

    round: Opening | None = Field(default=None, description="Diameter of a round opening.")
    oval: OvalSize | None = Field(default=None, description="Sizes of an oval opening: [width, height].")
    rectangle: CorneredSize | None = Field(
        default=None, description="Sizes of a rectangular opening: [width, height, corner radius]."
    )
    d: CorneredSize | None = Field(
        default=None,
        description="Sizes of a D-shaped opening, flat below, round above: [width, height, corner radius].",
    )
    free: list[Spot] | None = Field(
        default=None, min_length=3, description="Corners of any other opening, from the port's middle: [[x, y], …]."
    )

    @property
    def kind(self) -> Literal["round", "oval", "rectangle", "d", "free"]:
        return next(kind for kind in SHAPES if getattr(self, kind) is not None)

    @model_validator(mode="after")
    def _one(self) -> Self:
        kind = exactly_one(self, SHAPES, "the shape of a port")
        size = self.rectangle or self.d
        if size is not None and 2 * size[2] > min(size[:2]) + 1e-9:
            raise complain("the corner radius is more than half of the opening", at=(kind, 2))
        if self.free is not None and not _goes_round(self.free):
            raise complain("the corners must go once round the port's middle without turning in", at=("free",))
        return self


def _goes_round(corners: list[tuple[float, float]]) -> bool:
    """Whether the corners form a convex opening around the port's centre."""
    ways = [a[0] * b[1] - b[0] * a[1] for a, b in pairwise([*corners, corners[0]])]
    one_way = all(way > 0 for way in ways) or all(way < 0 for way in ways)
    return one_way and is_convex(polygon(corners))


class BoltEntry(Entry):
    """One bolt hole of the flange."""

    at: Spot = Field(description="The middle of the bolt on the flange face: [x, y].")
    hole: Hole = Field(description="Diameter of the bolt hole.")


def shape_of(entry: ShapeEntry, turn: float = 0.0) -> PortShape:
    """The shape, turned by `turn` degrees."""
    size = (entry.round,) if entry.round is not None else entry.oval or entry.rectangle or entry.d or ()
    return PortShape(entry.kind, size, tuple(entry.free or ()), math.radians(turn))
