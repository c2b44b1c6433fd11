"""The part on the end of a collector's outlet, as given in a spec."""

from __future__ import annotations

import math
from typing import Annotated, Self

from pydantic import BeforeValidator, Field, ValidationInfo, WithJsonSchema, model_validator

from headergen.model import OutletBell, OutletRing
from headergen.spec.alike import noun_of
from headergen.spec.entry import Entry, exactly_one, one_of
from headergen.spec.fields import Diameter, Hole, Lean, Step, Thickness, Turn, complain, unit_of
from headergen.spec.units import length_text, shown

MOST_BOLTS = 12


def _bolts(value: object) -> int:
    if isinstance(value, int) and not isinstance(value, bool) and 2 <= value <= MOST_BOLTS:
        return value
    raise complain(f"{shown(value)} is not a number of bolts: a whole number from 2 to {MOST_BOLTS}")


Bolts = Annotated[
    int, BeforeValidator(_bolts), WithJsonSchema({"type": "integer", "minimum": 2, "maximum": MOST_BOLTS})
]


class RingEntry(Entry):
    """A ring round the outlet, flush with its end: with bolts, or with a tapered back for a clamp."""

    outside_diameter: Diameter = Field(description="outside diameter of the ring")
    thickness: Thickness = Field(description="its thickness at the tube")
    taper: Lean = Field(default=0.0, description="degrees by which its back leans, for a clamp [0]")
    turn: Turn = Field(default=0.0, description="degrees to the first bolt, from x of the collector plane toward y [0]")
    bolts: Bolts | None = Field(default=None, description="how many bolts it has [none]")
    bolt_circle: Diameter | None = Field(default=None, description="with bolts: diameter of the bolt circle")
    hole: Hole | None = Field(default=None, description="with bolts: diameter of their holes")

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        given = [name for name in ("bolts", "bolt_circle", "hole") if getattr(self, name) is not None]
        if given and len(given) < 3:
            missing = [name for name in ("bolts", "bolt_circle", "hole") if name not in given]
            raise complain(f"a ring with {given[0]} needs {' and '.join(missing)} too", at=(given[0],))
        return self


class BellEntry(Entry):
    """The outlet widened, to slide over the next tube."""

    inside_diameter: Diameter = Field(description="of the widened end: the next tube's outside, and room to slide")
    length: Step = Field(description="how far it is that wide")


class OutletEndEntry(Entry):
    """What stands on the end of the outlet: a ring, or a bell."""

    model_config = one_of("ring", "bell", together={})

    ring: RingEntry | None = Field(
        default=None, description="a collector flange: a ring round it, with bolts or for a clamp"
    )
    bell: BellEntry | None = Field(default=None, description="widened, to slide over the next tube")

    @model_validator(mode="after")
    def _one(self) -> Self:
        exactly_one(self, ("ring", "bell"), "the end of an outlet")
        return self


def refuse_misfit(entry: OutletEndEntry, outlet: float, outlet_length: float, info: ValidationInfo) -> None:
    """Raises if an end does not fit its outlet; diameters and lengths in millimetres."""
    unit = unit_of(info) or "mm"
    if entry.bell is not None and entry.bell.inside_diameter < outlet:
        message = f"a bell slides over a tube like its outlet, which is {length_text(outlet, unit)} wide"
        raise complain(message, at=("end", "bell", "inside_diameter"))
    ring = entry.ring
    if ring is None:
        return
    wide = ring.outside_diameter - outlet
    if wide <= 2:
        message = f"a ring of {length_text(ring.outside_diameter, unit)} leaves nothing round an outlet of "
        raise complain(message + length_text(outlet, unit), at=("end", "ring", "outside_diameter"))
    if ring.thickness - wide / 2 * math.tan(math.radians(ring.taper)) < 1:
        raise complain("with that taper the ring has no edge left", at=("end", "ring", "taper"))
    if ring.thickness > outlet_length:
        message = f"the ring is thicker than its outlet is long ({length_text(outlet_length, unit)})"
        raise complain(message, "give the outlet a longer outlet_length", at=("end", "ring", "thickness"))
    if ring.bolt_circle is not None and ring.hole is not None:
        webs = (
            (ring.bolt_circle - outlet) / 2 - ring.hole / 2,
            (ring.outside_diameter - ring.bolt_circle - ring.hole) / 2,
        )
        if min(webs) < 1:
            raise complain("the holes leave no metal in the ring", at=("end", "ring", "bolt_circle"))
        if ring.bolt_circle * math.sin(math.pi / (ring.bolts or 1)) - ring.hole < 1:
            raise complain("so many holes leave no metal between them", at=("end", "ring", "bolts"))


def end_of(entry: OutletEndEntry | None) -> OutletRing | OutletBell | None:
    if entry is None:
        return None
    if entry.bell is not None:
        return noun_of(OutletBell, entry.bell)
    ring = entry.ring
    assert ring is not None
    unbolted = {"bolts": ring.bolts or 0, "bolt_circle": ring.bolt_circle or 0.0, "hole": ring.hole or 0.0}
    return noun_of(OutletRing, ring, **unbolted)
