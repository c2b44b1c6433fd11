"""Straights long enough to hold: between bends, at the flange, and before the collector."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from headergen.checks.words import say_length, shown_length
from headergen.finding import Finding
from headergen.model import Bend, Header, Primary, Straight

ROUNDING = 1e-6  # mm


def straights(header: Header) -> Iterator[Finding]:
    """Each straight against the most that is asked of it: anywhere, at the flange, before the collector."""
    limits = header.draft.limits
    for primary in header.primaries:
        last = len(primary.steps)
        for number, step in enumerate(primary.steps, 1):
            asked = [(limits.min_straight, "the straight", "")] if isinstance(step, Straight) else []
            if number == 1:
                asked.append((limits.port_straight, "the straight at the flange", ""))
            if number == last:
                asked += _before_the_collector(header, primary)
            least, what, why = max(asked, key=lambda each: each[0], default=(0.0, "", ""))
            length = step.length if isinstance(step, Straight) else 0.0
            if length < least - ROUNDING:
                instead = ", since a bend stands there" if isinstance(step, Bend) else ""
                said = f"{what} is {say_length(length, header.draft.units)} long{instead}"
                yield _short(header, (primary.number, number), (length, least), said, why)


def _before_the_collector(header: Header, primary: Primary) -> list[tuple[float, str, str]]:
    slip = next(each.slip for each in header.draft.collectors if each.name == primary.bore.collector)
    what, why = "the straight before the collector", ", all of which slides into the collector"
    return [(header.draft.limits.collector_straight, what, ""), (slip, what, why)]


def bend_meets_bend(header: Header) -> Iterator[Finding]:
    """Only where the shop bends its own tube: the die needs a grip between two bends."""
    limits = header.draft.limits
    if limits.bend_may_meet_bend:
        return
    for primary in header.primaries:
        for number, (one, other) in enumerate(pairwise(primary.steps), 2):
            if isinstance(one, Bend) and isinstance(other, Bend):
                said = f"this bend follows the one before it with a straight of {say_length(0.0, header.draft.units)}"
                yield _short(header, (primary.number, number), (0.0, limits.min_straight), said, " between them")


def _short(header: Header, step: tuple[int, int], values: tuple[float, float], said: str, why: str) -> Finding:
    units = header.draft.units
    return Finding(
        rule="min-straight",
        level="error",
        where=f"primary {step[0]}",
        value=shown_length(values[0], units),
        limit=shown_length(values[1], units),
        unit=units,
        message=(f"Primary {step[0]}, step {step[1]}: {said}; at least {say_length(values[1], units)} is wanted{why}."),
    )
