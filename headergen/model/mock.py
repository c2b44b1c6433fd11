"""The fit mock: its print settings, and what was made."""

from __future__ import annotations

import math
from dataclasses import dataclass

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
    wall: float = 2.0  # least wall anywhere
    spigot: float = 10.0
    lean: float = math.radians(50)  # a tube that leans more is divided
    flange: bool = True
    density: float = 1.24  # g/cm³, of polylactic acid
    plates: bool = True  # locating plates
    collector: bool = False
    cut_guides: bool = False
    weight: float = 500.0  # g, hung on the far end of each primary besides its own
    table: Plane | None = None  # on which the locating plates stand
    datums: tuple[Datum, ...] = ()
    without_key: tuple[tuple[str, int], ...] = ()  # run, and number of its joint
    steel_after: tuple[tuple[str, int], ...] = ()  # the same: joints where steel follows plastic
    letter: str = ""  # of the header's bank; all part names begin with it
    units: str = "mm"  # of the job, for the lengths in its texts


@dataclass(frozen=True)
class PrintedPart:
    """The facts of one printed part; `pieces` are the header's pieces that it stands for, wholly or in part."""

    name: str
    runs: tuple[str, ...]
    pieces: tuple[int, ...]
    size: Vec  # as placed on the bed
    volume: float  # mm³
    smallest_section: float  # mm², square to the tube
    overhang: float  # share of its skin that overhangs more than the lean allows
    bed_plate: int  # counted from 1
    stress: float = 0.0  # MPa, at its weakest section; 0 if no weight hangs on it
    notes: tuple[str, ...] = ()


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
