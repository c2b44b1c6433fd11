"""The entries of a spec and a stock file: their keys, the kind of each value, and what must go together.

The descriptions are shown by editors and in complaints about missing keys: shop words only. Lengths arrive here in
millimetres, angles in degrees.
"""

from __future__ import annotations

import datetime
from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, ConfigDict, Field, ValidationInfo, WithJsonSchema, model_validator

from headergen.geometry.frames import norm, subtract
from headergen.model.sign_off import HASH_LENGTH, HASH_LETTERS
from headergen.spec.as_built import RunAsBuiltEntry
from headergen.spec.brackets import BRACKETS, BracketEntry
from headergen.spec.chassis import ChassisEntry
from headergen.spec.ends import CollectorEntry, FlangeEntry, FlangeName
from headergen.spec.entry import Entry, exactly_one, given, needs_direction, one_of, only_with
from headergen.spec.fields import (
    AngleTolerance,
    Arrival,
    ChordError,
    Counted,
    Diameter,
    Direction,
    Margin,
    Name,
    Notes,
    Percent,
    Point,
    Radius,
    Step,
    Tolerance,
    Wall,
    complain,
    unit_of,
)
from headergen.spec.fittings import BOSSES, PLUGS, BossEntry, PlugEntry
from headergen.spec.growth import GrowthEntry
from headergen.spec.hand import HandEntry
from headergen.spec.mock import MockEntry
from headergen.spec.places import PlaceEntry
from headergen.spec.routing import RouteEntry
from headergen.spec.shop import BenderEntry, ShopEntry
from headergen.spec.sides import OwnTubeEntry, SideEntry
from headergen.spec.steps import FIRST_JOINED, StepEntry
from headergen.spec.units import Unit, described, length_text, shown


def _date(value: object) -> str:
    try:
        if isinstance(value, str) and len(value) == 10:
            return datetime.date.fromisoformat(value).isoformat()
    except ValueError:
        pass
    raise complain(f"{shown(value)} is not a date", "write year-month-day: 2026-03-14")


def spec_format(value: object) -> int:
    if value != 1 or isinstance(value, bool):
        raise complain(f"format {shown(value)} is not known here: this is format 1", "write format: 1")
    return 1


def _signature(value: object) -> str:
    if isinstance(value, str) and len(value) == HASH_LENGTH and set(value) <= set(HASH_LETTERS):
        return value
    raise complain(
        f"{shown(value)} is not the hash of a sign-off sheet",
        f"copy the {HASH_LENGTH} small letters that stand beside 'hash' on the sheet",
    )


Date = Annotated[str, BeforeValidator(_date)]
Signature = Annotated[str, BeforeValidator(_signature)]


class JobEntry(Entry):
    """What the header is for; printed on every sheet."""

    title: Name = Field(description="Name of the job.")
    revision: Name = Field(description="Revision of this spec: A, B, … or a number.")
    date: Date = Field(description="Date of this revision, year-month-day; the only date on the sheets.")
    customer: Name = Field(default="", description="Name of the customer.")
    workshop: Name = Field(default="", description="Name of the workshop, as the customer's page and sheet say it.")
    notes: Notes = Field(default="", description="Anything worth keeping with the job.")
    finish: Literal["bare stainless", "black ceramic", "silver ceramic", "mild steel"] | None = Field(
        default=None, description="How the header is to look, as the customer's pages show and say it."
    )
    excluded: list[Name] = Field(
        default_factory=list,
        description="Things that are not part of the job, as the customer is told: gaskets, bolts, fitting.",
    )
    signed: Signature | None = Field(
        default=None,
        description="Hash on the sign-off sheet that the customer signed; check says what differs since.",
    )


class TubeEntry(Entry):
    """The tube all primaries are made of."""

    outside_diameter: Diameter = Field(description="Outside diameter of the tube, by caliper.")
    wall: Wall = Field(description="Wall thickness of the tube.")
    material: Name = Field(description="Material of the tube, such as 304L, mild steel or titanium grade 2.")

    @model_validator(mode="after")
    def _hollow(self, info: ValidationInfo) -> Self:
        if 2 * self.wall >= self.outside_diameter:
            unit = unit_of(info) or "mm"
            wall, diameter = length_text(self.wall, unit), length_text(self.outside_diameter, unit)
            message = f"two walls of {wall} leave no bore in a tube of {diameter}"
            raise complain(message, "is the wall in the same unit as the diameter?", at=("wall",))
        return self


class LengthEntry(Entry):
    """How long the primaries should be, from flange face to collector plane along the middle."""

    target: Step | None = Field(
        default=None,
        description="Length that each primary should have, port face to collector plane along its centreline.",
    )
    tolerance: Tolerance = Field(
        default=3.0, description="How much longer or shorter than the target a primary may be. Default: 3 mm."
    )


class LimitsEntry(Entry):
    """What is judged, and how strictly; every limit may be left out."""

    min_straight: Margin = Field(
        default=0.0,
        description=(
            "Shortest straight allowed between two bends. Default: 0, where found paths keep shop: apart; 0 that is "
            "written is meant."
        ),
    )
    between_tubes: Margin = Field(default=5.0, description="Required gap between two primaries. Default: 5 mm.")
    together: Margin = Field(
        default=110.0,
        description=(
            "Length before the collector over which tubes may converge. Default: 110 mm. From there the required gap "
            "falls evenly to what the bores leave, less twice end_position, where the straight begins that the "
            "collector asks for (slip or collector_straight)."
        ),
    )
    end_position: Tolerance = Field(default=0.5, description="How far a tube's end may miss its bore. Default: 0.5 mm.")
    chord_error: ChordError = Field(
        default=0.05, description="Largest chordal deviation of the meshes that are written. Default: 0.05 mm."
    )
    port_straight: Margin = Field(default=0.0, description="Shortest straight allowed at the flange. Default: 0.")
    collector_straight: Margin = Field(
        default=0.0, description="Shortest straight allowed before the collector. Default: 0."
    )
    forming: Percent = Field(
        default=10.0, description="Percent by which a tube may be stretched or shrunk to a port's shape. Default: 10."
    )
    end_angle: AngleTolerance = Field(
        default=0.5, description="How many degrees a tube may arrive out of line with its bore. Default: 0.5."
    )
    bend_may_meet_bend: bool = Field(
        default=True,
        description=(
            "Whether a bend may follow a bend. false: min_straight is required between them, as in a shop "
            "that bends its own tube."
        ),
    )
    nine_in_ten: Margin | None = Field(
        default=None,
        description=("Gap that must be left in nine of ten builds by the hand of this shop. Default: not judged."),
    )


class ParallelEntry(Entry):
    """A straight that runs along a named line."""

    step: Counted = Field(description="Number of the straight in the path, from 1.")
    line: Name = Field(description="Name of the line, one of those under lines.")
    angle: AngleTolerance = Field(
        default=1.0, description="Degrees by which the straight may be off the line. Default: 1."
    )


class LineEntry(Entry):
    """A straight line in the chassis, such as the axis of a frame member."""

    start: Point = Field(alias="from", description="One end of the line, in engine axes.")
    end: Point = Field(alias="to", description="The other end of the line.")
    diameter: Margin = Field(default=0.0, description="Diameter of the member round the line. Default: 0, a bare line.")

    @model_validator(mode="after")
    def _length(self) -> Self:
        if norm(subtract(self.end, self.start)) < 1e-6:
            raise complain("the line ends where it starts", at=("to",))
        return self


ASKED = "With find: the steps to larger tubes that its path must have, in their order; `at` says where each may be."
GrowthsAsked = list[GrowthEntry] | None


def only_to_find(entry: Entry, path: list[StepEntry] | None) -> None:
    """Steps to larger tubes stand by themselves only where the path is to be found, and has none yet."""
    if not given(entry, ("steps",)):
        return
    if not given(entry, ("find",)):
        raise complain("steps says what a path to be found must have", "put them into the path", at=("steps",))
    if any(each.step is not None for each in path or ()):
        raise complain("the path has steps to larger tubes already", "keep one of them", at=("steps",))


def with_short_forms(value: object) -> object:
    """What stands in the place of a tube: `find` and a bare list of steps as the keys that they are short for."""
    if value == "find":
        return {"find": True}
    if isinstance(value, str):
        hint = "list its straights and bends, or write find for headergen route to find them"
        raise complain(f"a path is required here, not {described(value)}", hint)
    return {"path": value} if isinstance(value, list) else value


class PrimaryEntry(Entry):
    """One tube from port to bore: a path of steps, or points as measured with a radius at each corner."""

    model_config = ConfigDict(
        json_schema_extra={
            "anyOf": [{"required": [name]} for name in ("path", "points", "find")],
            "not": {"required": ["path", "points"]},
            "dependentRequired": {"radius": ["points"], "radii": ["points"]},
        }
    )

    find: Literal[True] | None = Field(
        default=None,
        description=("Whether `headergen route` finds its path: write true; a path given beside it is a first guess."),
    )
    path: list[StepEntry] | None = Field(default=None, min_length=1, description="The steps from port to bore.")
    points: list[Point] | None = Field(
        default=None, min_length=2, description="Points where the straights would meet: first the port, last the bore."
    )
    radius: Radius | None = Field(default=None, description="With points: one centre-line radius for every corner.")
    radii: list[Radius] | None = Field(
        default=None, description="With points: a centre-line radius for each inner point."
    )
    steps: GrowthsAsked = Field(default=None, min_length=1, description=ASKED)
    tube: OwnTubeEntry | None = Field(
        default=None, description="Tube with which this primary begins, where it is not that of the header."
    )
    target: Step | None = Field(default=None, description="Length of this primary, where it differs from the others.")
    locked: bool = Field(default=False, description="Whether this primary stays as it is: write true.")
    parallel_to: list[ParallelEntry] = Field(default=[], description="Straights that run along named lines.")

    @model_validator(mode="before")
    @classmethod
    def _short_form(cls, value: object) -> object:
        return with_short_forms(value)

    @model_validator(mode="after")
    def _one(self) -> Self:
        if self.find and self.locked:
            raise complain("a locked primary stays as it is, so nothing can be found", "keep one of them", at=("find",))
        only_to_find(self, self.path)
        if self.find and not given(self, ("path", "points")):
            only_with(self, ("radius", "radii"), "points; what `route` may use is under route")
            return self
        if exactly_one(self, ("path", "points"), "a primary that is not to be found") == "path":
            if self.path and self.path[0].joined:
                raise complain(FIRST_JOINED, "take it out", at=("path", 0, "joined"))
            only_with(self, ("radius", "radii"), "points; in a path every bend has its own")
            return self
        corners = len(self.points or ()) - 2
        if self.radius is not None and self.radii is not None:
            raise complain("radius and radii are both given", "keep one of them", at=("radii",))
        if self.radius is None and self.radii is None and corners > 0:
            raise complain("the corners need a radius", "add radius: the centre-line radius", at=("points",))
        if self.radii is not None and len(self.radii) != corners:
            message = f"{corners} inner points need {corners} radii, but radii lists {len(self.radii)}"
            raise complain(message, at=("radii",))
        return self

    @property
    def corner_radii(self) -> list[float]:
        """A radius for each inner point."""
        if self.radii is not None:
            return list(self.radii)
        return [self.radius or 0.0] * (len(self.points or ()) - 2)


def _one_of_two(entry: Entry, fields: tuple[str, str], keys: tuple[str, str], said: str) -> None:
    found = given(entry, fields)
    if len(found) == 2:
        message = f"{keys[0]} and {keys[1]} are both given, and {said}"
        raise complain(message, "keep one of them", at=(keys[1],))
    if not found and not set(fields) & entry.model_fields_set:
        raise complain(f"{keys[0]} is missing", f"{said}: write {keys[0]} or {keys[1]}")


class SecondaryEntry(Entry):
    """The tube from a collector's outlet to a bore of another collector."""

    model_config = ConfigDict(json_schema_extra={"anyOf": [{"required": [name]} for name in ("path", "find")]})

    find: Literal[True] | None = Field(
        default=None,
        description=("Whether `headergen route` finds its path: write true; a path given beside it is a first guess."),
    )
    path: list[StepEntry] | None = Field(default=None, min_length=1, description="The steps from outlet to bore.")
    steps: GrowthsAsked = Field(default=None, min_length=1, description=ASKED)

    @model_validator(mode="before")
    @classmethod
    def _short_form(cls, value: object) -> object:
        return with_short_forms(value)

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        if not given(self, ("path", "find")):
            raise complain("a secondary needs its path", "list its straights and bends, or write find")
        only_to_find(self, self.path)
        if self.path and self.path[0].joined:
            raise complain(FIRST_JOINED, "take it out", at=("path", 0, "joined"))
        return self


class RunEntry(Entry):
    """A tube from a collector's outlet, a port or another run, to a place of its own or onto another run."""

    model_config = ConfigDict(
        json_schema_extra={
            "allOf": [
                {"anyOf": [{"required": [name]} for name in ("path", "find")]},
                {"oneOf": [{"required": [name]} for name in ("from", "leaves")]},
                {"oneOf": [{"required": [name]} for name in ("to", "joins")]},
            ],
            "dependentSchemas": {"tube": {"anyOf": [{"required": [name]} for name in ("leaves", "from")]}},
        }
    )

    start: Arrival | None = Field(
        default=None,
        alias="from",
        description="Name of the collector whose outlet the run goes on from, or a port's number.",
    )
    leaves: SideEntry | None = Field(
        default=None, description="Run whose side this one leaves as a crossover or balance pipe, in place of from."
    )
    tube: OwnTubeEntry | None = Field(
        default=None,
        description=(
            "Tube with which the run begins, where it leaves another or starts at a port. Default: that of the header."
        ),
    )
    to: PlaceEntry | None = Field(default=None, description="Where the run ends, and in what.")
    joins: SideEntry | None = Field(
        default=None, description="Run whose side this one is welded onto as a branch, in place of to."
    )
    find: Literal[True] | None = Field(
        default=None,
        description=("Whether `headergen route` finds its path: write true; a path given beside it is a first guess."),
    )
    path: list[StepEntry] | None = Field(default=None, min_length=1, description="The steps from start to end.")
    steps: GrowthsAsked = Field(default=None, min_length=1, description=ASKED)
    target: Step | None = Field(
        default=None, description="Required length of a run from a port that has one of its own."
    )

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        _one_of_two(self, ("start", "leaves"), ("from", "leaves"), "a run starts at an outlet, a port or another run")
        _one_of_two(self, ("to", "joins"), ("to", "joins"), "a run ends in a place of its own or on another run")
        if not given(self, ("path", "find")):
            raise complain("a run needs its path", "list its straights and bends, or write find: true")
        only_to_find(self, self.path)
        if self.path and self.path[0].joined:
            raise complain(FIRST_JOINED, "take it out", at=("path", 0, "joined"))
        if not isinstance(self.start, int):
            only_with(self, ("target",), "a run from a port")
        if self.leaves is None and not isinstance(self.start, int):
            what = "a run that leaves another or starts at a port; any other begins as the outlet that it comes from"
            only_with(self, ("tube",), what)
        return self


class MirrorPlaneEntry(Entry):
    """The plane between two banks."""

    origin: Point = Field(default=(0.0, 0.0, 0.0), description="A point on the plane. Default: [0, 0, 0].")
    normal: Direction = Field(default=(0.0, 1.0, 0.0), description="Direction square to the plane. Default: left.")

    @model_validator(mode="after")
    def _faces(self) -> Self:
        needs_direction(self.normal, "normal")
        return self


class SpecFile(Entry):
    """A header: its flange or flanges, its primaries and their collectors, in the car they go into."""

    model_config = one_of("flange", "flanges", together={})

    format: Annotated[int, BeforeValidator(spec_format), WithJsonSchema({"const": 1})] = Field(
        description="Format of this file; write 1."
    )
    job: JobEntry = Field(description="Name, revision and date of the job, and for whom it is.")
    units: Unit = Field(
        description=("Unit of every plain length in this file: mm or in. A single figure may name its own: 1-5/8 in.")
    )
    tube: TubeEntry = Field(description="Outside diameter, wall and material of the tube that primaries are made of.")
    stock: Name | None = Field(
        default=None, description="File with the bends and tubes on the shelf, relative to this spec's folder."
    )
    flange: FlangeEntry | None = Field(
        default=None, description="The plate on the head, and the ports in it; for several plates write flanges."
    )
    flanges: dict[FlangeName, FlangeEntry] | None = Field(
        default=None,
        min_length=1,
        description=(
            "The plates on the heads by name, in place of flange; a port's number stands in one of them only."
        ),
    )
    collectors: dict[Name, CollectorEntry] = Field(default={}, description="The collectors by name.")
    secondaries: dict[Name, SecondaryEntry] = Field(
        default={},
        description=("Paths of the tubes from the outlet of one collector, by its name, to the bore of another."),
    )
    length: LengthEntry = Field(default=LengthEntry(), description="How long the primaries should be.")
    limits: LimitsEntry = Field(default=LimitsEntry(), description="What is judged, and how strictly.")
    runs: dict[Name, RunEntry] = Field(
        default={}, description="Further tubes by name: from a collector's outlet, or a port, to a place of their own."
    )
    primaries: dict[Counted, PrimaryEntry] = Field(default={}, description="The tubes by the number of their port.")
    chassis: list[ChassisEntry] = Field(
        default=[], description="Items that must not be touched, each with its clearance."
    )
    mock: MockEntry | None = Field(default=None, description="The full-size print of the header, made by build.")
    lines: dict[Name, LineEntry] = Field(default={}, description="Named lines that tubes may have to run along.")
    route: RouteEntry = Field(default=RouteEntry(), description="How paths may run that `headergen route` finds.")
    shop: ShopEntry = Field(default=ShopEntry(), description="How the shop saws and welds.")
    hand: HandEntry = Field(
        default=HandEntry(),
        description=(
            "Spreads of the hand, or the name of a file with them that several jobs use. Default: common practice."
        ),
    )
    bender: BenderEntry | None = Field(default=None, description="The bender of a shop that bends its own tube.")
    as_built: list[RunAsBuiltEntry] = Field(
        default=[], description="Tubes that are half built, as measured; `headergen correct` closes them from there."
    )
    bosses: list[BossEntry] = Field(default=[], description="Bosses for sensors and gauges.")
    plugs: list[PlugEntry] = Field(default=[], description="Spark plugs, or anything else that a tool must reach.")
    brackets: list[BracketEntry] = Field(default=[], description="Gusset plates between two tubes, welded to both.")
    letter: Literal["A", "B"] | None = Field(
        default=None,
        description=(
            "Letter of this bank, where the engine has two: printed parts begin with it, and their keys "
            "differ from those of the other bank."
        ),
    )
    between_banks: MirrorPlaneEntry | None = Field(
        default=None,
        description=("The plane between the two banks, across which `headergen banks` compares them. Default: y = 0."),
    )
    up: Direction = Field(
        default=(0.0, 0.0, 1.0), description="Direction that is up with the engine as installed. Default: [0, 0, 1]."
    )

    @model_validator(mode="after")
    def _stands(self) -> Self:
        if self.flange is not None and self.flanges is not None:
            message = "flange and flanges are both given, and flange is the short form of a single one"
            hint = "take flange out, or put its keys under flanges, with a name of its own"
            raise complain(message, hint, at=("flange",))
        if self.flange is None and self.flanges is None:
            message = "a header needs its flange: the plate on the head, and the ports in it"
            raise complain(message, "of several plates write flanges: {left: {…}, right: {…}}")
        for key, what in (("collectors", "their collectors by name"), ("primaries", "the tubes by port")):
            if not getattr(self, key) and not any(isinstance(run.start, int) for run in self.runs.values()):
                raise complain(f"{key} is missing", what, at=(key,) if key in self.model_fields_set else ())
        needs_direction(self.up, "up")
        return self

    @property
    def flanges_by_name(self) -> dict[str, FlangeEntry]:
        """All flanges; the short form's flange has an empty name."""
        if self.flanges is not None:
            return self.flanges
        return {} if self.flange is None else {"": self.flange}


# lists of a spec that are read, written, mirrored and renamed by their rows
FITTED = (BOSSES, PLUGS, BRACKETS)
