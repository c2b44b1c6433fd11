"""The fit mock: its print settings, and what was made."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from headergen.model.path import Plane, Vec


@dataclass(frozen=True)
class Datum:
    """A reference point to which plates are bolted or strapped: its place in engine axes, the diameter of its hole."""

    name: str
    at: Vec
    hole: float


@dataclass(frozen=True)
class MockSettings:
    """Print settings of the fit mock. Lengths in millimetres, `lean` in radians from the vertical."""

    bed: Vec = (220.0, 220.0, 250.0)
    gap: float = 0.2  # clearance on each side between spigot and socket
    wall: float = 2.0  # least wall of spigots and of the rings of sockets, measured level as they are printed
    tube_wall: float = 1.2  # of tubes between their joints, and of steel adapters: two lines of 0.6 mm
    spigot: float = 10.0
    lean: float = math.radians(50)  # a tube that leans more is divided
    straights: Literal["printed", "steel"] = "printed"
    flange: bool = True
    density: float = 1.24  # g/cm³, of polylactic acid
    plates: bool = True  # locating plates
    collector: bool = False
    cut_guides: bool = False
    saddles: bool = False  # one for each joint of the steel
    weight: float = 500.0  # g, hung on the far end of each primary besides its own
    table: Plane | None = None  # on which the locating plates stand
    datums: tuple[Datum, ...] = ()
    without_key: tuple[tuple[str, int], ...] = ()  # run, and number of its joint
    steel_after: tuple[tuple[str, int], ...] = ()  # the same: joints where steel follows plastic
    letter: str = ""  # of the header's bank; all part names begin with it
    units: str = "mm"  # of the job, for the lengths in its texts


MockKind = Literal[
    "flange plate", "tube", "nipple", "collector", "locating plate", "steel adapter", "cut guide", "saddle", "coupon"
]


@dataclass(frozen=True)
class PrintedPart:
    """The facts of one printed part; `collector`: the one that it stands for, or whose tubes it is for.

    `pieces` are those of the shop's plan that it stands for; `share`: which it is of how many that one piece is
    printed in, from the flange on.
    """

    name: str
    runs: tuple[str, ...]
    pieces: tuple[int, ...]
    size: Vec  # as placed on the bed
    volume: float  # mm³
    smallest_section: float  # mm², square to the tube
    overhang: float  # share of its skin that overhangs more than the lean allows
    build_plate: int  # counted from 1
    stress: float = 0.0  # MPa, at its weakest section; 0 if no weight hangs on it
    notes: tuple[str, ...] = ()
    share: tuple[int, int] = (1, 1)
    kind: MockKind = "tube"
    collector: str = ""


@dataclass(frozen=True)
class SaddleFacts:
    """What holds the pieces at one joint, `joint` of `run`, while they are tacked.

    Of the piece before the joint, then of the one after: `lines`, what shows in the slot of its rib, in words;
    `holds_turn`, whether a rib is so far in its bend that the bend sets its turn.
    """

    name: str
    run: str
    joint: int
    lines: tuple[str, str]
    holds_turn: tuple[bool, bool]


@dataclass(frozen=True)
class SeatFacts:
    """A tube on the side of others in print: `part` sits on `on`, a part or several of the run called `host`.

    `nipple`: what joins it to the part before it where the tube ends there; "" where it begins there, with pins.
    """

    run: str
    part: str
    host: str
    on: tuple[str, ...]
    nipple: str


@dataclass(frozen=True)
class SteelStraight:
    """Real tube that stands in the mock for a straight piece of the plan, or for a leg of a bend: sawn square.

    Its `length` is shorter than the straight by `in_stub`, which the flange plate has of it, and longer by `past`, as
    far as the locating plates ask for. `before` and `after`: what stands in its ends, by name; "" for nothing. `size`:
    outside diameter and wall of its tube, where its run has several.
    """

    name: str
    run: str
    piece: int
    length: float
    in_stub: float
    past: float
    before: str
    after: str
    is_leg: bool = False
    size: tuple[float, float] | None = None


@dataclass(frozen=True)
class CutGuide:
    """A sleeve with its face on a cut that is not square, for the tubes of a collector.

    `angle`: radians from square, of a mitre; 0 for an end that follows more than one plane. `reach`: mm along the tube
    from the guide's square end to the middle of the mitre; negative if the mitre is left of that end.
    """

    name: str
    collector: str
    what: str
    count: int
    diameter: float  # outside, of the tube
    angle: float
    reach: float
