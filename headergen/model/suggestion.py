"""What would help where a gap is too small: changes that were applied, closed, measured and judged."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from headergen.model.finding import Finding
from headergen.model.path import Vec

ChangeKind = Literal["rotation", "angle", "length", "swing", "path", "route", "collector", "part"]


@dataclass(frozen=True)
class NewValue:
    """A value of a path as it is, and as it would be in the spec: millimetres or radians."""

    run: str
    step: int  # counted from 1
    what: Literal["length", "angle", "rotation"]
    before: float
    after: float


@dataclass(frozen=True)
class NewPlace:
    """The origin of a collector's plane as it is, and as it would be in the spec."""

    collector: str
    before: Vec
    after: Vec


@dataclass(frozen=True)
class NewSetting:
    """A number that places a part, as it is and as it would be in the spec: millimetres or radians.

    `key`: of the part's entry, with the keys above it.
    """

    thing: str
    key: str
    before: float
    after: float
    is_angle: bool = False


@dataclass(frozen=True)
class NewPoint:
    """A point of a path given by points: as it is, and as it would be."""

    run: str
    before: Vec
    after: Vec


@dataclass(frozen=True)
class GapThen:
    """Another gap before a change and after it; `before` is None if it was too large to be measured."""

    a: str
    b: str
    before: float | None
    after: float
    required: float


@dataclass(frozen=True)
class Costs:
    """The cost of a change elsewhere.

    `gaps`: those that get smaller, smallest margin first. `lengths`: how much longer runs get. `bends`: how many more
    there are. `findings`: errors and warnings that are new or worse.
    """

    gaps: tuple[GapThen, ...] = ()
    lengths: tuple[tuple[str, float], ...] = ()
    bends: int = 0
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class Suggestion:
    """A change of the spec that makes a gap as large as required.

    `what`: in words, in the units of the job; `values`, `places`: all that is written into the spec, including values
    in place of those marked fit; `gap`: the gap after the change, or at least that (`or_more`). `clears`: other gaps
    that become as large as required. `settings`: of parts; `points`: the result of the values for a path given by
    points; `mirrored`: runs with values that the spec takes from the first bank.
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
    """A gap that is too small, and what would help, the best first.

    `tried`: what was applied and did not help, in words. `cut_short`: more could have been tried, but a check's time
    was used up. `anew`: the primaries for which `headergen route --only` may find another path, which takes longer than
    a check.
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
