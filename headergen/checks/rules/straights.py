"""Straights long enough to hold: between bends, at the flange, and before the collector."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from headergen.checks.words import say_length, shown_length
from headergen.finding import Finding
from headergen.model import Bend, Draft, Header, Primary, Straight

ROUNDING = 1e-6  # mm
SLIDES_IN = "all of which slides into the collector"


@dataclass(frozen=True)
class Asked:
    """Least length of a straight (mm), what that straight is, and, where it is not plain, why so much."""

    least: float
    what: str
    why: str = ""


def straights(header: Header) -> Iterator[Finding]:
    """Each straight against the most that is asked of it: anywhere, at the flange, before the collector."""
    for primary in header.primaries:
        for number, step in enumerate(primary.steps, 1):
            asked = most_asked(header.draft, primary, number)
            length = step.length if isinstance(step, Straight) else 0.0
            if asked is not None and length < asked.least - ROUNDING:
                instead = ", since a bend stands there" if isinstance(step, Bend) else ""
                said = f"{asked.what} is {say_length(length, header.draft.units)} long{instead}"
                why = f", {asked.why}" if asked.why else ""
                yield _short(header, (primary.number, number), (length, asked.least), said, why)


def most_asked(draft: Draft, primary: Primary, number: int) -> Asked | None:
    """The most that is asked of step `number` (from 1) as a straight, wherever it stands; None where nothing is."""
    limits, step = draft.limits, primary.steps[number - 1]
    asked = [Asked(limits.min_straight, "the straight")] if isinstance(step, Straight) else []
    if number == 1:
        asked.append(Asked(limits.port_straight, "the straight at the flange"))
    if number == len(primary.steps):
        what = "the straight before the collector"
        slip = next(each.slip for each in draft.collectors if each.name == primary.bore.collector)
        asked += [Asked(limits.collector_straight, what), Asked(slip, what, SLIDES_IN)]
    return max(asked, key=lambda each: each.least, default=None)


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
