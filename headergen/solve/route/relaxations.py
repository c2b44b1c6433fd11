"""Which single change of the requirements would let paths be found: each is tried by its own search.

This proves nothing: a relaxation that leads to paths is shown to help; one that does not may still help.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from headergen.checks.measure import Meshes
from headergen.geometry.frames import add
from headergen.model import Draft, Vec
from headergen.model.finding import Finding
from headergen.solve.collector_at import with_collector_at
from headergen.solve.effort import Effort
from headergen.solve.route.answer import Answer
from headergen.solve.route.brief import Allowed, first_answer
from headergen.solve.route.infeasibility import what_forbids_it
from headergen.solve.route.problem import length_range, problem_of
from headergen.solve.route.search import Found
from headergen.words.say import say_length, say_way, shown_length

MOVE = 30.0  # mm by which a collector is moved
LONGER = 1.06  # of the longest length
CLOSER = 0.5  # of the gap between tubes
TIGHT = 1.2  # outside diameters: a radius that is added if all others are larger
LEAST = 0.5  # mm of gap between tubes below which halving it is no relaxation


@dataclass(frozen=True)
class Relaxation:
    """One change: its text, its size, and the changed draft."""

    words: str
    size: float  # mm
    draft: Draft
    is_length: bool = False  # nothing but the common length is changed


def relaxations_of(draft: Draft) -> Iterator[Relaxation]:
    """Every single change worth trying, the cheapest for the shop first."""
    units, limits = draft.units, draft.limits
    shortest, longest = length_range(draft)
    if draft.length.target is not None and not any(p.target for p in draft.primaries):
        more = (LONGER - 1.0) * longest
        words = f"with lengths up to {say_length(longest + more, units)} allowed"
        routing = replace(draft.routing, length=(shortest, longest + more))
        free = replace(draft, routing=routing, length=replace(draft.length, target=None))
        yield Relaxation(words, more, free, is_length=True)
    if limits.between_tubes > LEAST:
        less = CLOSER * limits.between_tubes
        words = f"with {say_length(less, units)} required between tubes"
        yield Relaxation(words, less, replace(draft, limits=replace(limits, between_tubes=less)))
    radius = TIGHT * draft.tube.outside_diameter
    if draft.routing.radii and min(draft.routing.radii) > radius:
        words = f"with bends of radius {say_length(radius, units)} too"
        yield Relaxation(
            words, radius, replace(draft, routing=replace(draft.routing, radii=(radius, *draft.routing.radii)))
        )
    for name in dict.fromkeys(p.end.collector for p in draft.primaries if p.to_find and not p.end.ends_run):
        for axis in range(3):
            for sign in (1.0, -1.0):
                by: Vec = tuple(sign * MOVE if k == axis else 0.0 for k in range(3))  # type: ignore[assignment]
                words = f"with collector {name} {say_length(MOVE, units)} {say_way(by)}"
                yield Relaxation(words, MOVE, with_collector_moved(draft, name, by))


def with_collector_moved(draft: Draft, name: str, by: Vec) -> Draft:
    """The draft with one collector and its bores moved (mm, engine axes)."""

    frame = next(c.frame for c in draft.collectors if c.name == name)
    return with_collector_at(draft, name, replace(frame, origin=add(frame.origin, by)))


def what_would_help(
    draft: Draft, meshes: Meshes, effort: Effort, watch: Callable[[Found], None], at_lengths: list[Answer]
) -> Iterator[Finding]:
    """A finding for each relaxation that led to paths; each is searched for its share of the effort.

    Answers that differ by nothing but their length are added to `at_lengths`.
    """
    relaxations = list(relaxations_of(draft))
    seconds = effort.seconds / max(len(relaxations), 1)
    helped = 0
    for relaxation in relaxations:
        if what_forbids_it(relaxation.draft, meshes):
            continue
        answer, _ = first_answer(problem_of(relaxation.draft, meshes), _allowed(effort, seconds), watch)
        if answer is not None:
            helped += 1
            at_lengths.extend([answer] if relaxation.is_length else [])
            yield _says(relaxation, answer, draft.units)
    if not helped:
        message = (
            f"No paths were found with any single one of {len(relaxations)} changes: more length, a smaller gap "
            f"between tubes, a tighter bend, the collector moved."
        )
        yield Finding("route-relaxation", "info", "route", 0.0, None, "changes", message)


def _allowed(effort: Effort, seconds: float) -> Allowed:
    if effort.rounds is not None:
        return Allowed(effort.rounds, math.inf, effort.seed)
    return Allowed(math.inf, effort.now() + seconds, effort.seed, effort.now)


def _says(relaxation: Relaxation, answer: Answer, units: str) -> Finding:
    message = f"Paths were found {relaxation.words}: {answer.bends} bends, {answer.degrees:.0f}° in all."
    return Finding("route-relaxation", "info", "route", shown_length(relaxation.size, units), None, units, message)
