"""Stepped runs: where each of their tubes begins and ends, and how wide the outside is along them.

All lengths are from the start of the run. They follow from the steps alone, so a header with values still to fit has
them for its guesses.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from headergen.model import Run, Step, Straight, Tube


@dataclass(frozen=True)
class GrowthPlace:
    """Where a run grows, from `start` to `end`, in one step of its path, counted from 1.

    By slip the larger tube begins at `start` and the smaller one ends at `end`; by cone the cone is between them.
    """

    by: Literal["slip", "cone"]
    step: int
    start: float
    end: float
    before: Tube
    after: Tube

    @property
    def bore_grows(self) -> float:
        """Where the gas meets a larger bore: at the end of the inner tube, or where the cone begins."""
        return self.end if self.by == "slip" else self.start


@dataclass(frozen=True)
class TubeSpan:
    """A tube of a run, from its own start to its own end; in a slip joint two of them overlap."""

    tube: Tube
    start: float
    end: float


@dataclass(frozen=True)
class OutsideSpan:
    """A length of a run whose outside is a cylinder, or a cone if `radii`, at start and end, differ."""

    start: float
    end: float
    radii: tuple[float, float]


@dataclass(frozen=True)
class WallSpan:
    """A length of a run with its outer and inner radius, each at its start and its end."""

    start: float
    end: float
    outer: tuple[float, float]
    inner: tuple[float, float]

    @property
    def volume(self) -> float:
        """Metal in mm³, exact in bends too (Pappus–Guldinus); of a cone the difference of two frustums."""
        full, bore = (math.pi / 3 * (a * a + a * b + b * b) for a, b in (self.outer, self.inner))
        return (full - bore) * (self.end - self.start)


def step_length(step: Step) -> float:
    """Length along the centreline, mm: of an arc, its angle (rad) times its radius."""
    return step.length if isinstance(step, Straight) else step.radius * step.angle


def growth_places(run: Run) -> tuple[GrowthPlace, ...]:
    """Where the run grows, in travel order."""
    tubes, found, at = run.tubes, list[GrowthPlace](), 0.0
    for number, step in enumerate(run.steps, 1):
        length = step_length(step)
        if isinstance(step, Straight) and step.growth is not None:
            before, after = tubes[len(found) : len(found) + 2]
            found.append(GrowthPlace(step.growth.by, number, at, at + length, before, after))
        at += length
    return tuple(found)


def run_length(run: Run) -> float:
    """Centreline length of the run."""
    return sum(step_length(step) for step in run.steps)


def tube_spans(run: Run, low: float = 0.0) -> tuple[TubeSpan, ...]:
    """Its tubes, each from end to end, without what is before the length `low`."""
    places, whole = growth_places(run), run_length(run)
    starts = [0.0, *(place.start if place.by == "slip" else place.end for place in places)]
    ends = [*(place.end if place.by == "slip" else place.start for place in places), whole]
    spans = (TubeSpan(tube, max(a, low), b) for tube, a, b in zip(run.tubes, starts, ends, strict=True))
    return tuple(span for span in spans if span.end > span.start)


def outside_spans(run: Run, low: float = 0.0, high: float | None = None) -> tuple[OutsideSpan, ...]:
    """The outside of the run between two lengths along it."""
    high = run_length(run) if high is None else high
    places = growth_places(run)
    spans = [OutsideSpan(place.start, place.end, _radii(place)) for place in places if place.by == "cone"]
    starts = [0.0, *(place.start if place.by == "slip" else place.end for place in places)]
    ends = [*(place.start for place in places), max(high, run_length(run))]
    spans += [OutsideSpan(a, b, (tube.radius, tube.radius)) for tube, a, b in zip(run.tubes, starts, ends, strict=True)]
    cut = (_cut(span, low, high) for span in sorted(spans, key=lambda span: span.start))
    return tuple(span for span in cut if span.end > span.start)


def wall_spans(run: Run, low: float = 0.0) -> tuple[WallSpan, ...]:
    """The metal of a run from the length `low` on, in the order of travel; lengths count from there.

    In a slip joint both walls and the clearance between them are one wall, as if it were full of weld.
    """
    places, tubes = growth_places(run), run.tubes
    starts, ends = [0.0, *(place.end for place in places)], [*(place.start for place in places), run_length(run)]
    plain = [WallSpan(a, b, *_walls(tube, tube)) for tube, a, b in zip(tubes, starts, ends, strict=True)]
    grown = [WallSpan(place.start, place.end, *_joint_walls(place)) for place in places]
    found = (_cut_wall(span, low) for span in sorted([*plain, *grown], key=lambda span: span.start))
    return tuple(span for span in found if span.end > span.start)


Radii = tuple[float, float]


def _walls(before: Tube, after: Tube) -> tuple[Radii, Radii]:
    return (before.radius, after.radius), (before.radius - before.wall, after.radius - after.wall)


def _joint_walls(place: GrowthPlace) -> tuple[Radii, Radii]:
    if place.by == "cone":
        return _walls(place.before, place.after)
    return _walls(place.after, place.after)[0], _walls(place.before, place.before)[1]


def _cut_wall(span: WallSpan, low: float) -> WallSpan:
    start = max(span.start, low)
    if start <= span.start or start >= span.end:
        return WallSpan(start - low, span.end - low, span.outer, span.inner)
    share = (start - span.start) / (span.end - span.start)
    (a, b), (c, d) = span.outer, span.inner
    return WallSpan(start - low, span.end - low, (a + share * (b - a), b), (c + share * (d - c), d))


def _radii(place: GrowthPlace) -> tuple[float, float]:
    return place.before.radius, place.after.radius


def _cut(span: OutsideSpan, low: float, high: float) -> OutsideSpan:
    start, end = max(span.start, low), min(span.end, high)
    first, last = span.radii
    if first == last or end <= start:
        return OutsideSpan(start, end, span.radii)
    rise = (last - first) / (span.end - span.start)
    return OutsideSpan(start, end, (first + rise * (start - span.start), first + rise * (end - span.start)))


def tube_at(run: Run, at: float) -> Tube:
    """The outer tube at a length along the run; within a cone, the larger of the two."""
    if len(run.tubes) == 1:
        return run.tube
    grown = [place.after for place in growth_places(run) if at >= place.start]
    return grown[-1] if grown else run.tube


def tube_of_step(run: Run, number: int) -> Tube:
    """The outer tube of a step, counted from 1: that of a growth is the larger one."""
    grown = sum(isinstance(step, Straight) and step.growth is not None for step in run.steps[:number])
    return run.tubes[grown]


def last_tube(run: Run) -> Tube:
    """The tube that arrives in the run's bore."""
    return run.tubes[-1]


def widest_radius(run: Run) -> float:
    """Half the largest outside diameter along the run."""
    return max(tube.radius for tube in run.tubes)


def growths_of(run: Run) -> tuple[Straight, ...]:
    """The steps to larger tubes of a path, which another path must have too."""
    return tuple(step for step in run.steps if isinstance(step, Straight) and step.growth is not None)


def is_stepped(run: Run) -> bool:
    """Whether the tube of a run changes its size."""
    return len(run.tubes) > 1


def metal_area(tube: Tube) -> float:
    """Section of the tube's wall, mm²."""
    inner = tube.radius - tube.wall
    return math.pi * (tube.radius**2 - inner**2)
