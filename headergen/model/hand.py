"""The accuracy of a fabricator's hand: the spreads of its errors, and where they are closed out."""

from __future__ import annotations

import math
from dataclasses import dataclass

NINE_IN_TEN = 0.9


@dataclass(frozen=True)
class HandSettings:
    """Spreads (one standard deviation) of a hand's work, and the limits at a closing joint.

    The defaults are common practice, until the shop gives its own. The mean shrinkage of a weld is
    `ShopSettings.shrinkage`; here is its spread. The clearance of a tube in its sleeve is `Collector.gap`.
    """

    clocking: float = math.radians(0.5)  # of a bend's plane against the plane before, or the flange's x
    square: float = math.radians(0.25)  # of a joint, about either axis across the tube
    bend: float = math.radians(0.5)  # of the angle of a bend
    length: float = 0.5  # of a piece
    radius: float = 0.005  # of the centre-line radius, as a share of it
    shrinkage: float = 0.15  # of a joint, about its mean shrinkage
    saddle: float = math.radians(0.15)  # of clocking and squareness where saddles hold the pieces
    spring: float = 1.0  # by which a tube may be sprung sideways to meet another
    turn: float = math.radians(3.0)  # of an end piece in its sleeve, in either direction
    kink: float = math.radians(3.0)  # between the two tubes at the closing joint
    step: float = 0.5  # from skin to skin there, once it is sprung into place
    slip: float = 25.0  # least depth of a slip, if a tube slides out of it or its mouth is cut back for a bend
    spare: float = 15.0  # by which an end piece may slide in its sleeve in either direction, and that may be left on


@dataclass(frozen=True)
class PieceSpread:
    """The spread of the open end once a piece is on, built from the flange, one standard deviation.

    `place` (mm) and `tilt` (rad) are those of the widest direction. `covariance`: 6 × 6, of the end's turn (rad) and
    then its place (mm), about the engine's axes.
    """

    piece: int
    place: float
    tilt: float
    covariance: tuple[tuple[float, ...], ...]


@dataclass(frozen=True)
class Candidate:
    """A joint at which a run could be closed: the share of builds that close, without and with saddles.

    Also the least margin of the run's gaps over their requirement in nine of ten builds (mm; None: it has no gaps).
    """

    joint: int
    closes: float
    closes_with_saddles: float
    to_spare: float | None


@dataclass(frozen=True)
class Closing:
    """The joint at which a run is closed, built toward it from both ends: the number of the piece before it.

    What nine of ten builds need: `turn` (rad) and `slide` (mm) of the end piece in its sleeve, in either direction,
    and at the joint `kink` (rad) and `step` (mm, before any tube is sprung). `end_spare`: left on at the collector
    end, `joint_spare`: at the closing joint; `spare_on`: how much of that is on which piece, by its number (mm).
    `slides`: the least and the most that the end piece may slide, positive into its bore. If it slides by more than
    `bend_at`, its last bend is in the mouth of the sleeve, which is then cut back.
    """

    joint: int
    closes: float
    closes_with_saddles: float
    turn: float
    slide: float
    kink: float
    step: float
    end_spare: float
    joint_spare: float
    spare_on: tuple[tuple[int, float], ...]
    slides: tuple[float, float]
    bend_at: float


@dataclass(frozen=True)
class MadeToMeasure:
    """A straight piece that is cut last: its number, length in nine of ten builds (mm), mitres at most (rad)."""

    piece: int
    shortest: float
    longest: float
    mitre: float


@dataclass(frozen=True)
class AnotherJoint:
    """A joint that no torch reaches as the path is: the number of the piece before it, and which share closes there."""

    joint: int
    closes: float


@dataclass(frozen=True)
class Otherwise:
    """What would close a run in nine of ten builds.

    A slip so much longer (mm), a straight made to measure, or a path that gives room at a joint. `step` (mm) and `kink`
    (rad): what nine of ten builds need at its best joint, and another path should leave less of.
    """

    slip_longer: float | None
    straight: MadeToMeasure | None
    with_room: AnotherJoint | None
    step: float
    kink: float


@dataclass(frozen=True)
class RunByHand:
    """A run built by the shop's hand. `shares`: each kind of error's share of the variance of the open end's place.

    `miss`: how far sideways it is off its bore if it is welded from flange to collector without measuring, in the
    median and in nine of ten builds (mm); `drops_in`: the share of such builds that go in. `closing`: None if it has no
    joint to close at.
    """

    run: str
    pieces: tuple[PieceSpread, ...]
    shares: tuple[tuple[str, float], ...]
    miss: tuple[float, float]
    drops_in: float
    closing: Closing | None
    candidates: tuple[Candidate, ...] = ()
    otherwise: Otherwise | None = None  # where no joint closes in nine of ten builds

    @property
    def closes_in_nine_of_ten(self) -> bool:
        return self.closing is not None and self.closing.closes >= NINE_IN_TEN


@dataclass(frozen=True)
class GapByHand:
    """What nine of ten builds keep of a gap, to first order: `open`, `held` and `closed`; and `drawn`, by simulation.

    `open`: welded from the flange on; `held`: both ends held and made to meet anywhere; `closed`: as on the sheets.
    `drawn`: as on the sheets, in simulated builds (mm); None if the gap is so wide that none were simulated. `judged`:
    `nine_in_ten` applies to it; false for tubes that may touch. `share`: of it, where tubes converge on a collector and
    less than the full gap is required.
    """

    a: str
    b: str
    nominal: float
    open: float
    held: float
    closed: float
    drawn: float | None
    judged: bool
    point: tuple[float, float, float]
    share: float = 1.0

    @property
    def left(self) -> float:
        """The value that is judged: that of simulated builds, if there are any."""
        return self.closed if self.drawn is None else self.drawn


@dataclass(frozen=True)
class ByHand:
    """All runs and gaps of a header as built by the shop's hand."""

    runs: tuple[RunByHand, ...]
    gaps: tuple[GapByHand, ...]

    def closing_of(self, run: str) -> Closing | None:
        return next((each.closing for each in self.runs if each.run == run), None)
