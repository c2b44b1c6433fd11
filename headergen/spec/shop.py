"""How the shop saws, welds and bends, as given in a spec."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Annotated, Self

from pydantic import BeforeValidator, Field, WithJsonSchema, model_validator

from headergen.model import Bender, ShopSettings
from headergen.spec.alike import noun_of
from headergen.spec.entry import Entry
from headergen.spec.fields import (
    ANGLE,
    ANGLE_SCHEMA,
    LENGTH,
    LENGTH_SCHEMA,
    MILLIMETRES,
    BendAngle,
    Radius,
    angle,
    complain,
    items,
    length,
)
from headergen.spec.stock import OnHand

Kerf = Annotated[float, length(0, 10), WithJsonSchema(LENGTH_SCHEMA), LENGTH]
Room = Annotated[float, length(0, 200), WithJsonSchema(LENGTH_SCHEMA), LENGTH]
Grip = Annotated[float, length(0, 1000), WithJsonSchema(LENGTH_SCHEMA), LENGTH]
Slight = Annotated[float, angle(0, 30), WithJsonSchema(ANGLE_SCHEMA), ANGLE]
Springback = Annotated[
    tuple[BendAngle, Slight], BeforeValidator(items(2, "a pair [angle of bend, degrees that it springs back]"))
]


Bar = Annotated[float, length(90, 110, always="mm"), WithJsonSchema(LENGTH_SCHEMA), MILLIMETRES]


class PrintScaleEntry(Entry):
    """What the bars of 100 mm on a printed page measure, by a rule."""

    x: Bar = Field(default=100.0, description="the bar across the page, in mm")
    y: Bar = Field(default=100.0, description="the bar up the page, in mm")


class ShopEntry(Entry):
    """How the shop saws and welds; every value may be left out. The figures in brackets are common practice."""

    kerf: Kerf = Field(default=1.0, description="that the saw takes: portable bandsaw 1.0, cold saw 2.3 [1 mm]")
    dressing: Kerf = Field(default=1.0, description="ground off each face after the saw [1 mm]")
    shrinkage: Kerf = Field(
        default=0.4,
        description="of a butt joint along the tube, from the shop's own coupon; left on before cutting [0.4 mm]",
    )
    trim: Room = Field(
        default=3.0, description="left on at the collector end of each tube, until all are trimmed in one plane [3 mm]"
    )
    clamp: Room = Field(default=40.0, description="straight that a clamp wants; less is cut lying flat [40 mm]")
    apart: Room = Field(default=15.0, description="least from joint to joint, on the inside of a bend [15 mm]")
    cup: Room = Field(
        default=12.7, description="bore of the torch's cup: room between a joint and another tube [12.7 mm]"
    )
    reach: Room = Field(
        default=60.0,
        description="of the torch: room that it needs all round a joint, from the skin outward, leaning by 45 degrees "
        "at most; 0 to leave it out [60 mm]",
    )
    print_scale: PrintScaleEntry = Field(
        default_factory=PrintScaleEntry,
        description="what the 100 mm bars on a full-size page measure as printed; the next build corrects for it",
    )
    spares: OnHand = Field(
        default=0, description="bends of each kind that is used, to be ordered beside what is needed [0]"
    )
    mitre_under: Slight = Field(
        default=12.0, description="degrees of a bend under which a mitred joint is offered in its place [12]"
    )


class BenderEntry(Entry):
    """The shop's own bender: each primary that it can make is then one piece."""

    radii: list[Radius] = Field(min_length=1, description="centre-line radii of its dies")
    min_straight: Grip = Field(description="shortest straight that it can leave between two bends")
    clamp: Grip = Field(description="straight that its clamp holds, after the last bend too")
    springback: list[Springback] = Field(
        default=[],
        description="[[angle, degrees that it springs back], …], by the shop's own tests; between them in proportion "
        "[none]",
    )

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        for index, (before, after) in enumerate(pairwise(self.springback), 1):
            if after[0] <= before[0]:
                message = f"{after[0]:g} degrees stand after {before[0]:g}"
                raise complain(message, "list the angles from the smallest on", at=("springback", index, 0))
        return self


def settings_of(entry: ShopEntry) -> ShopSettings:
    return noun_of(ShopSettings, entry, print_scale=(entry.print_scale.x, entry.print_scale.y))


def bender_of(entry: BenderEntry | None) -> Bender | None:
    if entry is None:
        return None
    springback = tuple((math.radians(at), math.radians(more)) for at, more in entry.springback)
    return noun_of(Bender, entry, springback=springback)
