"""What is fitted to a header, and what must stay within reach: bosses and plugs, as a spec says it."""

from __future__ import annotations

from typing import Literal, Self

from pydantic import Field, model_validator

from headergen.spec.entry import Entry, exactly_one, needs_direction, one_of
from headergen.spec.fields import Counted, Diameter, Direction, Hole, Margin, Name, Point, Step, Turn, complain

# M18 × 1.5, as sensors have it: the bore before tapping, D − 1.0825·P (ISO 724)
SENSOR_HOLE = 18.0 - 1.0825 * 1.5
SENSOR_BOSS, SENSOR_HEIGHT = 28.0, 14.0  # mm; common practice, no source


class BossEntry(Entry):
    """A round boss on a tube, with a hole through the wall."""

    model_config = one_of("primary", "collector", together={})

    name: Name = Field(description="what it is called; files and findings name it")
    primary: Counted | None = Field(default=None, description="number of the primary it stands on")
    collector: Name | None = Field(default=None, description="name of the collector on whose outlet tube it stands")
    at: Margin = Field(description="how far along: from the flange face, or from where the outlet tube begins")
    clock: Turn = Field(
        default=0.0,
        description="degrees from straight up (from forward, where the tube stands upright), clockwise as the gas "
        "sees it [0]",
    )
    kind: Literal["sensor", "plain"] = Field(default="sensor", description="sensor: M18x1.5, and checked as one")
    outside_diameter: Diameter = Field(default=SENSOR_BOSS, description="of the boss [28 mm]")
    height: Step = Field(default=SENSOR_HEIGHT, description="over the tube's skin [14 mm]")
    hole: Hole = Field(default=SENSOR_HOLE, description="diameter of its hole [16.38 mm, for tapping M18x1.5]")

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        exactly_one(self, ("primary", "collector"), "the place of a boss")
        if self.hole > self.outside_diameter - 2:
            raise complain("the hole leaves no wall in the boss", at=("hole",))
        return self


class PlugEntry(Entry):
    """A spark plug, or anything else that a tool must reach."""

    name: Name = Field(description="what it is called; findings name it")
    at: Point = Field(description="the middle of its seat")
    axis: Direction = Field(description="the way it is pulled out")
    diameter: Diameter = Field(default=24.0, description="outside diameter of the tool [24 mm]")
    length: Step = Field(default=150.0, description="room for tool and plug, along the axis [150 mm]")

    @model_validator(mode="after")
    def _points(self) -> Self:
        needs_direction(self.axis, "axis")
        return self
