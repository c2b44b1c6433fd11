"""What is found and made: exact centrelines, the Survey of a header, its parts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from headergen.model.asked import Draft, Fit, Primary, Secondary, Source
from headergen.model.path import Centreline, Vec
from headergen.model.scan import MeshFacts

PRESSED = 0.01  # mm by which tubes that lie against each other in a bundle may read as crossing


@dataclass(frozen=True)
class Miss:
    """A primary with values to fit that could not be closed within their limits.

    `along`, `across`, `angle`: how it ends at the best that was found, as in End; `length_off`: developed length minus
    target there (0 without a target). `at_limits` are the fits that ended on a limit. `nearest_length` is the developed
    length nearest to the target with which it does close, None where none was found; `askable_length` is that in the
    digits in which lengths are shown, None where it closes on no such length. `would_help` are values that are
    not free but, freed too, close it.
    """

    primary: int
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
    primaries: tuple[Primary, ...]
    centrelines: tuple[Centreline, ...]
    misses: tuple[Miss, ...] = ()
    secondaries: tuple[Secondary, ...] = ()


@dataclass(frozen=True)
class Place:
    """A place along a primary: length from the flange face, and the step it falls in, counted from 1."""

    primary: int
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


@dataclass(frozen=True)
class Gap:
    """The smallest distance between a primary and an item or another primary; negative is a depth.

    `together`: between tubes, within the length where those of one collector close up; only crossing counts there.
    `on_boundary`: the smallest gap sits where a left-out stretch begins, so it may be smaller just beyond.
    `runs_through`: the centreline itself is inside the other body, or meets it.
    `uncertainty`: by how much a scan's points and their placing leave the gap open.
    `winding`: the least and the most a mesh goes round the centreline, where the tube does not cross it.
    `side_unknown`: the mesh cannot say whether the tube, which does not cross it, is wholly on the wrong side.
    """

    place: Place
    other: Place | str
    required: float
    value: float
    points: tuple[Vec, Vec]
    near: tuple[Stretch, ...] = ()
    triangle: int | None = None
    together: bool = False
    on_boundary: bool = False
    runs_through: bool = False
    uncertainty: float = 0.0
    winding: tuple[float, float] | None = None
    side_unknown: bool = False

    @property
    def is_too_small(self) -> bool:
        return self.value < self.required - (PRESSED if self.together else 0.0)


@dataclass(frozen=True)
class PartGap:
    """The smallest distance between a part that is no primary and a chassis item, or a tube not its own.

    Negative: how deep the item reaches into the part's envelope, or the part into the item. `inside`: the part lies
    wholly on the wrong side of a closed item. `at_least`: a depth by places on the part, which may be a little more.
    `crosses`: their skins cross, and since the item's is open nothing says how deep; the value is then 0.
    """

    part: str
    other: str
    required: float
    value: float
    points: tuple[Vec, Vec]
    inside: bool = False
    at_least: bool = False
    crosses: bool = False


@dataclass(frozen=True)
class SecondOpinion:
    """The same gap by another method, and how far apart chord errors let the two be."""

    primary: int
    other: int | str
    exact: float
    other_method: float
    allowed: float

    @property
    def agrees(self) -> bool:
        return abs(self.exact - self.other_method) <= self.allowed


@dataclass(frozen=True)
class End:
    """How a primary arrives: miss of its end from the bore, along and across the bore's axis, and its angle."""

    primary: int
    along: float  # positive: past the collector plane
    across: float
    angle: float
    point: Vec


@dataclass(frozen=True)
class OwnCrossing:
    """Two places of one tube, far apart along it, whose centreline is nearer than the tube is wide."""

    primary: int
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
    part_gaps: tuple[PartGap, ...] = ()
    meshes: tuple[MeshFacts, ...] = ()
    reaches: tuple[PartGap, ...] = ()  # of tools and sensors, to what is nearest to each

    def from_header(self, known: MeshFacts) -> float:
        """How far a mesh lies from the header: from its tubes, ports and bores; 0 where it meets them."""
        gaps = [gap.value for gap in self.gaps if gap.other == known.item]
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
    part_gaps: tuple[PartGap, ...] = ()  # of made parts, by their own meshes
