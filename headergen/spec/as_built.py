"""What was measured of a half-built header: pieces, joints and ends, in the spec's own words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Self

from pydantic import BeforeValidator, Field, ValidationInfo, WithJsonSchema, model_validator

from headergen.geometry.frames import cross, norm, subtract
from headergen.model import Run, primary_name, secondary_name
from headergen.model.built import (
    ACCURACY,
    EndReading,
    FeelerRow,
    JointAsBuilt,
    PieceAsBuilt,
    PlateReading,
    RunAsBuilt,
    TableReading,
)
from headergen.spec.alike import Values, noun_of, values_of
from headergen.spec.complaint import Trouble
from headergen.spec.entry import Entry, exactly_one, given, needs_direction
from headergen.spec.fields import (
    ANGLE,
    ANGLE_SCHEMA,
    LENGTH,
    LENGTH_SCHEMA,
    BendAngle,
    Coordinate,
    Counted,
    Direction,
    Legs,
    Name,
    Opening,
    OvalSize,
    Point,
    Radius,
    SlidingGap,
    Step,
    Tolerance,
    Turn,
    angle,
    complain,
    items,
    length,
    unit_of,
)
from headergen.spec.fitted import run_values
from headergen.spec.plain import mapping_in
from headergen.spec.units import described, shown
from headergen.words.numbers import with_unit

MOST_JOINTS = 99
HOSTS = ("primary", "secondary", "run")  # the keys that name a tube
IN_A_LINE = 0.05  # share of their length by which points must leave a line
FEELERS_AGREE = 0.4  # mm by which two gaps across a hole may add up to more than the other two
FARTHEST_ROWS = 500.0  # mm from the collector plane


def _joint(value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise complain(f"a joint's number is required here, not {described(value)}", "0 is the joint in the flange")
    if not 0 <= value <= MOST_JOINTS:
        raise complain(f"{shown(value)} is not the number of a joint: from 0 to {MOST_JOINTS}")
    return value


Starts = Mapping[str, int | str]
JointNumber = Annotated[int, BeforeValidator(_joint), WithJsonSchema({"type": "integer", "minimum": 0})]
Slight = Annotated[float, angle(-90, 90), WithJsonSchema(ANGLE_SCHEMA), ANGLE]
Pull = Annotated[float, angle(0, 10), WithJsonSchema(ANGLE_SCHEMA), ANGLE]
RowPlace = Annotated[float, length(-FARTHEST_ROWS, FARTHEST_ROWS), WithJsonSchema(LENGTH_SCHEMA), LENGTH]
Apart = Annotated[float, length(1, 1000), WithJsonSchema(LENGTH_SCHEMA), LENGTH]
AS_FAR = 1.01  # by which marks may seem farther apart after welding than before, read by a rule
Marks = Annotated[tuple[Apart, Apart], BeforeValidator(items(2, "a pair of lengths, [before, after],"))]
Gaps = Annotated[
    tuple[SlidingGap, SlidingGap, SlidingGap, SlidingGap],
    BeforeValidator(items(4, "a list of four gaps, at 12, 3, 6 and 9 o'clock,")),
]


class PieceAsBuiltEntry(Entry):
    """A piece as it came from the shelf and the saw; what was not measured is as on the sheets."""

    piece: Counted = Field(description="Number of the piece on the sheets.")
    length: Step | None = Field(default=None, description="Length of a straight, as it is welded in.")
    radius: Radius | None = Field(default=None, description="Centre-line radius of its bend, as measured.")
    angle: BendAngle | None = Field(default=None, description="Degrees of its bend, as measured.")
    legs: Legs | None = Field(
        default=None, description="Lengths of the straights at the ends of its bend: [first, second]."
    )
    oval: OvalSize | None = Field(default=None, description="Outside diameters across its bend: [long, short].")

    @model_validator(mode="after")
    def _something(self) -> Self:
        bend = given(self, ("radius", "angle", "legs", "oval"))
        if self.length is None and not bend:
            raise complain("nothing measured is given", "give length, radius, angle, legs or oval")
        if self.length is not None and bend:
            raise complain("a piece is a straight or a bend", f"take length or {bend[0]} out", at=("length",))
        if self.oval is not None and self.oval[1] > self.oval[0]:
            raise complain("the second diameter of the oval is the larger one", "write [long, short]", at=("oval",))
        return self


class JointAsBuiltEntry(Entry):
    """A joint as it was welded."""

    joint: JointNumber = Field(description="Number of the piece before the joint; 0 is in the flange.")
    marks: Marks | None = Field(
        default=None,
        description=("Distance along the tube of two punch marks on the joint's sides: [before, after] welding."),
    )
    pulled: Pull | None = Field(default=None, description="Degrees by which the weld leaned the piece after it.")
    toward: Turn = Field(
        default=0.0,
        description=(
            "Side to which it leaned: degrees clockwise from the witness line, seen from the flange. Default: 0."
        ),
    )
    clocking: Turn | None = Field(
        default=None, description="Degrees of clocking of the bend after the joint, as measured."
    )

    @model_validator(mode="after")
    def _something(self) -> Self:
        if not given(self, ("marks", "pulled", "clocking")):
            raise complain("nothing measured is given", "give marks, pulled or clocking")
        if self.marks is not None and self.marks[1] > self.marks[0] * AS_FAR:
            raise complain(
                "the marks are farther apart after welding, and a weld only draws them together",
                "write [before, after] welding",
                at=("marks",),
            )
        if "toward" in self.model_fields_set and self.pulled is None:
            raise complain("toward is the side of pulled, which is missing", at=("toward",))
        return self


class BenchReadingEntry(Entry):
    """Where an end is on the table, with one bend lying flat, turning left."""

    flat: Counted = Field(description="Number of the piece whose bend lies flat on the table.")
    height: Coordinate | None = Field(
        default=None, description="Height of the end's centre above that of the bend that lies flat."
    )
    offset: Coordinate | None = Field(
        default=None, description="How far the end's centre is to the left of the line in which that bend starts."
    )
    along: Coordinate | None = Field(
        default=None, description="How far the end's centre is along that line, from the start of that bend."
    )
    lean: Slight | None = Field(
        default=None, description="Degrees by which the end leans against the table, up positive."
    )

    @model_validator(mode="after")
    def _something(self) -> Self:
        if not given(self, ("height", "offset", "along", "lean")):
            raise complain("nothing measured is given", "give height, offset, along or lean")
        return self


class FeelerEntry(Entry):
    """Four gaps round a tube in the hole of a plate."""

    at: RowPlace = Field(description="How far upstream of the collector plane the gaps were taken.")
    gaps: Gaps = Field(
        description=(
            "The four gaps by feeler at 12, 3, 6 and 9 o'clock: 12 is the bore's x axis, clockwise seen from "
            "the flange."
        )
    )


class PlateGaugeEntry(Entry):
    """Where an end is in its locating plate, by feelers."""

    hole: Opening = Field(description="Diameter of the hole in the locating plate.")
    feelers: list[FeelerEntry] = Field(
        min_length=2, description="Feeler gaps as two rows of four, some way apart along the tube."
    )

    @model_validator(mode="after")
    def _can_be(self, info: ValidationInfo) -> Self:
        unit = unit_of(info) or "mm"
        for index, row in enumerate(self.feelers):
            up, right, down, left = row.gaps
            if abs(up + down - right - left) > FEELERS_AGREE:
                message = (
                    f"the gaps at 12 and 6 o'clock are {with_unit(up + down, unit, 2)} together, those at 3 and 9 "
                    f"{with_unit(right + left, unit, 2)}: round a tube both are what the hole is wider"
                )
                raise complain(message, "measure these four again", at=("feelers", index, "gaps"))
        if abs(self.feelers[0].at - self.feelers[-1].at) < 1.0:
            raise complain("both rows are at the same place, so they say nothing of a lean", at=("feelers", 1, "at"))
        return self


class EndEntry(Entry):
    """Where one face of a piece is."""

    after: Counted | None = Field(default=None, description="Number of the piece at whose end the face is.")
    before: Counted | None = Field(default=None, description="Number of the piece at whose start the face is.")
    within: Tolerance = Field(default=ACCURACY, description="How far a reading may be off. Default: 0.3 mm.")
    rim: list[Point] | None = Field(default=None, description="Three or more points on the outer edge of the face.")
    point: Point | None = Field(default=None, description="The centre of the face, in engine axes.")
    direction: Direction | None = Field(
        default=None, description="Direction along the tube at the face, away from the flange."
    )
    mark: Point | None = Field(default=None, description="A point on the witness line of the piece, at that face.")
    table: BenchReadingEntry | None = Field(
        default=None, description="Height, offset and lean of the face on the table."
    )
    plate: PlateGaugeEntry | None = Field(default=None, description="Feeler gaps round the tube in the locating plate.")

    @model_validator(mode="after")
    def _one_place(self) -> Self:
        exactly_one(self, ("after", "before"), "a reading")
        kind = exactly_one(self, ("rim", "point", "table", "plate"), "a reading")
        if kind == "rim":
            self._checked_rim()
        if self.direction is not None:
            if kind != "point":
                raise complain("direction belongs to point", "take it out", at=("direction",))
            needs_direction(self.direction, "direction")
        elif kind == "point":
            raise complain("a point alone does not say which way the tube leaves", "add direction", at=("point",))
        if self.mark is not None and kind not in ("rim", "point"):
            raise complain("mark belongs to rim or point", "take it out", at=("mark",))
        flat, of = self.table and self.table.flat, self.after or self.before or 0
        if flat and flat > of:
            raise complain(f"piece {flat} comes after the face", "lay a bend before it flat", at=("table", "flat"))
        return self

    def _checked_rim(self) -> None:
        rim = self.rim or []
        if len(rim) < 3:
            count = f"{len(rim)} point{'' if len(rim) == 1 else 's'}"
            raise complain(f"{count} on a rim give no circle", "measure three or more, well apart", at=("rim",))
        first = max((subtract(point, rim[0]) for point in rim), key=norm)
        off = max(norm(cross(subtract(point, rim[0]), first)) for point in rim)
        if off <= IN_A_LINE * norm(first) ** 2:
            raise complain("the points on the rim lie in a line", "spread them round the rim", at=("rim",))


class RunAsBuiltEntry(Entry):
    """How far one tube is built, and what was measured of it. Pieces and joints are numbered as on the sheets."""

    primary: Counted | None = Field(default=None, description="Number of the primary.")
    secondary: Name | None = Field(
        default=None, description="Name of the collector whose outlet the tube begins on, where it is no primary."
    )
    run: Name | None = Field(
        default=None,
        description="Name of the run under runs, if it neither leaves nor joins another run's side.",
    )
    welded: list[JointNumber] = Field(
        default=[],
        description=(
            "Joints that are welded, by the number of the piece before each: 0 is in the flange, the last in the bore."
        ),
    )
    tacked: list[JointNumber] = Field(default=[], description="Joints that are tacked, by the same numbers.")
    may_turn: list[JointNumber] = Field(default=[], description="Tacked joints that may be broken and turned.")
    cut: list[Counted] = Field(
        default=[], description="Pieces that are cut, by their numbers, and can only become shorter."
    )
    pieces: list[PieceAsBuiltEntry] = Field(default=[], description="Pieces of the tube, as measured.")
    joints: list[JointAsBuiltEntry] = Field(default=[], description="Joints of the tube, as measured.")
    ends: list[EndEntry] = Field(default=[], description="Where faces of pieces are, as measured.")

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        exactly_one(self, HOSTS, "a tube")
        for index, joint in enumerate(self.tacked):
            if joint in self.welded:
                raise complain(f"joint {joint} is under welded as well", "name it once", at=("tacked", index))
        for index, joint in enumerate(self.may_turn):
            if joint not in self.tacked:
                said = "is welded" if joint in self.welded else "is not tacked"
                raise complain(
                    f"joint {joint} {said}", "only a tacked joint is held and may turn", at=("may_turn", index)
                )
        for key, numbers in (("pieces", [p.piece for p in self.pieces]), ("joints", [j.joint for j in self.joints])):
            for index, number in enumerate(numbers):
                if number in numbers[:index]:
                    message = f"{key.removesuffix('s')} {number} is measured twice"
                    raise complain(message, "keep one", at=(key, index))
        return self


def as_built_of(entries: list[RunAsBuiltEntry], starts: Starts) -> tuple[RunAsBuilt, ...]:
    """`starts`: what each run under `runs` comes from, by its name."""
    return tuple(_run(entry, starts) for entry in entries)


def _run(entry: RunAsBuiltEntry, starts: Starts) -> RunAsBuilt:
    start = entry.primary if entry.primary is not None else entry.secondary or starts.get(entry.run or "", "")
    run = primary_name(start) if isinstance(start, int) else secondary_name(start)
    return noun_of(
        RunAsBuilt,
        entry,
        run=run,
        pieces=tuple(noun_of(PieceAsBuilt, each) for each in entry.pieces),
        joints=tuple(noun_of(JointAsBuilt, each) for each in entry.joints),
        ends=tuple(_end(each) for each in entry.ends),
    )


def _end(entry: EndEntry) -> EndReading:
    plate = entry.plate
    rows = () if plate is None else tuple(noun_of(FeelerRow, row) for row in plate.feelers)
    return noun_of(
        EndReading,
        entry,
        piece=entry.after or entry.before or 0,
        face="end" if entry.after is not None else "start",
        rim=tuple(entry.rim or ()),
        table=entry.table and noun_of(TableReading, entry.table),
        plate=plate and noun_of(PlateReading, plate, feelers=rows),
    )


def as_built_values(built: RunAsBuilt, runs: Mapping[str, Run]) -> Values:
    """The values of an entry, as they are written."""
    run = runs[built.run]
    host = run_values(run)
    if run.end.ends_run:
        host = {"run": run.end.collector}
    lists = ("welded", "tacked", "may_turn", "cut")
    nested = {
        "pieces": [values_of(each, PieceAsBuiltEntry) for each in built.pieces],
        "joints": [_joint_values(each) for each in built.joints],
        "ends": [_end_values(each) for each in built.ends],
    }
    given_lists = {key: list(getattr(built, key)) for key in lists}
    return host | {key: value for key, value in (given_lists | nested).items() if value}


def _joint_values(joint: JointAsBuilt) -> Values:
    return values_of(joint, JointAsBuiltEntry, toward=None if joint.pulled is None else joint.toward)


def _end_values(end: EndReading) -> Values:
    plate = end.plate
    return values_of(
        end,
        EndEntry,
        after=end.piece if end.face == "end" else None,
        before=end.piece if end.face == "start" else None,
        rim=end.rim or None,
        table=end.table and values_of(end.table, BenchReadingEntry),
        plate=plate and {"hole": plate.hole, "feelers": [values_of(row, FeelerEntry) for row in plate.feelers]},
    )


def as_built_troubles(data: dict[str, Any]) -> Iterator[Trouble]:
    """Tubes that are not there, that stand on another one's side, or that are listed twice."""
    listed, seen = data.get("as_built"), set[str]()
    for index, entry in enumerate(listed if isinstance(listed, list) else []):
        for key, names in zip(HOSTS, ("primaries", "secondaries", "runs"), strict=True):
            value = entry.get(key) if isinstance(entry, dict) and len(entry.keys() & set(HOSTS)) == 1 else None
            if not isinstance(value, int | str) or isinstance(value, bool):
                continue
            path, said, known = ("as_built", index, key), str(value).strip(), _known(data, names)
            own = said if key == "run" else _run_from(data, said)
            tube = f"run {own}" if own else f"{key} {said}"
            if said not in known:
                yield Trouble(path, f"there is no {key} {said}", f"there are {', '.join(known)}" if known else "")
            elif _is_on_a_side(data, own):
                yield on_a_side(index, key, own)
            elif tube in seen:
                yield Trouble(path, f"{key} {said} is listed already", "put both into one entry")
            seen.add(tube)


def _known(data: dict[str, Any], names: str) -> list[str]:
    return [str(each).strip() for each in mapping_in(data, names)]


def _run_from(data: dict[str, Any], start: str) -> str:
    """The run that starts from a port or an outlet; empty if there is none."""
    runs = mapping_in(data, "runs")
    starts = {
        str(raw["from"]).strip(): name.strip() for name, raw in runs.items() if isinstance(raw, dict) and "from" in raw
    }
    return starts.get(start, "")


def _is_on_a_side(data: dict[str, Any], run: str) -> bool:
    """Whether a run leaves another one's side, or joins it."""
    raw = next((raw for name, raw in mapping_in(data, "runs").items() if name.strip() == run), None)
    return isinstance(raw, dict) and ("leaves" in raw or "joins" in raw)


def on_a_side(index: int, key: str, run: str) -> Trouble:
    message = f"run {run} stands on the side of another run: an end that is cut to a tube can neither turn nor slide"
    return Trouble(("as_built", index, key), message, "take it out, tack the other tube first, and mark this end on it")
