"""The ends of primaries as given in a spec: the flange with its ports, and the collectors."""

from __future__ import annotations

import math
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, Field, PlainValidator, ValidationInfo, WithJsonSchema, model_validator
from pydantic_core import PydanticCustomError

from headergen.geometry.merge.design import MOST
from headergen.spec.entry import Entry, PlaneEntry
from headergen.spec.fields import (
    FARTHEST,
    LENGTH,
    Arrival,
    Counted,
    Diameter,
    HalfAngle,
    Lean,
    Margin,
    Name,
    Size,
    SlidingGap,
    Spot,
    Step,
    Thickness,
    Turn,
    Wall,
    complain,
    unit_of,
)
from headergen.spec.openings import BoltEntry, ShapeEntry
from headergen.spec.outlet_end import OutletEndEntry, refuse_hindered, refuse_misfit
from headergen.spec.scalars import ScalarError
from headergen.spec.tabs import TabsEntry
from headergen.spec.units import described, length_in_mm, length_text, shown

LEAST_PLATE = 1.0  # mm that must be left after facing
LEAST_SOCKET = 1.0  # mm, the least depth of a tube in the plate
LEAST_LEAN, MOST_LEAN = 5.0, 60.0  # degrees of the bores of a Y
OPPOSITE = 1e-3  # mm by which the bores of a Y may be off each other's opposite place
LEAST_TAPER = 1.0  # mm
MOST_SLOPE = 30.0  # degrees of a tapered outlet's side
LEAST_RIM = 1.0  # mm of plate round a hole


class TiltEntry(Entry):
    """How a port leans away from the flange's normal."""

    angle: Lean = Field(description="Degrees between the port and the flange's normal, by angle finder.")
    toward: Turn = Field(
        description="Direction that the port leans: degrees from the flange's x, turning toward its y."
    )


class PortEntry(Entry):
    """One exhaust opening of the head."""

    at: Spot = Field(description="The middle of the port on the flange face: [x, y].")
    shape: ShapeEntry = Field(description="Shape of the opening: {round: diameter} or another one.")
    turn: Turn = Field(default=0.0, description="Degrees by which the shape is turned, from the flange's x toward y.")
    transition: Margin = Field(
        default=0.0,
        description="Length of the piece that leads from the shape of the port to the tube. Default: 0, none.",
    )
    tilt: TiltEntry | None = Field(
        default=None, description="Lean of the port, only where it does not run square to the face."
    )


class ToolEntry(Entry):
    """The room that a tool takes, as a cylinder."""

    diameter: Diameter = Field(description="Outside diameter of the socket.")
    length: Step = Field(description="Length of the socket, and of what has to fit behind it.")


def _flange_name(value: str) -> str:
    if not any(letter.isalpha() for letter in value):
        raise complain(f"{shown(value)} is not a name for a flange", "write a word: left, rear, head 2")
    return value


FlangeName = Annotated[Name, AfterValidator(_flange_name)]


class FlangeEntry(Entry):
    """A flange that holds primaries to a head."""

    plane: PlaneEntry = Field(description="The plane of the head's face; the normal points out of the head.")
    thickness: Thickness = Field(description="Thickness of the flange plate, before it is faced.")
    bolts: list[BoltEntry] = Field(default=[], description="Bolt holes of the flange.")
    ports: dict[Counted, PortEntry] = Field(min_length=1, description="Ports of the flange by number, from 1.")
    margin: Margin = Field(
        default=12.0, description="Edge distance: width of plate beyond ports and bolt holes. Default: 12 mm."
    )
    seat: Literal["socket", "butt"] = Field(
        default="socket", description="How tubes stand on the plate. socket: in it; butt: on it."
    )
    setback: Margin = Field(
        default=2.0,
        description=("Socket only: how far tubes stop short of the gasket face, for the bead inside. Default: 2 mm."),
    )
    facing: Margin = Field(
        default=0.3,
        description=("Part of the thickness that facing the plate flat after welding takes off. Default: 0.3 mm."),
    )
    tool: ToolEntry | None = Field(
        default=None, description="Socket for its bolts. Default: by the hole, 18.5 mm for 8.5 mm, 75 mm long."
    )
    relief: Margin = Field(
        default=0.0, description="Width of relief slots between neighbouring ports. Default: 0, none."
    )

    @model_validator(mode="after")
    def _leaves_plate(self, info: ValidationInfo) -> Self:
        unit = unit_of(info) or "mm"
        left = self.thickness - self.facing
        if left < LEAST_PLATE:
            raise complain(f"facing leaves {length_text(max(left, 0.0), unit)} of the plate", at=("facing",))
        if self.margin < LEAST_RIM:
            raise complain(f"{length_text(self.margin, unit)} leave no edge distance round the holes", at=("margin",))
        if self.seat == "socket" and self.setback > left - LEAST_SOCKET:
            message = f"a setback of {length_text(self.setback, unit)} leaves no socket in the plate"
            raise complain(message, "or write seat: butt", at=("setback",))
        return self


def _pattern(value: object, info: ValidationInfo) -> str | tuple[tuple[float, float], ...]:
    names = ("square", "ring", "line")
    if isinstance(value, str) and value in names:
        return value
    if not isinstance(value, list) or not value:
        what = shown(value) if isinstance(value, str) else described(value)
        raise complain(f"{what} is no pattern", "write square, ring, line, or a list of places [[x, y], …]")
    return tuple(_pattern_place(place, index, info) for index, place in enumerate(value))


def _pattern_place(place: object, index: int, info: ValidationInfo) -> tuple[float, float]:
    if not isinstance(place, list) or len(place) != 2:
        raise complain("a place [x, y] in the collector plane is required here", at=(index,))
    values = []
    for axis, value in enumerate(place):
        try:
            values.append(length_in_mm(value, unit_of(info) or "mm"))
        except ScalarError as refused:
            raise complain(refused.message, refused.hint, at=(index, axis)) from None
        if abs(values[-1]) > FARTHEST:
            raise complain(f"{shown(value)} is farther off than anything in a vehicle", at=(index, axis))
    return (values[0], values[1])


PATTERN_SCHEMA: dict[str, Any] = {
    "anyOf": [
        {"enum": ["square", "ring", "line"]},
        {
            "type": "array",
            "minItems": 1,
            "items": {"type": "array", "minItems": 2, "maxItems": 2, "items": {"type": ["number", "string"]}},
        },
    ]
}
Pattern = Annotated[
    str | tuple[tuple[float, float], ...], PlainValidator(_pattern), WithJsonSchema(PATTERN_SCHEMA), LENGTH
]


class CollectorEntry(Entry):
    """Where primaries join: a plane on which the tube ends stand, and the bores in it."""

    plane: PlaneEntry = Field(description="The plane that the tube ends are on; the normal points along the gas.")
    join: Literal["slip", "weld"] = Field(
        description="How tubes are joined to it. slip: they slide into the bores; weld: they are welded on."
    )
    slip: Step | None = Field(default=None, description="Slip only: depth that the tubes go in.")
    pattern: Pattern = Field(
        description="How bores stand: square, ring, line, or a list of places [[x, y], …] in the plane."
    )
    pitch: Size | None = Field(
        default=None, description="Distance between the middles of neighbouring bores. Default: touching."
    )
    turn: Turn = Field(default=0.0, description="Degrees by which the pattern is turned, from x toward y.")
    bores: list[Arrival] = Field(
        min_length=1,
        description=("Primaries in bore 1, 2, 3, … by number; or, by their names, the collectors whose outlets go in."),
    )
    half_angle: HalfAngle | None = Field(
        default=None, description="For the merge: half of the cone's angle, in degrees."
    )
    outlet: Diameter | None = Field(default=None, description="For the merge: outside diameter of the outlet.")
    outlet_length: Margin = Field(default=0.0, description="For the merge: length of the tube after it. Default: 0.")
    outlet_to: Diameter | None = Field(
        default=None,
        description=("For the merge: outside diameter to which the outlet tapers over its length. Default: straight."),
    )
    lean: Lean | None = Field(
        default=None,
        description=(
            "For a Y: degrees by which each of two bores leans to the collector's axis, where their axes "
            "meet; the tubes arrive square in each bore. Default: square to the plane."
        ),
    )
    spike: bool = Field(default=False, description="Whether the merge has a pointed filler at its middle: write true.")
    wall: Wall | None = Field(
        default=None, description="Wall thickness of sleeves, merge and outlet. Default: the tube's."
    )
    gap: SlidingGap | None = Field(
        default=None, description="Slip only: room on each side around the tube. Default: 0.3 mm."
    )
    end: OutletEndEntry | None = Field(
        default=None,
        description=("What is on the end of the outlet: a ring, a bell, a ball flange or a plate. Default: nothing."),
    )
    tabs: TabsEntry | None = Field(
        default=None,
        description="Slip only: a pair of tabs on each joint, for the spring that holds it. Default: none.",
    )

    @model_validator(mode="after")
    def _agrees(self, info: ValidationInfo) -> Self:
        troubles = (_slip_trouble, _count_trouble, _pitch_trouble, _y_trouble, _merge_trouble, _taper_trouble)
        for trouble in (found(self) for found in troubles):
            if trouble is not None:
                raise trouble
        if self.end is not None:
            if self.outlet is None:
                raise complain("an end belongs to an outlet", "give it half_angle and outlet", at=("end",))
            refuse_misfit(self.end, self.outlet_to or self.outlet, self.outlet_length, info, self.outlet)
            if self.end.plate is not None:
                refuse_hindered(self.end.plate, self.outlet_to or self.outlet, info)
        return self


def _slip_trouble(entry: CollectorEntry) -> PydanticCustomError | None:
    if entry.join == "slip" and entry.slip is None:
        return complain("a slip collector needs its insertion depth", "add slip: 40", at=("join",))
    if entry.join == "weld" and entry.slip is not None:
        return complain("a welded collector has no slip", "take it out, or write join: slip", at=("slip",))
    return None


def _y_trouble(entry: CollectorEntry) -> PydanticCustomError | None:
    if entry.lean is None:
        return None
    if not LEAST_LEAN <= entry.lean <= MOST_LEAN:
        return complain(f"a Y leans by {LEAST_LEAN:g} to {MOST_LEAN:g} degrees, not by {entry.lean:g}", at=("lean",))
    if len(entry.bores) != 2:
        message = f"a Y joins 2 bores that lean, but bores lists {len(entry.bores)}"
        return complain(message, "leave lean out: the tubes then turn to the outlet in the merge", at=("lean",))
    if entry.half_angle is not None:
        return complain("bores that lean do not turn, so they have no half angle", "take it out", at=("half_angle",))
    if entry.outlet is None:
        return complain("bores that lean meet in a merge", "give it outlet", at=("lean",))
    if not isinstance(entry.pattern, str):
        (x, y), (u, v) = entry.pattern
        if math.hypot(x + u, y + v) > OPPOSITE or math.hypot(x, y) < OPPOSITE:
            message = "the bores of a Y are opposite each other, as far from the axis"
            return complain(message, "write pattern: line, or places like [[25, 0], [-25, 0]]", at=("pattern",))
    return None


def _taper_trouble(entry: CollectorEntry) -> PydanticCustomError | None:
    if entry.outlet_to is None:
        return None
    if entry.outlet is None:
        return complain("a tapered outlet belongs to a merge", "give it outlet: where it begins", at=("outlet_to",))
    if entry.outlet_length < LEAST_TAPER:
        return complain("an outlet tapers over its length, and has none", "add outlet_length", at=("outlet_to",))
    slope = math.degrees(math.atan2(abs(entry.outlet_to - entry.outlet) / 2, entry.outlet_length))
    if slope > MOST_SLOPE:
        message = f"the outlet tapers by {slope:.0f} degrees a side, more than {MOST_SLOPE:g}"
        return complain(message, "make it longer, or the change smaller", at=("outlet_to",))
    if entry.end is not None and entry.end.plate is not None and not entry.end.plate.transition:
        message = "a plate without a transition takes straight tube, and this outlet tapers to its end"
        return complain(message, "give the plate a transition, or take outlet_to out", at=("end", "plate"))
    return None


def _merge_trouble(entry: CollectorEntry) -> PydanticCustomError | None:
    if entry.join == "weld" and entry.gap is not None:
        return complain("a welded collector has no sliding gap", "take it out, or write join: slip", at=("gap",))
    if entry.join == "weld" and entry.tabs is not None:
        return complain(
            "tabs hold slip joints together, and a welded collector has none", "take them out", at=("tabs",)
        )
    given = [name for name in ("half_angle", "outlet") if getattr(entry, name) is not None]
    if len(given) == 1 and entry.lean is None:
        missing = "outlet" if given == ["half_angle"] else "half_angle"
        return complain(f"a merge needs {missing} too", f"add {missing}, or take {given[0]} out", at=(given[0],))
    if entry.tabs is not None and entry.outlet is None:
        return complain("tabs are on sleeves, which come with a merge", "give it half_angle and outlet", at=("tabs",))
    if entry.outlet is not None and len(entry.bores) > MOST:
        return complain(f"a merge takes at most {MOST} bores, but bores lists {len(entry.bores)}", at=("bores",))
    if entry.spike and len(entry.bores) == 2:
        return complain("two bores leave no middle for a spike", "take it out", at=("spike",))
    if entry.spike and not given:
        return complain("a spike belongs to a merge", "give it half_angle and outlet", at=("spike",))
    return None


def _count_trouble(entry: CollectorEntry) -> PydanticCustomError | None:
    count, pattern = len(entry.bores), entry.pattern
    if pattern == "square" and count != 4:
        return complain(f"a square has 4 bores, but bores lists {count}", at=("bores",))
    if pattern == "ring" and count < 2:
        return complain("a ring has 2 bores or more, but bores lists 1", "a single bore is a line", at=("bores",))
    if not isinstance(pattern, str) and len(pattern) != count:
        return complain(f"the pattern has {len(pattern)} places, but bores lists {count}", at=("bores",))
    return None


def _pitch_trouble(entry: CollectorEntry) -> PydanticCustomError | None:
    if entry.pitch is not None and not isinstance(entry.pattern, str):
        return complain("pitch belongs to square, ring and line, not to a list of places", at=("pitch",))
    return None
