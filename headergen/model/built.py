"""A tube that is half built: what was measured of its pieces, joints and ends, and what closes it from there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from headergen.model.path import Vec, Vec2
from headergen.model.shop import BenchHeight, CutTemplate, TurnMark

ACCURACY = 0.3  # mm by which a reading may be off, if it does not say


@dataclass(frozen=True)
class PieceAsBuilt:
    """What was measured of a piece; None: as on the sheets. `oval`: outside diameters, the larger one first.

    `length`: of a straight, net.
    """

    piece: int  # along its run, counted from 1
    length: float | None = None
    radius: float | None = None
    angle: float | None = None
    legs: Vec2 | None = None
    oval: Vec2 | None = None


@dataclass(frozen=True)
class JointAsBuilt:
    """What was measured of a joint. `marks`: apart, along the tube, of two marks before and after welding.

    `pulled`: how far the weld has leaned the piece after it, `toward` which side, seen from the flange along the tube,
    clockwise from the witness line on the piece before. `clocking`: of the bend after it, as measured.
    """

    joint: int  # the number of the piece before; 0: in the flange
    marks: Vec2 | None = None
    pulled: float | None = None
    toward: float = 0.0
    clocking: float | None = None


@dataclass(frozen=True)
class TableReading:
    """Where an end is on the table, with a bend lying flat that turns left, from the start of that bend.

    `height` of the end's centre above the bend's, `offset` to the left, `along` the direction at the start; `lean`
    against the table, up positive. None: not measured.
    """

    flat: int  # the number of its piece
    height: float | None = None
    offset: float | None = None
    along: float | None = None
    lean: float | None = None


@dataclass(frozen=True)
class FeelerRow:
    """Gaps between a tube and the hole of a plate, at 12, 3, 6 and 9 o'clock, `at` mm from the collector plane.

    12 o'clock is the x axis of the bore, clockwise seen from the flange along the tube; `at`: upstream is positive.
    """

    at: float
    gaps: tuple[float, float, float, float]


@dataclass(frozen=True)
class PlateReading:
    """Where the end of a tube is in its bore's place, by feelers in two rows. `hole`: diameter of the plate's hole."""

    hole: float
    feelers: tuple[FeelerRow, ...]


@dataclass(frozen=True)
class EndReading:
    """Where a face of a piece is: one of rim, point, table, plate.

    `rim`: points on the outer edge of the face. `point` and `direction` of travel there. `mark`: a point on its witness
    line, which is on the inside of its bend. `within`: how far a reading may be off (mm).
    """

    piece: int
    face: Literal["start", "end"] = "end"
    within: float = ACCURACY
    rim: tuple[Vec, ...] = ()
    point: Vec | None = None
    direction: Vec | None = None
    mark: Vec | None = None
    table: TableReading | None = None
    plate: PlateReading | None = None


@dataclass(frozen=True)
class RunAsBuilt:
    """How far a run is built. Joints by the piece before them: 0 is in the flange, the last one is in the bore.

    `welded` and `tacked` joints stay as they are, but tacked ones in `may_turn` may be turned. `cut` pieces have their
    lengths; all others may still be cut otherwise.
    """

    run: str
    welded: tuple[int, ...] = ()
    tacked: tuple[int, ...] = ()
    may_turn: tuple[int, ...] = ()
    cut: tuple[int, ...] = ()
    pieces: tuple[PieceAsBuilt, ...] = ()
    joints: tuple[JointAsBuilt, ...] = ()
    ends: tuple[EndReading, ...] = ()

    def piece(self, number: int) -> PieceAsBuilt | None:
        return next((each for each in self.pieces if each.piece == number), None)

    def joint(self, number: int) -> JointAsBuilt | None:
        return next((each for each in self.joints if each.joint == number), None)


ActKind = Literal["turn", "slide", "length", "angle", "tilt"]


@dataclass(frozen=True)
class Act:
    """One step of work that closes a run, as a change from the sheets.

    turn: piece `piece` about the tube at the joint before it, `amount` rad, clockwise seen from the flange; slide: the
    end piece by `amount` mm into its bore; length: of the straight, or of the `end` leg of the bend, of `piece`, by
    `amount` mm; angle: of the bend of `piece`, by `amount` rad; tilt: the start of `piece` is cut off square by
    `amount` rad, so that the piece leans `toward` (rad, clockwise seen from the flange, from the witness line there).
    """

    kind: ActKind
    piece: int
    amount: float
    toward: float = 0.0
    end: Literal["start", "end"] = "end"


@dataclass(frozen=True)
class LeftOver:
    """What the readings of a face leave when they are brought together: root mean square, and each reading's own.

    In multiples of `within`; `off`: how far the face is from where its pieces put it (mm, rad).
    """

    piece: int
    face: Literal["start", "end"]
    rms: float
    each: tuple[float, ...]
    off: Vec2


@dataclass(frozen=True)
class Correction:
    """How a half-built run is closed from its measured ends, or what is missing for that.

    `across` (mm) and `lean` (rad): how far its end is from its bore, or from the piece that waits there, if nothing is
    done. `acts`: the least work found; empty if none is needed or nothing closes it. `missing`: the freedoms that
    nothing left to cut has; `open_joint`: cut open, it closes the run; None if that is not so for any one joint.
    """

    run: str
    closes: bool
    across: float
    lean: float
    acts: tuple[Act, ...] = ()
    missing: tuple[Literal["sideways", "tilt", "along"], ...] = ()
    open_joint: int | None = None
    left: tuple[LeftOver, ...] = ()
    slide: float = 0.0  # mm by which the end is past its place in the bore, once closed


@dataclass(frozen=True)
class PieceNow:
    """A figure of a piece that a correction changes, as planned and now: mm, or rad for an angle."""

    piece: int
    what: Literal["length", "first leg", "second leg", "angle", "radius"]
    planned: float
    now: float


@dataclass(frozen=True)
class CorrectedRun:
    """What the bench needs of a correction: figures that differ from the sheets, turns and heights as they are now.

    `lengths`: of its centreline, planned and now. `apart`: of the tube from the path that is written for it at most
    (mm); None if none is written, `why` not.
    """

    correction: Correction
    lengths: Vec2
    pieces: tuple[PieceNow, ...] = ()
    turns: tuple[TurnMark, ...] = ()
    heights: tuple[BenchHeight, ...] = ()
    templates: tuple[CutTemplate, ...] = ()
    apart: float | None = None
    why: str = ""
