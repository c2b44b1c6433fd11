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

    x: Bar = Field(default=100.0, description="Length of the bar across the page, in mm.")
    y: Bar = Field(default=100.0, description="Length of the bar up the page, in mm.")


class ShopEntry(Entry):
    """How the shop saws and welds; every value may be left out. The figures in brackets are common practice."""

    kerf: Kerf = Field(
        default=1.0, description="Width of the saw's cut: portable bandsaw 1.0, cold saw 2.3. Default: 1 mm."
    )
    dressing: Kerf = Field(default=1.0, description="Length ground off each face after the saw. Default: 1 mm.")
    shrinkage: Kerf = Field(
        default=0.4,
        description=(
            "Length that a butt joint draws in along the tube, from the shop's own coupon; left on before "
            "cutting. Default: 0.4 mm."
        ),
    )
    trim: Room = Field(
        default=3.0,
        description=(
            "Length left on at the collector end of each tube, until all are trimmed in one plane. Default: 3 mm."
        ),
    )
    clamp: Room = Field(
        default=40.0,
        description=("Length of straight that a clamp wants; pieces with less are cut lying flat. Default: 40 mm."),
    )
    apart: Room = Field(
        default=15.0, description="Least distance from joint to joint, on the inside of a bend. Default: 15 mm."
    )
    cup: Room = Field(
        default=12.7, description="Bore of the torch's cup: room between a joint and another tube. Default: 12.7 mm."
    )
    reach: Room = Field(
        default=60.0,
        description=(
            "Reach of the torch: room that it needs all round a joint, from the skin outward, leaning by 45 "
            "degrees at most; 0 leaves it out. Default: 60 mm."
        ),
    )
    print_scale: PrintScaleEntry = Field(
        default_factory=PrintScaleEntry,
        description=(
            "Measured length of the 100 mm bars on a full-size page as printed; the next build corrects for it."
        ),
    )
    spares: OnHand = Field(
        default=0,
        description=("Number of bends of each kind that is used, to be ordered beside what is needed. Default: 0."),
    )
    mitre_under: Slight = Field(
        default=12.0, description="Degrees of bend under which a mitred joint is offered in its place. Default: 12."
    )


class BenderEntry(Entry):
    """The shop's own bender: each primary that it can make is then one piece."""

    radii: list[Radius] = Field(min_length=1, description="Centre-line radii of the dies of this bender.")
    min_straight: Grip = Field(description="Shortest straight that this bender can leave between two bends.")
    clamp: Grip = Field(description="Length of straight that the clamp holds, after the last bend too.")
    springback: list[Springback] = Field(
        default=[],
        description=(
            "Degrees that a bend springs back, by the shop's own tests: [[angle, springback], …]; between "
            "them in proportion. Default: none."
        ),
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
