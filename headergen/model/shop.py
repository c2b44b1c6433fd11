"""What the workshop handles: pieces, joints, the stock they are cut from, and the marks for cutting and turning."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from headergen.model.hand import ByHand
from headergen.model.path import Vec


class PlanError(RuntimeError):
    """The solver stopped before it had the best plan; the message is the solver's."""


@dataclass(frozen=True)
class ShopSettings:
    """How the shop saws and welds; common practice until the shop gives its own values."""

    kerf: float = 1.0  # width of the saw cut
    dressing: float = 1.0  # ground off each face
    shrinkage: float = 0.4  # of a butt joint, along the tube
    trim: float = 3.0  # left on at the collector end, until all are trimmed in one plane
    clamp: float = 40.0  # of straight that a clamp needs
    apart: float = 15.0  # between two joints, on the inside of a bend
    cup: float = 12.7  # diameter of the torch's cup: room between a joint and another tube
    reach: float = 60.0  # of the torch: room that it needs outward from a joint
    print_scale: tuple[float, float] = (100.0, 100.0)  # printed size of 100 mm, across and up
    spares: int = 0  # of each kind of bend used, ordered besides what is needed
    mitre_under: float = math.radians(12)  # angle of a bend below which a mitred joint is offered instead

    @property
    def between(self) -> float:
        """Lost between two pieces of one bend: the kerf, and the dressing of both faces."""
        return self.kerf + 2 * self.dressing


@dataclass(frozen=True)
class Bender:
    """The shop's own bender. `springback`: how far (rad) a bend opens again, at some angles, in order."""

    radii: tuple[float, ...]
    min_straight: float  # between two bends
    clamp: float  # of straight that its clamp holds, also after the last bend
    springback: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class PieceEnd:
    """The origin of an end of a piece.

    `arc`: cut inside a bend, where the tube is oval; `square`: cut across a straight; `bought`: as it is on the shelf;
    `lean`: cut across a straight to the lean of its port, its net line and what is left on at the longest side.
    `leave_on`: mm beyond the net line at which the saw cuts, for dressing, shrinkage and trimming; for a bought end,
    what it has there. `room`: mm that can be left on there.
    """

    cut: Literal["arc", "square", "bought", "lean"]
    leave_on: float = 0.0
    room: float = math.inf


@dataclass(frozen=True)
class CutPiece:
    """A piece cut from one item of stock, net: from `start` to `end`, lengths from the start of the run.

    A straight has angle and radius 0, and its length as first leg. A start sawn to a lean counts from its longest side,
    which may be before the start of the run. `taken`: the place in its item, in mm from the end of a straight, or in
    radians from the first leg of a bend; None if no stock has it.
    """

    run: str
    number: int  # along its run, counted from 1 at its start
    start: float
    end: float
    legs: tuple[float, float]
    angle: float
    radius: float
    step: int | None  # of the bend, counted from 1
    ends: tuple[PieceEnd, PieceEnd]
    clampable: bool
    item: int | None  # of the plan, counted from 1
    taken: tuple[float, float] | None = None
    kept_leg: Literal["first", "second", "both", ""] = ""  # the legs of its stock bend that it keeps
    turned: bool = False  # it runs from the second leg of its stock bend to the first

    @property
    def is_bend(self) -> bool:
        return self.angle > 0.0

    @property
    def length(self) -> float:
        return self.end - self.start

    @property
    def sawn_length(self) -> float:
        """Its length along its middle as sawn, with what is left on at both ends."""
        return self.length + sum(end.leave_on for end in self.ends)


@dataclass(frozen=True)
class WeldJoint:
    """The weld between a piece and the next one of its run, `at` mm from the start of the run.

    `clocking` is the angle about the travel from the plane of the bend before, or from the flange's x axis, to the
    plane of the bend in the next piece; None if that is a straight, which has no plane. `blocked`: a rule it breaks, in
    words. `hi_lo`: the largest step from wall to wall where a bend is cut inside its oval arc, as the bends come (mm).
    """

    run: str
    number: int  # that of the piece before
    at: float
    clocking: float | None
    blocked: str = ""
    hi_lo: float = 0.0


@dataclass(frozen=True)
class StockItem:
    """One bend or straight off the shelf, and its pieces as (run, piece) in the order of cutting."""

    number: int
    kind: Literal["bend", "straight"]
    index: int  # in the stock list, counted from 0
    pieces: tuple[tuple[str, int], ...]
    on_hand: bool


@dataclass(frozen=True)
class PlanFigures:
    """The figures by which a plan is judged, the most important first."""

    missing: int  # bends that no stock holds
    broken: int  # preferences not met: joints too near each other, out of the torch's reach, inside a slip, or excluded
    joints: int
    arc_cuts: int  # ends of pieces that are inside an arc of their stock
    unclampable: int
    cost: float  # of bends to buy, and of straight tube by length


@dataclass(frozen=True)
class Plan:
    """Pieces and joints of all runs, and the stock they are cut from."""

    pieces: tuple[CutPiece, ...]
    joints: tuple[WeldJoint, ...]
    items: tuple[StockItem, ...]
    figures: PlanFigures

    def of_run(self, run: str) -> tuple[CutPiece, ...]:
        return tuple(piece for piece in self.pieces if piece.run == run)

    def joints_of(self, run: str) -> tuple[WeldJoint, ...]:
        return tuple(joint for joint in self.joints if joint.run == run)


@dataclass(frozen=True)
class RunLengths:
    """The different lengths of a run.

    `centreline`: from the start of the run (a port's face) to the collector plane. `cut`: of its tube, net, without
    setback and transition, from the longest side of an end sawn to a lean, into the slip. `sawn`: of its pieces as
    sawn, with what is left on.
    """

    run: str
    centreline: float
    cut: float
    sawn: float


@dataclass(frozen=True)
class CutMark:
    """Where one end of a piece is sawn.

    `measured_from`: the end of the leg of its stock bend, or of its bar, from which the distances (mm) to the net line
    are measured along the outside, the middle and the inside; all three are equal on a straight. `angle`: of the bend
    from the end of that leg (rad; 0 on a straight). `chords`: from there to the line, by caliper on the outside and on
    the inside. The saw cuts `leave_on` mm beyond the net line, which is `leave_on_angle` of the bend.
    """

    run: str
    piece: int
    end: Literal["start", "end"]
    item: int
    measured_from: Literal["first leg", "second leg", "bar"]
    outside: float
    middle: float
    inside: float
    angle: float = 0.0
    chords: tuple[float, float] | None = None
    leave_on: float = 0.0
    leave_on_angle: float = 0.0

    @property
    def saw_at(self) -> float | None:
        """On a straight: how far the saw is from the start of the measure.

        A bar's piece gets longer by what is left on; of a leg, less is cut off.
        """
        if self.chords is not None:
            return None
        return self.middle + (self.leave_on if self.measured_from == "bar" else -self.leave_on)


@dataclass(frozen=True)
class TurnMark:
    """The turn of a bend against what is before it, given in three ways.

    `joint`: the number of the piece before it; 0 if the first piece is a bend and turns from the flange's x.
    `turns_from`: the piece whose bend plane the turn counts from; 0: the flange's x axis. `angle`: rad, positive
    clockwise when looking from the flange along the tube. `arc`: on the outside of the tube, from mark to mark.
    `level`: the reading of a level across the bend's plane when that of `turns_from` lies flat, bend to the left: up is
    positive, −90° to 90°. `same_side`: it bends to the same side as that one when seen from above, else back.
    """

    run: str
    joint: int
    piece: int
    turns_from: int
    angle: float
    arc: float
    level: float
    same_side: bool


@dataclass(frozen=True)
class BenchHeight:
    """Where the far end of a part-built tube is, once `piece` is on, with the bend of piece `flat` lying flat.

    The bend lies so that it turns left when looking from the flange along the tube. Lengths in mm from the start of
    that bend: `along` its direction there, `offset` to the left, `height` of the end's centre above the centre of the
    bend; `lean` of the end against the table, up positive.
    """

    run: str
    piece: int
    flat: int
    along: float
    offset: float
    height: float
    lean: float


@dataclass(frozen=True)
class LeaningStart:
    """The direction in which a tube leaves its flange, if that is not square.

    `lean`: from the flange's normal; `toward`: where it leans to, from the flange's x toward its y. `along_x` and
    `along_y`: the same lean as seen along y and along x, which is what a bevel on the face shows with its stock along x
    and along y; positive toward x and y. Radians.
    """

    run: str
    lean: float
    toward: float
    along_x: float
    along_y: float


@dataclass(frozen=True)
class LeanCut:
    """The first end of a tube that leans on its flange, sawn to the lean; `name`: that of its template.

    `angle`: of the saw from square. `clock`: of the longest side from x of the flange, `from_line`: from the line
    scribed on the middle of its bend's outside, None if the first piece has no bend; both positive clockwise when
    looking from the flange along the tube. `sides`: the longest and the shortest side (mm) along the first straight,
    to its end or to where its bend begins. Radians.
    """

    run: str
    name: str
    radius: float
    angle: float
    clock: float
    from_line: float | None
    sides: tuple[float, float]


@dataclass(frozen=True)
class FinishedTube:
    """A finished tube: from the centre of its port on the flange face to the centre of its end.

    `out` along the flange's normal, `x` and `y` along its axes (mm); `lean` between the end's direction and the normal.
    A secondary is measured in the same way from the outlet where it starts.
    """

    run: str
    out: float
    x: float
    y: float
    lean: float


@dataclass(frozen=True)
class MitreOffer:
    """A mitred joint that could replace a slight bend: two straights, each cut at half the bend's angle.

    Each is longer by `setback` than the straight beside the bend. `longer`: the change of the run's centreline, mm.
    `off`: how far the corner is outside the middle of the bend. `ordinates`: of the wrap template, mm from the middle
    of the cut, at equal parts of the circumference, starting at the outside of the corner. `pieces` and `joints` that
    it saves if this run is planned alone.
    """

    run: str
    step: int
    angle: float
    cut_angle: float
    setback: float
    longer: float
    off: float
    ordinates: tuple[float, ...]
    pieces: int
    joints: int


@dataclass(frozen=True)
class BentRow:
    """One bend of a tube from the shop's own bender: feed by `feed` mm, turn by `rotation`, bend to `set_angle`.

    `angle` is left after springback. `corner`: where its straights would meet; None for a bend of 180°.
    """

    step: int
    radius: float
    feed: float
    rotation: float
    angle: float
    set_angle: float
    corner: Vec | None


@dataclass(frozen=True)
class BentTube:
    """A run made of one piece on the shop's own bender.

    `blank`: mm of tube as sawn: the cut length plus `dressing` mm on either face, what is trimmed, and `for_clamp` mm
    at the end that only the clamp holds and that are cut off. Feeds count from the first face once it is dressed.
    `last` is the straight after the last bend, net. `start` and `end` are those of its centreline.
    """

    run: str
    rows: tuple[BentRow, ...]
    last: float
    blank: float
    for_clamp: float
    dressing: float
    start: Vec
    end: Vec


@dataclass(frozen=True)
class CutTemplate:
    """A cut across a straight tube of `radius` mm that is not square to it, as a template to wrap round the outside.

    `heights`: of the cut above the base line, at equal steps round the tube from the witness line; they go to the right
    when the cut is up and the tube is seen from outside. The base line is square to the tube, `base` mm along it from
    the middle of the mitre, positive toward the collector's outlet. `count`: tubes with this cut; `bores`: which, where
    not all of them have it. Of a fishmouth, `collector` is the run that the tube `run` stands on, with its first end if
    `at_start`; `base` counts from its axis. Of a first end sawn to its lean, `collector` is the flange of the tube
    `run`, the cut is toward it, the witness line on the longest side, and `base` counts from the middle of the cut.
    """

    name: str
    collector: str
    what: Literal["mitre", "end", "fishmouth", "lean"]
    radius: float
    count: int
    base: float
    heights: tuple[float, ...]
    bores: tuple[int, ...] = ()
    run: str = ""
    at_start: bool = True


@dataclass(frozen=True)
class HoleTemplate:
    """The hole in the tube of `host`, of `radius` mm, for the tube `run` on its side: a template to wrap round it.

    `edge`: the hole on the outside of `host`, and `seat`: where the outside of `run` stands on it. Of each place, the
    first value goes round, in radians, and the second along, in mm, from where both axes meet; with the end of `host`
    up, seen from outside, positive turns go to the left. That place is `at` mm from the start of `host` along its
    middle, on the side that faces `out`. `name`: that of the template of the fishmouth.
    """

    name: str
    run: str
    host: str
    radius: float
    at: float
    out: Vec
    edge: tuple[tuple[float, float], ...]
    seat: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Weld:
    """Seams of one kind: what they join, how many there are, and their length together, mm."""

    what: str
    count: int
    length: float


@dataclass(frozen=True)
class Shop:
    """The bench of a header as numbers."""

    plan: Plan
    lengths: tuple[RunLengths, ...]
    cuts: tuple[CutMark, ...] = ()
    turns: tuple[TurnMark, ...] = ()
    heights: tuple[BenchHeight, ...] = ()
    finished: tuple[FinishedTube, ...] = ()
    leaning: tuple[LeaningStart, ...] = ()
    notes: tuple[str, ...] = ()
    mitres: tuple[MitreOffer, ...] = ()
    bent: tuple[BentTube, ...] = ()
    templates: tuple[CutTemplate, ...] = ()
    holes: tuple[HoleTemplate, ...] = ()  # in tubes that carry others on their side
    lean_cuts: tuple[LeanCut, ...] = ()  # of tubes that lean on their flange
    welds: tuple[Weld, ...] = ()
    by_hand: ByHand | None = None  # where each run is closed, and the spreads; None: not computed
