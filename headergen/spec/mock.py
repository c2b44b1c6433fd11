"""The print settings of the fit mock, as given in a spec."""

from __future__ import annotations

from typing import Literal, Self

from pydantic import Field, model_validator

from headergen.model import primary_name, secondary_name
from headergen.spec.entry import Entry, needs_direction
from headergen.spec.fields import (
    BedSizes,
    Counted,
    Direction,
    Hole,
    Lean,
    Name,
    Number,
    Point,
    PrintGap,
    PrintSpigot,
    PrintTubeWall,
    PrintWall,
    complain,
)


class JointEntry(Entry):
    """A joint between two pieces of a primary, or of the tube after a collector."""

    primary: Counted | None = Field(default=None, description="number of the primary")
    secondary: Name | None = Field(default=None, description="or the collector whose outlet the tube begins on")
    joint: Counted = Field(description="number of the joint along it, as in shop.json: 1 follows the first piece")

    @model_validator(mode="after")
    def _of_one_tube(self) -> Self:
        if (self.primary is None) == (self.secondary is None):
            raise complain("a joint is of one tube: give primary or secondary, and not both")
        return self

    @property
    def tube(self) -> str:
        """The name of its run."""
        return secondary_name(str(self.secondary)) if self.primary is None else primary_name(self.primary)


class DatumEntry(Entry):
    """A reference point on the chassis or the bench that locating plates are bolted or strapped to."""

    name: Name = Field(description="what it is called; the sheet names it")
    at: Point = Field(description="the middle of its hole")
    hole: Hole = Field(default=8.5, description="diameter of the hole in the plates [8.5 mm]")


class TableEntry(Entry):
    """A flat face: of the welding table, or of the chassis."""

    origin: Point = Field(description="a point on it")
    normal: Direction = Field(description="direction it faces, toward the header")

    @model_validator(mode="after")
    def _faces(self) -> Self:
        needs_direction(self.normal, "normal")
        return self


class MockEntry(Entry):
    """The full-size print of the header; every value may be left out. Sizes of bed and joints are in millimetres unless
    a unit stands there, in inch files too."""

    bed: BedSizes = Field(
        default=(220.0, 220.0, 250.0),
        description="[x, y, height] the printer has, in mm unless a unit is given [220, 220, 250]",
    )
    gap: PrintGap = Field(default=0.2, description="gap to each side between spigot and socket, in mm [0.2]")
    wall: PrintWall = Field(default=2.0, description="least wall at joints and of plates, in mm, 2 or more [2]")
    tube_wall: PrintTubeWall = Field(
        default=1.2, description="wall of the tubes between their joints, in mm, 1 or more: two lines of 0.6 [1.2]"
    )
    spigot: PrintSpigot = Field(default=10.0, description="length of the spigots, in mm [10]")
    lean: Lean = Field(
        default=50.0, description="overhang angle from the vertical that the printer manages without support [50]"
    )
    straights: Literal["printed", "steel"] = Field(
        default="printed",
        description="steel: straight pieces, and legs of bends from 60 mm on, are real tube, cut by the mock's sheet; "
        "the rest is printed [printed]",
    )
    flange: bool = Field(default=True, description="false: no flange plates, the tubes start at the face of the head")
    density: Number = Field(default=1.24, ge=0.1, description="of the plastic, in g/cm³ [1.24]")
    plates: bool = Field(default=True, description="false: no locating plates")
    collector: bool = Field(default=False, description="true: the collectors too [false]")
    cut_guides: bool = Field(default=False, description="true: also a guide for each cut that is not square [false]")
    saddles: bool = Field(
        default=False,
        description="true: also a saddle for each joint of the steel, which holds its two pieces to be tacked [false]",
    )
    weight: Number = Field(
        default=500.0, ge=0.0, le=20_000.0, description="hung on the end of each primary beside its own, in grams [500]"
    )
    table: TableEntry | None = Field(default=None, description="a flat face that the locating plates rest on")
    datums: list[DatumEntry] = Field(default=[], description="reference points that the plates have holes for")
    without_key: list[JointEntry] = Field(default=[], description="joints that stay free to turn")
    steel_after: list[JointEntry] = Field(
        default=[],
        description="joints at which a steel piece is tried after a printed one: a steel adapter is printed for each",
    )

    @model_validator(mode="after")
    def _upright(self) -> Self:
        if self.lean < 20.0:
            raise complain("a lean of less than 20 degrees would split bends into pieces too small", at=("lean",))
        return self

    @model_validator(mode="after")
    def _once(self) -> Self:
        for key in ("without_key", "steel_after"):
            joints = [(entry.tube, entry.joint) for entry in getattr(self, key)]
            for index, (tube, joint) in enumerate(joints):
                if (tube, joint) in joints[:index]:
                    raise complain(f"joint {joint} of {tube} is listed twice", at=(key, index))
        names = [str(datum.name).casefold() for datum in self.datums]
        for index, datum in enumerate(self.datums):
            if names[index] in names[:index]:
                raise complain(f"another datum is called {datum.name} as well", at=("datums", index, "name"))
        return self
