"""The results: exact centrelines, the Survey of a header, and its parts."""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass, replace

from headergen.model.finding import Finding
from headergen.model.hand import ByHand
from headergen.model.inputs import Draft, Fit, Run, Source
from headergen.model.path import Centreline, Vec
from headergen.model.scan import MeshFacts
from headergen.model.suggestion import Help

COLD = "cold"  # the pose of a header at rest and cold
PRESSED = 0.01  # mm by which tubes that touch in a bundle may read as crossing


@dataclass(frozen=True)
class Miss:
    """A run with values to fit that could not be closed within their limits.

    `along`, `across`, `angle`: the end of the best path found, as in End; `length_off`: its developed length minus the
    target (0 without a target). `at_limits` are the fits that ended on a limit. `nearest_length` is the developed
    length, nearest to the target, with which it closes; None if none was found. `askable_length` is the same with the
    digits in which lengths are shown; None if it closes on no such length. `would_help` are values that are fixed now
    but would let it close if they were free too.
    """

    run: str
    along: float
    across: float
    angle: float
    length_off: float
    at_limits: tuple[Fit, ...] = ()
    nearest_length: float | None = None
    askable_length: float | None = None
    would_help: tuple[Fit, ...] = ()


@dataclass(frozen=True)
class Header:
    """A draft with every value settled; `misses` holds the runs that could not be closed."""

    draft: Draft
    runs: tuple[Run, ...]
    centrelines: tuple[Centreline, ...]  # of the runs, in the same order
    misses: tuple[Miss, ...] = ()

    @property
    def primaries(self) -> tuple[Run, ...]:
        return tuple(run for run in self.runs if run.is_primary)

    def run(self, name: str) -> Run:
        """The run with a name. Raises KeyError if there is none."""
        return {run.name: run for run in self.runs}[name]

    def with_runs(self, names: Container[str]) -> Header:
        """The same header with only these runs."""
        kept = [pair for pair in self.tubes if pair[0].name in names]
        return replace(self, runs=tuple(run for run, _ in kept), centrelines=tuple(line for _, line in kept))

    @property
    def tubes(self) -> tuple[tuple[Run, Centreline], ...]:
        """Each run with its centreline."""
        return tuple(zip(self.runs, self.centrelines, strict=True))


@dataclass(frozen=True)
class Place:
    """A place along a run: the length from its start, and the step there, counted from 1."""

    run: str
    at: float
    step: int


@dataclass(frozen=True)
class Stretch:
    """A stretch of a tube that is nearer than required: its start and end as lengths from the flange.

    `profile`: lengths from the flange, from one end of the stretch to the other, with the gap at each.
    """

    start: float
    end: float
    smallest: float
    profile: tuple[tuple[float, float], ...] = ()


def falls_short(value: float, required: float, together: bool) -> bool:
    """Whether a gap is smaller than required. Tubes `together` at their collector may press on each other a little."""
    return value < required - (PRESSED if together else 0.0)


@dataclass(frozen=True)
class Gap:
    """The smallest distance between two things, in one pose; negative is a depth.

    `a` is a run or a part, `b` another run or part, or a chassis item; `at`: the places along the runs among them. The
    depth of a part is how far the item reaches into its envelope, or the part into the item. `near`: stretches where a
    run is nearer than required. `together`: a gap between runs over the length where runs of one collector converge;
    the requirement grows there, and this is the gap with the least to spare; `smallest`: the smallest one there.
    `on_boundary`: the smallest gap is at the edge of a length that is not checked; it may be smaller inside.
    `runs_through`: the centreline itself is inside the other body, or meets it. `uncertainty`: the error of the gap
    that a scan's points and placement allow. `winding`: the least and greatest winding number of a mesh about the
    centreline, if the tube does not cross it. `side_unknown`: the mesh cannot say whether the tube, which does not
    cross it, is wholly on the wrong side. `inside`: a part is wholly on the wrong side of a closed item. `at_least`: a
    depth by sample points on a part; the true depth may be slightly more. `crosses`: two skins cross, and the item's
    skin is open, so the depth is unknown; the value is then 0.
    """

    a: str
    b: str
    required: float
    value: float
    points: tuple[Vec, Vec]
    at: tuple[Place | None, Place | None] = (None, None)
    pose: str = COLD
    near: tuple[Stretch, ...] = ()
    triangle: int | None = None
    together: bool = False
    smallest: float | None = None
    on_boundary: bool = False
    runs_through: bool = False
    uncertainty: float = 0.0
    winding: tuple[float, float] | None = None
    side_unknown: bool = False
    inside: bool = False
    at_least: bool = False
    crosses: bool = False

    @property
    def is_too_small(self) -> bool:
        return falls_short(self.value, self.required, self.together)

    @property
    def is_between_runs(self) -> bool:
        return self.at[1] is not None

    @property
    def places(self) -> tuple[Place, ...]:
        """The places along its runs."""
        return tuple(place for place in self.at if place is not None)

    @property
    def place(self) -> Place:
        """The place along its first run. Raises IndexError if it has none."""
        return self.places[0]


@dataclass(frozen=True)
class SecondOpinion:
    """The same gap by another method, and the difference that chordal deviations allow."""

    a: str
    b: str
    exact: float
    other_method: float
    allowed: float

    @property
    def agrees(self) -> bool:
        return abs(self.exact - self.other_method) <= self.allowed


@dataclass(frozen=True)
class End:
    """The arrival of a run: its end's offset from the bore, along and across the bore's axis, and its angle."""

    run: str
    along: float  # positive: past the collector plane
    across: float
    angle: float
    point: Vec


@dataclass(frozen=True)
class OwnCrossing:
    """Two places of one tube, far apart along it, that are nearer to each other than the tube is wide."""

    run: str
    places: tuple[Place, Place]
    distance: float
    point: Vec


@dataclass(frozen=True)
class Survey:
    """All measurements of a header, made once; the rules only read them."""

    header: Header
    gaps: tuple[Gap, ...]
    second_opinions: tuple[SecondOpinion, ...]
    ends: tuple[End, ...]
    crossings: tuple[OwnCrossing, ...]
    lengths: tuple[float, ...]
    part_gaps: tuple[Gap, ...] = ()
    meshes: tuple[MeshFacts, ...] = ()
    reaches: tuple[Gap, ...] = ()  # for each tool and sensor, the gap to what is nearest

    def from_header(self, known: MeshFacts) -> float:
        """The distance of a mesh from the header: from its tubes, ports and bores; 0 if it meets them."""
        gaps = [gap.value for gap in self.gaps if gap.b == known.item]
        return max(min([known.away, *gaps]), 0.0)


@dataclass(frozen=True)
class Part:
    """A made solid: `volume` and `centre` as measured by the kernel, `mesh_volume` as enclosed by its written mesh."""

    name: str
    role: str
    files: tuple[str, ...]
    volume: float
    mesh_volume: float
    closed: bool
    centre: Vec = (0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Overlap:
    """Metal shared by two parts, in mm³."""

    parts: tuple[str, str]
    volume: float


@dataclass(frozen=True)
class Result:
    source: Source
    header: Header
    survey: Survey
    parts: tuple[Part, ...]
    findings: tuple[Finding, ...]
    part_gaps: tuple[Gap, ...] = ()  # of made parts, by their own meshes
    helps: tuple[Help, ...] = ()  # for each gap of the survey that is too small
    by_hand: ByHand | None = None  # builds by the shop's hand; None if the bench was not planned
