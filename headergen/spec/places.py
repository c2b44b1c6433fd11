"""Places where runs end, as given in a spec: a plain end, a mouth to slide into, a pipe to slide over, or a plate."""

from __future__ import annotations

from typing import Self

from pydantic import Field, model_validator

from headergen.geometry.frames import cross, norm
from headergen.spec.entry import Entry, given, needs_direction
from headergen.spec.fields import Diameter, Direction, Point, Step, complain
from headergen.spec.outlet_end import PlateEntry

ENDS = ("into", "over", "plate")


class MouthEntry(Entry):
    """A round mouth that the tube slides into, or a pipe that it slides over."""

    diameter: Diameter = Field(description="Diameter of the mouth inside, or of the pipe outside.")
    depth: Step = Field(description="Depth that the tube goes in, or over.")


class PlaceEntry(Entry):
    """Where a run ends, and in what."""

    at: Point = Field(description="The middle of the tube's end; of a plate, that of its gasket face.")
    along: Direction = Field(description="Direction of the gas where the run ends; any length.")
    x: Direction | None = Field(default=None, description="Direction of x across the end, for a plate's places.")
    into: MouthEntry | None = Field(
        default=None, description="A mouth that the tube slides into, such as a silencer's."
    )
    over: MouthEntry | None = Field(default=None, description="A pipe that the tube slides over.")
    plate: PlateEntry | None = Field(default=None, description="A plate on the tube's end. Default: none, a plain end.")

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        needs_direction(self.along, "along")
        if self.x is not None:
            needs_direction(self.x, "x")
            if norm(cross(self.along, self.x)) < 1e-9 * norm(self.along) * norm(self.x):
                raise complain("x runs along the gas, but it must lie across it", at=("x",))
        found = given(self, ENDS)
        if len(found) > 1:
            raise complain(
                f"a run ends in {' and '.join(found)} at once: only one of {', '.join(ENDS)} is allowed", at=(found[1],)
            )
        return self
