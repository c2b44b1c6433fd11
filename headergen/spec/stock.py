"""The entries of a stock file: bends, elbows and straights as sold, and the shop's measurements of them."""

from __future__ import annotations

import math
from typing import Annotated, Any, Self

from pydantic import BeforeValidator, Field, ValidationInfo, WithJsonSchema, model_validator

from headergen.model import MeasuredBend, Stock, StockBend, StockStraight, StockTube
from headergen.model.stock import SAME_TUBE, SAME_WALL
from headergen.spec.entry import Entry, given
from headergen.spec.fields import (
    BendAngle,
    Diameter,
    Legs,
    Name,
    Number,
    OvalSize,
    Percent,
    Radius,
    Step,
    Wall,
    complain,
    unit_of,
)
from headergen.spec.units import Unit, described, length_text, shown

RADIUS_WITHIN = 0.10  # share by which a bend's radius may differ from its nominal one
ANGLE_WITHIN = 5.0  # degrees, the same for its angle
FLATTEST = 0.75  # of the outside diameter: smallest diameter of a flattened bend; an aircraft mechanic's text
MOST_PIECES = 9999


def _on_hand(value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise complain(f"a whole number is required here, not {described(value)}", "count the pieces on the shelf")
    if not 0 <= value <= MOST_PIECES:
        raise complain(f"{shown(value)} is not a number of pieces: from 0 to {MOST_PIECES}")
    return value


OnHand = Annotated[int, BeforeValidator(_on_hand), WithJsonSchema({"type": "integer", "minimum": 0})]


class MeasuredBendEntry(Entry):
    """What was measured on the bends as they came in; what was not measured is taken as sold."""

    radius: Radius | None = Field(default=None, description="Centre-line radius, as measured.")
    angle: BendAngle | None = Field(default=None, description="Angle in degrees, as measured.")
    oval: OvalSize | None = Field(
        default=None, description="Outside diameters across the middle of the bend, by caliper: [long, short]."
    )
    legs: Legs | None = Field(
        default=None, description="Lengths of the straights at its ends, as measured: [one, other]."
    )

    @model_validator(mode="after")
    def _something(self) -> Self:
        if not given(self, ("radius", "angle", "oval", "legs")):
            raise complain("nothing measured is given", "give radius, angle, oval or legs, or take measured out")
        if self.oval is not None and self.oval[1] > self.oval[0]:
            raise complain("the second diameter of the oval is the larger one", "write [long, short]", at=("oval",))
        return self


class StockBendEntry(Entry):
    """A bend on the shelf: a U, a J, a mandrel bend with legs, or a weld elbow without."""

    radius: Radius = Field(description="Centre-line radius of the bend.")
    angle: BendAngle = Field(description="Angle in degrees, the most that can be cut from it.")
    legs: Legs = Field(
        default=(0.0, 0.0),
        description=("Lengths of the straights it carries at its ends: [one, other]. Default: [0, 0], a weld elbow."),
    )
    price: Number | None = Field(default=None, ge=0, description="Price of one bend, in the file's currency.")
    count: OnHand | None = Field(
        default=None, description="Number on hand; more are bought where a price is given. Default: not counted."
    )
    measured: MeasuredBendEntry | None = Field(
        default=None, description="Radius, angle, legs and ovality that the shop measured on such bends."
    )

    @model_validator(mode="after")
    def _is_that_bend(self, info: ValidationInfo) -> Self:
        """The measurements must fit a bend of this name; if they differ more, one of the two is wrong."""
        own, unit = self.measured, unit_of(info) or "mm"
        if own is None:
            return self
        if own.radius is not None and abs(own.radius - self.radius) > RADIUS_WITHIN * self.radius:
            named = length_text(self.radius, unit)
            said = f"a radius of {length_text(own.radius, unit)} was measured on a bend of {named}"
            raise complain(
                said, "measure to the middle of the tube, or list it as another bend", at=("measured", "radius")
            )
        if own.angle is not None and abs(own.angle - self.angle) > ANGLE_WITHIN:
            said = f"{own.angle:g} degrees were measured on a bend of {self.angle:g} degrees"
            raise complain(said, "measure again, or list it as another bend", at=("measured", "angle"))
        return self


class StockStraightEntry(Entry):
    """A straight length of tube on the shelf."""

    length: Step = Field(description="Length of the straight tube as bought.")
    price: Number | None = Field(default=None, ge=0, description="Price of one length, in the file's currency.")
    count: OnHand | None = Field(
        default=None, description="Number on hand; more are bought where a price is given. Default: not counted."
    )


class StockSizeEntry(Entry):
    """The bends and straight lengths of one more tube."""

    outside_diameter: Diameter = Field(description="Outside diameter of the tube that these are of.")
    wall: Wall | None = Field(default=None, description="Wall of that tube. Default: not said, and taken for any wall.")
    oval: Percent | None = Field(
        default=None,
        description="Percent of the diameter by which its bends are oval, where not measured. Default: as above.",
    )
    bends: list[StockBendEntry] = Field(default=[], description="Bends of this tube that are on the shelf.")
    straights: list[StockStraightEntry] = Field(default=[], description="Straight lengths of this tube on the shelf.")

    @model_validator(mode="after")
    def _of_that_tube(self, info: ValidationInfo) -> Self:
        _ovals_fit(self.outside_diameter, self.bends, unit_of(info) or "mm")
        if not self.bends and not self.straights:
            raise complain("no stock of this tube is listed", "list bends or straights, or take this size out")
        return self


class StockFile(Entry):
    """The bends and straight lengths that are on the shelf, of one tube, or of several under sizes."""

    units: Unit = Field(description="Unit of every plain length in this file: mm or in.")
    outside_diameter: Diameter | None = Field(
        default=None, description="Outside diameter of the tube that the stock is of."
    )
    currency: Name = Field(default="", description="Currency of all prices in this file.")
    oval: Percent = Field(
        default=3.0,
        description=(
            "Percent of the diameter by which bends are oval, where not measured: (largest - smallest) / "
            "nominal. Default: 3."
        ),
    )
    bends: list[StockBendEntry] = Field(default=[], description="Bends that are on the shelf.")
    straights: list[StockStraightEntry] = Field(default=[], description="Straight lengths on the shelf.")

    sizes: list[StockSizeEntry] = Field(
        default=[], description="Stock of further tubes, each with its outside diameter, for tubes that grow."
    )

    @model_validator(mode="after")
    def _of_that_tube(self, info: ValidationInfo) -> Self:
        if self.outside_diameter is not None:
            _ovals_fit(self.outside_diameter, self.bends, unit_of(info) or "mm")
        return self

    @model_validator(mode="after")
    def _each_once(self, info: ValidationInfo) -> Self:
        """A tube that is listed twice would have two ovals, and its order two lists."""
        own: list[tuple[float, float | None]] = []
        own += [] if self.outside_diameter is None else [(self.outside_diameter, None)]
        for index, size in enumerate(self.sizes):
            for wide, wall in own:
                same_wall = wall is None or size.wall is None or abs(wall - size.wall) <= SAME_WALL
                if abs(wide - size.outside_diameter) <= SAME_TUBE and same_wall:
                    tube = length_text(size.outside_diameter, unit_of(info) or "mm")
                    hint, at = "put both into one list, or give each its wall", ("sizes", index, "outside_diameter")
                    raise complain(f"stock of tube {tube} is listed already", hint, at=at)
            own.append((size.outside_diameter, size.wall))
        return self


def _ovals_fit(of: float, bends: list[StockBendEntry], unit: Unit) -> None:
    """No measured oval is one that tube of this outside diameter (mm) cannot be bent to."""
    for index, bend in enumerate(bends):
        oval = bend.measured.oval if bend.measured is not None else None
        if oval is not None and not FLATTEST * of <= oval[1] <= of <= oval[0] <= (2 - FLATTEST) * of:
            said = f"an oval of {_pair(oval, unit)} is none that tube of {length_text(of, unit)} bends to"
            hint = "the long diameter is more than the tube's, the short one less, neither by over a quarter"
            raise complain(said, hint, at=("bends", index, "measured", "oval"))


def _pair(oval: tuple[float, float], unit: Unit) -> str:
    return f"{length_text(oval[0], unit)} by {length_text(oval[1], unit)}"


def stock_from(entry: StockFile, file: str) -> Stock:
    """The shelf in a stock file; `file` is its name in the spec."""
    own, oval = entry.outside_diameter, entry.oval / 100
    first = None if own is None else StockTube(own, None, oval)
    sizes = [(first, entry.bends, entry.straights)]
    for size in entry.sizes:
        tube = StockTube(size.outside_diameter, size.wall, oval if size.oval is None else size.oval / 100)
        sizes.append((tube, size.bends, size.straights))
    return Stock(
        tuple(_bend(bend, tube) for tube, bends, _ in sizes for bend in bends),
        tuple(_straight(each, tube) for tube, _, straights in sizes for each in straights),
        entry.currency,
        file,
        own,
        oval,
    )


def _bend(entry: StockBendEntry, tube: StockTube | None) -> StockBend:
    angle, measured = math.radians(entry.angle), _measured(entry.measured)
    return StockBend(entry.radius, angle, entry.legs, entry.price, entry.count, measured, tube)


def _straight(entry: StockStraightEntry, tube: StockTube | None) -> StockStraight:
    return StockStraight(entry.length, entry.price, entry.count, tube)


def _measured(entry: MeasuredBendEntry | None) -> MeasuredBend | None:
    if entry is None:
        return None
    angle: Any = None if entry.angle is None else math.radians(entry.angle)
    return MeasuredBend(entry.radius, angle, entry.oval, entry.legs)
