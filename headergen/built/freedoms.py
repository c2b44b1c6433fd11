"""What may still be changed in a half-built run: by which work, how far, and what that costs."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from headergen.built.chain import ANGLE, BEFORE, FIRST, LAST, TILT_X, TILT_Y, TURN
from headergen.built.sizes import cone_of, taken_in
from headergen.built.state import HalfBuilt, group_of
from headergen.model import CutPiece, Stock
from headergen.model.built import ActKind
from headergen.shop.sizes import piece_tube

LEAST_STRAIGHT = 10.0  # mm of a straight piece or a leg that is trimmed
LONGER = 100.0  # mm by which a piece is cut longer from stock
TURNS = math.radians(20)  # by which a piece is turned from its mark at most
BENDS = math.radians(5)  # by which a bend is cut at another angle at most
MM, DEGREE = 1.0, math.radians(1)
# what a work costs as soon as it is done, and for each mm or degree: sliding and turning need no saw, a cut off square
# needs a template, another angle needs another bend
COSTS: dict[ActKind, tuple[float, float]] = {
    "slide": (0.3, 0.3),
    "turn": (0.5, 0.5),
    "length": (1.0, 0.5),
    "tilt": (1.5, 2.0),
    "angle": (2.5, 2.0),
}


@dataclass(frozen=True)
class Freedom:
    """A value of a piece that may change between `low` and `high`; the two of a tilt belong together.

    `piece`: from 0, the one whose value it is; `of`: from 0, the one that is worked on. `fixed` and `by_unit`: its cost
    as soon as it is used, and for each mm or rad.
    """

    kind: ActKind
    piece: int
    value: int
    low: float
    high: float
    of: int
    end: str = "start"

    @property
    def unit(self) -> float:
        return MM if self.kind in ("slide", "length") else DEGREE

    @property
    def fixed(self) -> float:
        return COSTS[self.kind][0]

    @property
    def by_unit(self) -> float:
        return COSTS[self.kind][1] / self.unit


WorkKey = tuple[ActKind, int, int, str]


def work_of(each: Freedom) -> WorkKey:
    """What is done as one: both values of a lean are one cut."""
    return each.kind, each.piece, each.of, each.end


def freedoms_of(half: HalfBuilt, stock: Stock | None) -> tuple[Freedom, ...]:
    """All that may be changed between what is held on the flange and what is held in the bore, without the slide."""
    first, last = half.on_flange, half.size - half.in_bore
    found: list[Freedom] = []
    for k in range(first, last):
        found += _joint(half, k)
        found += _piece(half, k, stock)
    if half.in_bore:
        found += _tilts(half, last)
    if 0 < first < last + bool(half.in_bore):
        found += _trim(half, first - 1, first)
    return tuple(found)


def _joint(half: HalfBuilt, k: int) -> Iterator[Freedom]:
    """The joint at the start of piece k: a straight turns with the next piece, unless that is held to it."""
    if k in half.held:
        return
    is_sawn = k == 0 and half.tube.sawn > 0 and 1 in half.built.cut  # to the lean of its port, so it turns no more
    if not is_sawn and any(half.pieces[i].angle > 0 for i in group_of(half, k)):
        yield Freedom("turn", k, TURN, -TURNS, TURNS, k)
    if k not in half.turning and not taken_in(half.tube, k):
        yield from _tilts(half, k)


def _tilts(half: HalfBuilt, k: int) -> Iterator[Freedom]:
    """A face cut off square; either half of the largest kink leaves both together within it."""
    if k == 0 or k >= half.size or k in half.held or k in half.turning or cone_of(half.tube, k) is not None:
        return
    most = half.tube.hand.kink / math.sqrt(2)
    for value in (TILT_X, TILT_Y):
        yield Freedom("tilt", k, value, -most, most, k)


def _piece(half: HalfBuilt, k: int, stock: Stock | None) -> Iterator[Freedom]:
    """Longer or shorter pieces, and bends at another angle; only what a saw can do to what is not held.

    What takes in the piece before stays straight as far as that reaches. A cone is as it was made.
    """
    if cone_of(half.tube, k) is not None:
        return
    piece, cut = half.pieces[k], half.tube.pieces[k]
    holds = [joint in half.held or joint in half.turning for joint in (k, k + 1)]
    is_last = k == half.size - 1
    whole = not any(holds) and (k + 1) not in half.built.cut
    if piece.angle == 0:
        free_end = not holds[0] or (not holds[1] and not is_last)
        if free_end and not (is_last and half.tube.collector.slip > 0):
            longer = LONGER if whole else 0.0
            yield Freedom("length", k, FIRST, -max(piece.first - _least(half, k), 0.0), longer, k)
        return
    if not holds[0]:
        low, high = _leg(cut, 0, piece.first, whole)
        low = min(low + taken_in(half.tube, k) + _sawn(half, k), 0.0)
        yield Freedom("length", k, FIRST, low, high, k, "start")
    if not holds[1] and not (is_last and half.tube.collector.slip > 0):
        low, high = _leg(cut, 1, piece.last, whole)
        yield Freedom("length", k, LAST, low, high, k, "end")
    if whole and cut.kept_leg != "both":
        yield Freedom("angle", k, ANGLE, -min(BENDS, piece.angle / 2), _sharper(half, k, stock), k)


def _least(half: HalfBuilt, k: int) -> float:
    """How long a straight piece stays (mm): long enough for its clamp, for what goes into it, and for its first cut."""
    return max(LEAST_STRAIGHT + _sawn(half, k), taken_in(half.tube, k))


def _sawn(half: HalfBuilt, k: int) -> float:
    """How much of piece k, from 0, is inside the cut of a tube that leans on its flange (mm)."""
    return half.tube.sawn if k == 0 else 0.0


def _leg(cut: CutPiece, which: int, leg: float, whole: bool) -> tuple[float, float]:
    """How much shorter and longer a leg may be cut: never longer than its bend came with."""
    end = cut.ends[which]
    if end.cut == "arc" or leg <= 0:
        return 0.0, 0.0
    room = end.room - end.leave_on if math.isfinite(end.room) and end.cut != "bought" else 0.0
    return -leg, max(room, 0.0) if whole else 0.0


def _sharper(half: HalfBuilt, k: int, stock: Stock | None) -> float:
    """How much more angle the stock of a bend has; a list that does not say its tube is of the run's first one."""
    cut, run = half.tube.pieces[k], half.tube.run
    tube = piece_tube(run, cut)
    bends = () if stock is None or tube is None else stock.bends_of(tube, run.tube)
    if not bends and (stock is None or tube != run.tube):
        return BENDS
    angles = [bend.real_angle for _, bend in bends if abs(bend.radius - cut.radius) < 1.0]
    return min(BENDS, max(max(angles, default=cut.angle) - cut.angle, 0.0))


def _trim(half: HalfBuilt, k: int, before: int) -> Iterator[Freedom]:
    """The end of the last piece that is held may be cut back, as far as it is straight."""
    if before < half.size and before in half.held | half.turning:
        return
    if cone_of(half.tube, k) is not None:
        return
    piece = half.pieces[k]
    straight = piece.first - _least(half, k) if piece.angle == 0 else piece.last
    if straight > 0 and before < half.size:
        yield Freedom("length", before, BEFORE, -straight, 0.0, k, "end")
