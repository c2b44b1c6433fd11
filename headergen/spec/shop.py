"""How the shop saws and welds, as a spec says it."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, WithJsonSchema

from headergen.model import ShopSettings
from headergen.spec.alike import noun_of
from headergen.spec.entry import Entry
from headergen.spec.fields import LENGTH, LENGTH_SCHEMA, MILLIMETRES, length

Kerf = Annotated[float, length(0, 10), WithJsonSchema(LENGTH_SCHEMA), LENGTH]
Room = Annotated[float, length(0, 200), WithJsonSchema(LENGTH_SCHEMA), LENGTH]


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
    print_scale: PrintScaleEntry = Field(
        default_factory=PrintScaleEntry,
        description="what the 100 mm bars on a full-size page measure as printed; the next build corrects for it",
    )


def settings_of(entry: ShopEntry) -> ShopSettings:
    return noun_of(ShopSettings, entry, print_scale=(entry.print_scale.x, entry.print_scale.y))
