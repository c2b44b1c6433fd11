"""Straights long enough to hold: between bends, at the flange, and before the collector."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from headergen.checks.words import say_length, shown_length
from headergen.finding import Finding
from headergen.model import Bend, Header, Primary, Straight

ROUNDING = 1e-6  # mm


def min_straight(header: Header) -> Iterator[Finding]:
    least = header.draft.limits.min_straight
    for primary in header.primaries:
        for number, step in enumerate(primary.steps, 1):
            if isinstance(step, Straight) and step.length < least - ROUNDING:
                said = f"the straight is {say_length(step.length, header.draft.units)} long"
                yield _short(header, primary, number, (step.length, least), said)


def bend_meets_bend(header: Header) -> Iterator[Finding]:
    """Only where the shop bends its own tube: the die needs a grip between two bends."""
    limits = header.draft.limits
    if limits.bend_may_meet_bend:
        return
    for primary in header.primaries:
        for number, (one, other) in enumerate(pairwise(primary.steps), 1):
            if isinstance(one, Bend) and isinstance(other, Bend):
                said = f"bend {number + 1} follows with a straight of {say_length(0.0, header.draft.units)} between"
                yield _short(header, primary, number, (0.0, limits.min_straight), said)


def end_straights(header: Header) -> Iterator[Finding]:
    """The straight at the flange, and the one before the collector, into which a slip joint slides."""
    limits, units = header.draft.limits, header.draft.units
    slips = {collector.name: collector.slip for collector in header.draft.collectors}
    for primary in header.primaries:
        first, last = _length(primary.steps[0]), _length(primary.steps[-1])
        if first < limits.port_straight - ROUNDING:
            said = f"the straight at the flange is {say_length(first, units)} long"
            yield _short(header, primary, 1, (first, limits.port_straight), said)
        slip = slips[primary.bore.collector]
        least = max(limits.collector_straight, slip)
        if last < least - ROUNDING:
            why = ", all of which slides into the collector" if slip >= limits.collector_straight else ""
            said = f"the straight before the collector is {say_length(last, units)} long"
            yield _short(header, primary, len(primary.steps), (last, least), said, why)


def _length(step: Straight | Bend) -> float:
    return step.length if isinstance(step, Straight) else 0.0


def _short(
    header: Header, primary: Primary, step: int, values: tuple[float, float], said: str, why: str = ""
) -> Finding:
    units = header.draft.units
    return Finding(
        rule="min-straight",
        level="error",
        where=f"primary {primary.number}",
        value=shown_length(values[0], units),
        limit=shown_length(values[1], units),
        unit=units,
        message=(
            f"Primary {primary.number}, step {step}: {said}; at least {say_length(values[1], units)} is wanted{why}."
        ),
    )
