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

    primary: Counted | None = Field(default=None, description="Number of the primary.")
    secondary: Name | None = Field(
        default=None, description="Name of the collector whose outlet the tube begins on, where it is no primary."
    )
    joint: Counted = Field(
        description="Number of the joint along the tube, as in shop.json: 1 follows the first piece."
    )

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

    name: Name = Field(description="Name of the datum, as it stands on the sheet.")
    at: Point = Field(description="The middle of its hole, in engine axes.")
    hole: Hole = Field(default=8.5, description="Diameter of its hole in the plates. Default: 8.5 mm.")


class TableEntry(Entry):
    """A flat face: of the welding table, or of the chassis."""

    origin: Point = Field(description="A point on the flat face.")
    normal: Direction = Field(description="Direction that the face looks, toward the header.")

    @model_validator(mode="after")
    def _faces(self) -> Self:
        needs_direction(self.normal, "normal")
        return self


class MockEntry(Entry):
    """The full-size print of the header; every value may be left out. Sizes of bed and joints are in millimetres unless
    a unit stands there, in inch files too."""

    bed: BedSizes = Field(
        default=(220.0, 220.0, 250.0),
        description=(
            "Size of the printer's build volume, in mm unless a unit is given: [x, y, height]. Default: "
            "[220, 220, 250]."
        ),
    )
    gap: PrintGap = Field(default=0.2, description="Gap to each side between spigot and socket, in mm. Default: 0.2.")
    wall: PrintWall = Field(
        default=2.0,
        description=(
            "Least wall thickness of spigots and of the rings of their sockets, in mm, 2 or more, measured level as "
            "they are printed. Default: 2."
        ),
    )
    tube_wall: PrintTubeWall = Field(
        default=1.2,
        description=(
            "Wall thickness of the tubes between their joints and of steel adapters, in mm, 1 or more, measured level "
            "as they are printed: two lines of 0.6. Default: 1.2."
        ),
    )
    spigot: PrintSpigot = Field(default=10.0, description="Length of the spigots, in mm. Default: 10.")
    lean: Lean = Field(
        default=50.0,
        description=(
            "Overhang angle from the vertical that the printer manages without support, in degrees. Default: 50."
        ),
    )
    straights: Literal["printed", "steel"] = Field(
        default="printed",
        description=(
            "What straight pieces are. steel: real tube, cut by the mock's sheet, and the rest is printed. "
            "Default: printed."
        ),
    )
    flange: bool = Field(
        default=True, description="Whether flange plates are printed. false: the tubes start at the face of the head."
    )
    density: Number = Field(default=1.24, ge=0.1, description="Density of the plastic, in g/cm³. Default: 1.24.")
    plates: bool = Field(default=True, description="Whether locating plates are printed. false: none.")
    collector: bool = Field(default=False, description="Whether collectors are printed too. Default: false.")
    cut_guides: bool = Field(
        default=False, description="Whether there is a guide for each cut that is not square. Default: false."
    )
    saddles: bool = Field(
        default=False,
        description=(
            "Whether there is a saddle for each joint of the steel, which holds its two pieces to be tacked. "
            "Default: false."
        ),
    )
    weight: Number = Field(
        default=500.0,
        ge=0.0,
        le=20_000.0,
        description="Weight hung on the end of each primary beside its own, in grams. Default: 500.",
    )
    table: TableEntry | None = Field(default=None, description="A flat face that the locating plates rest on.")
    datums: list[DatumEntry] = Field(default=[], description="Reference points that the plates have holes for.")
    without_key: list[JointEntry] = Field(default=[], description="Joints that stay free to turn.")
    steel_after: list[JointEntry] = Field(
        default=[],
        description=(
            "Joints at which a steel piece is tried after a printed one: a steel adapter is printed for each."
        ),
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
