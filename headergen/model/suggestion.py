"""What would help where a gap is too small: changes that were put in, closed, measured and judged, and what each came
to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from headergen.model.finding import Finding
from headergen.model.path import Vec

ChangeKind = Literal["rotation", "angle", "length", "swing", "path", "route", "collector", "part"]


@dataclass(frozen=True)
class NewValue:
    """A value of a path as it is, and as it is to be written into the spec: millimetres or radians."""

    run: str
    step: int  # counted from 1
    what: Literal["length", "angle", "rotation"]
    before: float
    after: float


@dataclass(frozen=True)
class NewPlace:
    """The origin of a collector's plane as it is, and as it is to be written into the spec."""

    collector: str
    before: Vec
    after: Vec


@dataclass(frozen=True)
class NewSetting:
    """A number that says where a part is, as it is and as it is to be written into the spec: millimetres or radians.

    `key`: of the part's entry, with those it stands under.
    """

    thing: str
    key: str
    before: float
    after: float
    is_angle: bool = False


@dataclass(frozen=True)
class NewPoint:
    """A point of a path that the spec gives by points: where it is, and where it is to be."""

    run: str
    before: Vec
    after: Vec


@dataclass(frozen=True)
class GapThen:
    """Another gap before a change and after; `before` is None where it was too large to be measured."""

    a: str
    b: str
    before: float | None
    after: float
    required: float


@dataclass(frozen=True)
class Costs:
    """What a change costs elsewhere.

    `gaps`: those that get smaller, least to spare first. `lengths`: by how much runs get longer. `bends`: by how many
    there are more. `findings`: errors and warnings that come, or get worse.
    """

    gaps: tuple[GapThen, ...] = ()
    lengths: tuple[tuple[str, float], ...] = ()
    bends: int = 0
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class Suggestion:
    """A change of the spec that makes a gap as large as required.

    `what`: in words, in the units of the job; `values`, `places`: all that is to be written into the spec, a value that
    is marked fit in its place; `gap`: what the gap is then, `or_more`. `clears`: other gaps that are then as large as
    required. `settings`: of parts; `points`: what the values come to where a path is given by points; `mirrored`:
    runs with values that the spec takes from the first bank.
    """

    kind: ChangeKind
    what: str
    values: tuple[NewValue, ...]
    places: tuple[NewPlace, ...]
    gap: float
    costs: Costs
    clears: tuple[GapThen, ...] = ()
    points: tuple[NewPoint, ...] = ()
    mirrored: tuple[str, ...] = ()
    settings: tuple[NewSetting, ...] = ()
    or_more: bool = False


@dataclass(frozen=True)
class Help:
    """A gap that is too small, and what would help: the best first.

    `tried`: what was put in and did not help, in words. `cut_short`: more might have been tried, had the time that a
    check may take allowed it. `anew`: the primaries for which `headergen route --only` may find another
    path, which takes longer than a check.
    """

    a: str
    b: str
    together: bool
    gap: float
    required: float
    suggestions: tuple[Suggestion, ...] = ()
    tried: tuple[str, ...] = ()
    cut_short: bool = False
    anew: tuple[int, ...] = ()
