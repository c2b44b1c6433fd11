"""What is found and made: exact centrelines, the Survey of a header, its parts."""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass, replace
from typing import Any

from headergen.model.inputs import Draft, Fit, Run, Source
from headergen.model.path import Centreline, Vec
from headergen.model.scan import MeshFacts
from headergen.model.suggestion import Help

COLD = "cold"  # the pose of a header that stands still and is cold
PRESSED = 0.01  # mm by which tubes that lie against each other in a bundle may read as crossing


@dataclass(frozen=True)
class Miss:
    """A run with values to fit that could not be closed within their limits.

    `along`, `across`, `angle`: how it ends at the best that was found, as in End; `length_off`: developed length minus
    target there (0 without a target). `at_limits` are the fits that ended on a limit. `nearest_length` is the developed
    length nearest to the target with which it does close, None where none was found; `askable_length` is that in the
    digits in which lengths are shown, None where it closes on no such length. `would_help` are values that are
    not free but, freed too, close it.
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
    """A draft with every value settled; `misses` holds what could not be closed."""

    draft: Draft
    runs: tuple[Run, ...]
    centrelines: tuple[Centreline, ...]  # of the runs, in their order
    misses: tuple[Miss, ...] = ()

    @property
    def primaries(self) -> tuple[Run, ...]:
        return tuple(run for run in self.runs if run.is_primary)

    def run(self, name: str) -> Run:
        """The run of a name. Raises KeyError when there is none."""
        return {run.name: run for run in self.runs}[name]

    def with_runs(self, names: Container[str]) -> Header:
        """The same with these runs alone."""
        kept = [pair for pair in self.tubes if pair[0].name in names]
        return replace(self, runs=tuple(run for run, _ in kept), centrelines=tuple(line for _, line in kept))

    @property
    def tubes(self) -> tuple[tuple[Run, Centreline], ...]:
        """Each run with its centreline."""
        return tuple(zip(self.runs, self.centrelines, strict=True))


@dataclass(frozen=True)
class Place:
    """A place along a run: length from its start, and the step it falls in, counted from 1."""

    run: str
    at: float
    step: int


@dataclass(frozen=True)
class Stretch:
    """Part of a tube, from and to a length from the flange, that is nearer than required.

    `profile`: lengths from the flange, from end to end of it, with the gap at each.
    """

    start: float
    end: float
    smallest: float
    profile: tuple[tuple[float, float], ...] = ()


def falls_short(value: float, required: float, together: bool) -> bool:
    """Whether a gap is smaller than required. Tubes that are `together` on their collector may be pressed a little."""
    return value < required - (PRESSED if together else 0.0)


@dataclass(frozen=True)
class Gap:
    """The smallest distance between two things, in one pose; negative is a depth.

    `a` is a run or a part, `b` another one or a chassis item; `at`: the places along them, of runs. A part's depth is
    how far the item reaches into its envelope, or the part into the item. `near`: where a run is nearer than required.
    `together`: between runs, within the length where those of one collector converge; only crossing counts there.
    `on_boundary`: the smallest gap sits where a left-out stretch begins, so it may be smaller just beyond.
    `runs_through`: the centreline itself is inside the other body, or meets it. `uncertainty`: by how much a scan's
    points and their placing leave the gap open. `winding`: the least and greatest winding number of a mesh about the
    centreline, where the tube does not cross it. `side_unknown`: the mesh cannot say whether the tube, which does not
    cross it, is wholly on the wrong side. `inside`: a part lies wholly on the wrong side of a closed item. `at_least`:
    a depth by places on a part, which may be a little more. `crosses`: two skins cross, and since the item's is open
    nothing says how deep; the value is then 0.
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
        """Where along each of its runs."""
        return tuple(place for place in self.at if place is not None)

    @property
    def place(self) -> Place:
        """Where along the first run. Raises IndexError where it has none."""
        return self.places[0]


@dataclass(frozen=True)
class SecondOpinion:
    """The same gap by another method, and how far apart chordal deviations let the two be."""

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
    """How a run arrives: miss of its end from the bore, along and across the bore's axis, and its angle."""

    run: str
    along: float  # positive: past the collector plane
    across: float
    angle: float
    point: Vec


@dataclass(frozen=True)
class OwnCrossing:
    """Two places of one tube, far apart along it, whose centreline is nearer than the tube is wide."""

    run: str
    places: tuple[Place, Place]
    distance: float
    point: Vec


@dataclass(frozen=True)
class Survey:
    """Everything measured of a header, once; the rules only read it."""

    header: Header
    gaps: tuple[Gap, ...]
    second_opinions: tuple[SecondOpinion, ...]
    ends: tuple[End, ...]
    crossings: tuple[OwnCrossing, ...]
    lengths: tuple[float, ...]
    part_gaps: tuple[Gap, ...] = ()
    meshes: tuple[MeshFacts, ...] = ()
    reaches: tuple[Gap, ...] = ()  # of tools and sensors, to what is nearest to each

    def from_header(self, known: MeshFacts) -> float:
        """How far a mesh lies from the header: from its tubes, ports and bores; 0 where it meets them."""
        gaps = [gap.value for gap in self.gaps if gap.b == known.item]
        return max(min([known.away, *gaps]), 0.0)


@dataclass(frozen=True)
class Part:
    """A made solid: `volume` and `centre` as the kernel measures them, `mesh_volume` as its written mesh encloses."""

    name: str
    role: str
    files: tuple[str, ...]
    volume: float
    mesh_volume: float
    closed: bool
    centre: Vec = (0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Overlap:
    """Metal that two parts share, in mm³."""

    parts: tuple[str, str]
    volume: float


@dataclass(frozen=True)
class Result:
    source: Source
    header: Header
    survey: Survey
    parts: tuple[Part, ...]
    findings: tuple[Any, ...]  # of Finding, which the nouns do not import
    part_gaps: tuple[Gap, ...] = ()  # of made parts, by their own meshes
    helps: tuple[Help, ...] = ()  # for each gap of the survey that is too small
