"""Tabs on slip joints, as given in a spec."""

from __future__ import annotations

from typing import Self

from pydantic import Field, model_validator

from headergen.parts.tabs import APART, BEAD, RIM
from headergen.spec.entry import Entry
from headergen.spec.fields import Hole, Step, Thickness, Turn, complain


class TabsEntry(Entry):
    """A pair of tabs on each slip joint, for the spring that holds it."""

    apart: Step = Field(description="Distance from hole to hole: the spring's length, hooked in.")
    length: Step = Field(default=14.0, description="Length of a tab's foot, along the tube. Default: 14 mm.")
    height: Step = Field(default=8.0, description="Height of the holes' middles over the sleeve's skin. Default: 8 mm.")
    thickness: Thickness = Field(
        default=3.0, description="Thickness of the sheet that tabs are cut from. Default: 3 mm."
    )
    hole: Hole = Field(default=5.0, description="Diameter of the tabs' holes. Default: 5 mm.")

    turn: Turn = Field(
        default=0.0,
        description=("Degrees from the side away from the collector's axis, clockwise as the gas sees it. Default: 0."),
    )

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        if self.height < self.hole / 2 + RIM:
            raise complain("the hole leaves no metal between it and the tube", at=("height",))
        if self.length < self.hole + 2 * RIM:
            raise complain("the foot is narrower than the metal round the hole", at=("length",))
        if self.apart < self.length + BEAD + APART:
            raise complain("so short a spring leaves no room for two tabs beside the mouth", at=("apart",))
        return self
