"""The accuracy of the shop's hand, in a spec or in a file that several jobs use."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated

from pydantic import Field, WithJsonSchema, model_validator

from headergen.model import HandSettings
from headergen.spec.alike import noun_of
from headergen.spec.entry import Entry
from headergen.spec.fields import ANGLE, ANGLE_SCHEMA, LENGTH, LENGTH_SCHEMA, Name, Percent, angle, length
from headergen.spec.units import Unit

Spread = Annotated[float, angle(0, 10), WithJsonSchema(ANGLE_SCHEMA), ANGLE]
Slight = Annotated[float, angle(0, 15), WithJsonSchema(ANGLE_SCHEMA), ANGLE]
Off = Annotated[float, length(0, 20), WithJsonSchema(LENGTH_SCHEMA), LENGTH]
Spare = Annotated[float, length(0, 100), WithJsonSchema(LENGTH_SCHEMA), LENGTH]


class HandValues(Entry):
    """Spreads are one standard deviation: two of three are within. The figures in brackets are common practice."""

    clocking: Spread = Field(
        default=0.5, description="Spread of a bend's plane against the one before, in degrees. Default: 0.5."
    )
    square: Spread = Field(
        default=0.25, description="Spread of a joint about either axis across the tube, in degrees. Default: 0.25."
    )
    bend: Spread = Field(default=0.5, description="Spread of the angle of a bend, in degrees. Default: 0.5.")
    length: Off = Field(
        default=0.5, description="Spread of the length of a piece, from the saw and the disc. Default: 0.5 mm."
    )
    radius: Percent = Field(default=0.5, description="Spread of a bend's centre-line radius, in percent. Default: 0.5.")
    shrinkage: Off = Field(
        default=0.15,
        description=(
            "Spread of a joint's shrinkage, from weld to weld; its mean is shop: shrinkage. Default: 0.15 mm."
        ),
    )
    saddle: Spread = Field(
        default=0.15,
        description=("Spread of clocking and squareness where saddles hold the pieces, in degrees. Default: 0.15."),
    )
    spring: Off = Field(default=1.0, description="How far a tube may be pressed over to meet another. Default: 1 mm.")
    turn: Slight = Field(
        default=3.0, description="Degrees that an end piece may be turned in its sleeve, either way. Default: 3."
    )
    kink: Slight = Field(
        default=3.0, description="Degrees of kink allowed between two tubes where a run is closed. Default: 3."
    )
    step: Off = Field(default=0.5, description="Step allowed from skin to skin where a run is closed. Default: 0.5 mm.")
    slip: Spare = Field(
        default=25.0,
        description=(
            "Least depth of a slip, where a tube slides out of it or its mouth is cut back for a bend. Default: 25 mm."
        ),
    )
    spare: Spare = Field(
        default=15.0,
        description=("Length that an end piece may slide in its sleeve, and that may be left on. Default: 15 mm."),
    )


class HandEntry(HandValues):
    """The hand of a job: what is given here, the rest from a file where one is named."""

    file: Name | None = Field(default=None, description="File with the hand of the shop, for several jobs.")

    @model_validator(mode="before")
    @classmethod
    def _short_form(cls, value: object) -> object:
        return {"file": value} if isinstance(value, str) else value


class HandFile(HandValues):
    """The hand of a shop, in a file that several jobs name."""

    units: Unit = Field(description="Unit of every plain length in this file: mm or in.")


def hand_of(entry: HandValues | None, file: HandValues | None, first: HandSettings) -> HandSettings:
    """The hand of `first`, with the values of the file replaced, and then those of the spec."""
    for each in (file, entry):
        if each is not None:
            own = noun_of(HandSettings, each)
            given = each.model_fields_set & vars(first).keys()
            first = replace(first, **{name: getattr(own, name) for name in given})
    return first
