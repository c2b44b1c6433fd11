"""The part on the end of a collector's outlet, as given in a spec."""

from __future__ import annotations

import math
from typing import Annotated, Self

from pydantic import BeforeValidator, Field, ValidationInfo, WithJsonSchema, model_validator

from headergen.model import Bolt, OutletBall, OutletBell, OutletEnd, OutletPlate, OutletRing, SpecPath
from headergen.spec.alike import noun_of
from headergen.spec.entry import Entry, exactly_one, one_of
from headergen.spec.fields import Diameter, Hole, Lean, Margin, Step, Thickness, Turn, complain, unit_of
from headergen.spec.openings import BoltEntry, ShapeEntry, shape_of
from headergen.spec.units import Unit, length_text, shown

MOST_BOLTS = 12
SETBACK = 2.0  # mm from the gasket face to the outlet's tube in the plate, for the bead inside
LEAST_SOCKET = 1.0  # mm, the least depth of the outlet's tube in the plate
LEAST_RIM = 1.0  # mm of metal round a hole
MOST_DIVIDER = 0.25  # of the outlet's diameter
LEAST_OPENING = 5.0  # mm, the least width of an opening
WITH_ARTICLE = {"oval": "an oval", "rectangle": "a rectangular", "d": "a D-shaped", "free": "a free"}


def _bolts(value: object) -> int:
    if isinstance(value, int) and not isinstance(value, bool) and 2 <= value <= MOST_BOLTS:
        return value
    raise complain(f"{shown(value)} is not a number of bolts: a whole number from 2 to {MOST_BOLTS}")


Bolts = Annotated[
    int, BeforeValidator(_bolts), WithJsonSchema({"type": "integer", "minimum": 2, "maximum": MOST_BOLTS})
]


class RingEntry(Entry):
    """A ring round the outlet, flush with its end: with bolts, or with a tapered back for a clamp."""

    outside_diameter: Diameter = Field(description="Outside diameter of the ring.")
    thickness: Thickness = Field(description="Thickness of the ring at the tube.")
    taper: Lean = Field(
        default=0.0, description="Degrees by which the back of the ring leans, for a V-band clamp. Default: 0."
    )
    turn: Turn = Field(
        default=0.0, description="Degrees to the first bolt, from x of the collector plane toward y. Default: 0."
    )
    bolts: Bolts | None = Field(default=None, description="Number of bolts in the ring. Default: none.")
    bolt_circle: Diameter | None = Field(default=None, description="With bolts: diameter of the bolt circle.")
    hole: Hole | None = Field(default=None, description="With bolts: diameter of the bolt holes.")

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        given = [name for name in ("bolts", "bolt_circle", "hole") if getattr(self, name) is not None]
        if given and len(given) < 3:
            missing = [name for name in ("bolts", "bolt_circle", "hole") if name not in given]
            raise complain(f"a ring with {given[0]} needs {' and '.join(missing)} too", at=(given[0],))
        return self


class BellEntry(Entry):
    """The outlet widened, to slide over the next tube."""

    inside_diameter: Diameter = Field(
        description="Inside diameter of the widened end: the next tube's outside, and room to slide."
    )
    length: Step = Field(description="Length of the widened end.")


class BallEntry(Entry):
    """A ball flange: a ring round the outlet whose outside is a zone of a ball, for a loose flange to hold."""

    diameter: Diameter = Field(description="Diameter of the ball; its centre is on the axis where the ring is widest.")
    length: Thickness = Field(
        description="Length of the ring along the outlet, from its widest place to the outlet's end."
    )


class PlateEntry(Entry):
    """A plate across the end: a turbine's inlet or any other opening, with a transition from the outlet to it.

    Places have their zero at the middle of the outlet, x along x of the plane (after `turn`), and y up as seen along
    the gas.
    """

    shape: ShapeEntry = Field(
        description="Shape of the opening, such as {round: diameter} or {rectangle: [w, h, corner]}."
    )
    transition: Margin = Field(
        default=0.0, description="Length of the piece that leads from the outlet to that shape. Default: 0, none."
    )
    divider: Step | None = Field(
        default=None,
        description=(
            "Thickness of the wall that divides a rectangle into two along its width, in the plate, through the "
            "transition and, between bores that pair up, through the merge. Default: no wall."
        ),
    )
    thickness: Thickness = Field(description="Thickness of the plate.")
    bolts: list[BoltEntry] = Field(default=[], description="Bolt holes, with places from the middle of the outlet.")
    turn: Turn = Field(
        default=0.0,
        description=("Degrees by which the plate is turned, from x of the collector plane toward y. Default: 0."),
    )
    margin: Margin = Field(
        default=12.0, description="Edge distance: width of plate beyond opening and bolt holes. Default: 12 mm."
    )
    facing: Margin = Field(
        default=0.3,
        description=("Part of the thickness that facing the plate flat after welding takes off. Default: 0.3 mm."),
    )

    @model_validator(mode="after")
    def _agrees(self, info: ValidationInfo) -> Self:
        unit = unit_of(info) or "mm"
        left = self.thickness - self.facing
        if left < SETBACK + LEAST_SOCKET:
            least = length_text(SETBACK + LEAST_SOCKET, unit)
            message = f"facing leaves {length_text(max(left, 0.0), unit)} of the plate; at least {least} are required"
            raise complain(message, at=("facing",))
        if self.margin < LEAST_RIM:
            raise complain(f"{length_text(self.margin, unit)} leave no edge distance round the holes", at=("margin",))
        if self.shape.kind != "round" and not self.transition:
            raise complain(
                f"a round outlet cannot end in {WITH_ARTICLE[self.shape.kind]} opening without a transition",
                "add transition: 80",
                at=("shape",),
            )
        _refuse_divider(self, unit)
        return self


def _refuse_divider(entry: PlateEntry, unit: Unit) -> None:
    if entry.divider is None:
        return
    size = entry.shape.rectangle
    if size is None:
        raise complain("only a rectangle is divided by a wall", "take it out, or give a rectangle", at=("divider",))
    half = (size[0] - entry.divider) / 2
    if half < LEAST_OPENING:
        message = f"a wall of {length_text(entry.divider, unit)} leaves no opening on its sides"
        raise complain(message, f"the rectangle is {length_text(size[0], unit)} wide", at=("divider",))
    if 2 * size[2] > half + 1e-9:
        message = "the corner radius is more than half of an opening beside the wall"
        raise complain(message, f"each is {length_text(half, unit)} wide", at=("shape", "rectangle", 2))


class OutletEndEntry(Entry):
    """What stands on the end of the outlet: a ring, a bell, a ball flange, or a plate."""

    model_config = one_of("ring", "bell", "ball", "plate", together={})

    ring: RingEntry | None = Field(
        default=None, description="A collector flange: a ring round the outlet, with bolts or for a clamp."
    )
    bell: BellEntry | None = Field(default=None, description="A widened end, to slide over the next tube.")

    ball: BallEntry | None = Field(default=None, description="A ball flange round the outlet.")
    plate: PlateEntry | None = Field(
        default=None, description="A plate across the outlet with an opening and bolts, as for a turbine's inlet."
    )

    @model_validator(mode="after")
    def _one(self) -> Self:
        exactly_one(self, ("ring", "bell", "ball", "plate"), "the end of an outlet")
        return self


def refuse_misfit(
    entry: OutletEndEntry, outlet: float, outlet_length: float, info: ValidationInfo, begins: float
) -> None:
    """Raises if an end does not fit its outlet; diameters and lengths in millimetres.

    `outlet`: its diameter at its end; `begins`: where it begins, from which it may taper.
    """
    unit = unit_of(info) or "mm"
    if entry.bell is not None and entry.bell.inside_diameter < outlet:
        message = f"a bell slides over a tube like its outlet, which is {length_text(outlet, unit)} wide"
        raise complain(message, at=("end", "bell", "inside_diameter"))
    under = entry.ball.length if entry.ball is not None else entry.ring.thickness if entry.ring is not None else 0.0
    if outlet_length >= under:  # what is round an outlet that narrows has to go over its wider back
        outlet += max((begins - outlet) * under / outlet_length, 0.0) if under else 0.0
    if entry.ball is not None:
        _refuse_ball(entry.ball, outlet, outlet_length, unit)
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


def _refuse_ball(ball: BallEntry, outlet: float, outlet_length: float, unit: Unit) -> None:
    if ball.length > outlet_length:
        message = f"the ball flange is longer than its outlet ({length_text(outlet_length, unit)})"
        raise complain(message, "give the outlet a longer outlet_length", at=("end", "ball", "length"))
    rim = math.sqrt(max(ball.diameter**2 / 4 - ball.length**2, 0.0)) - outlet / 2
    if rim < LEAST_RIM:
        message = (
            f"a ball of {length_text(ball.diameter, unit)} leaves no edge round an outlet of "
            f"{length_text(outlet, unit)}, {length_text(ball.length, unit)} from its middle"
        )
        raise complain(message, "choose a larger ball or a shorter ring", at=("end", "ball", "diameter"))


def refuse_hindered(entry: PlateEntry, outlet: float, info: ValidationInfo) -> None:
    """Raises the hindrance of a plate on an outlet, if there is one; `outlet`: its outside diameter, mm."""
    found = hindrance(entry, outlet, unit_of(info) or "mm")
    if found is not None:
        at, message, hint = found
        raise complain(message, hint, at=("end", "plate", *at))


def hindrance(entry: PlateEntry, outlet: float, unit: Unit) -> tuple[SpecPath, str, str] | None:
    """Place in the entry, message and hint: an opening wider than its tube, or a bolt in the gas.

    `outlet`: outside diameter of the tube, mm.
    """
    wide = entry.shape.round
    if wide is not None and not entry.transition and wide > outlet:
        message = f"an opening of {length_text(wide, unit)} is wider than the outlet, {length_text(outlet, unit)}"
        return ("shape", "round"), message, "give it a transition, or a wider outlet"
    if entry.divider is not None and entry.divider > MOST_DIVIDER * outlet:
        message = (
            f"a wall of {length_text(entry.divider, unit)} through the transition closes too much of an outlet of "
        )
        hint = f"at most {length_text(MOST_DIVIDER * outlet, unit)}, a quarter of it"
        return ("divider",), message + length_text(outlet, unit), hint
    for index, bolt in enumerate(entry.bolts):
        if math.hypot(*bolt.at) < bolt.hole / 2:
            return ("bolts", index, "at"), "the middle of the outlet is in this bolt hole", ""
    return None


def end_of(entry: OutletEndEntry | None) -> OutletEnd | None:
    if entry is None:
        return None
    if entry.ball is not None:
        return noun_of(OutletBall, entry.ball)
    if entry.plate is not None:
        return plate_of(entry.plate)
    if entry.bell is not None:
        return noun_of(OutletBell, entry.bell)
    ring = entry.ring
    assert ring is not None
    unbolted = {"bolts": ring.bolts or 0, "bolt_circle": ring.bolt_circle or 0.0, "hole": ring.hole or 0.0}
    return noun_of(OutletRing, ring, **unbolted)


def plate_of(entry: PlateEntry) -> OutletPlate:
    return noun_of(
        OutletPlate,
        entry,
        shape=shape_of(entry.shape),
        divider=entry.divider or 0.0,
        bolts=tuple(noun_of(Bolt, bolt) for bolt in entry.bolts),
    )
