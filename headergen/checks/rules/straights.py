"""Straights are long enough to be clamped: between bends, at the flange, and before the collector."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from headergen.model import Bend, Draft, Header, Run, Straight
from headergen.model.finding import Finding
from headergen.words.say import capital, say_length, shown_length

ROUNDING = 1e-6  # mm
SLIDES_IN = "all of which slides into the collector"


@dataclass(frozen=True)
class Requirement:
    """The least length of a straight (mm), which straight it is, and the reason where it is not obvious."""

    least: float
    what: str
    why: str = ""


def straights(header: Header) -> Iterator[Finding]:
    """Each straight against the largest of its requirements: general, at the flange, before the collector."""
    for run in header.runs:
        for number, step in enumerate(run.steps, 1):
            required = longest_required(header.draft, run, number)
            length = step.length if isinstance(step, Straight) else 0.0
            if required is not None and length < required.least - ROUNDING:
                instead = ", since a bend stands there" if isinstance(step, Bend) else ""
                said = f"{required.what} is {say_length(length, header.draft.units)} long{instead}"
                why = f", {required.why}" if required.why else ""
                yield _short(header, (run, number), (length, required.least), said, why)


def longest_required(draft: Draft, run: Run, number: int) -> Requirement | None:
    """The largest requirement for step `number` (from 1) as a straight, wherever it is; None if there is none."""
    limits, step = draft.limits, run.steps[number - 1]
    plain = isinstance(step, Straight) and step.growth is None
    required = [Requirement(limits.min_straight, "the straight")] if plain else []
    if number == 1 and run.is_primary:
        required.append(Requirement(limits.port_straight, "the straight at the flange"))
    if number == len(run.steps):
        ends = run.end.ends_run
        what = "the straight at its end" if ends else "the straight before the collector"
        slip = next(each.slip for each in draft.collectors if each.name == run.end.collector)
        required += [Requirement(0.0 if ends else limits.collector_straight, what), Requirement(slip, what, SLIDES_IN)]
    return max(required, key=lambda each: each.least, default=None)


def bend_meets_bend(header: Header) -> Iterator[Finding]:
    """Only for a shop that bends its own tube: the die needs a grip between two bends."""
    limits = header.draft.limits
    if limits.bend_may_meet_bend:
        return
    for run in header.runs:
        for number, (one, other) in enumerate(pairwise(run.steps), 2):
            if isinstance(one, Bend) and isinstance(other, Bend):
                said = f"this bend follows the one before it with a straight of {say_length(0.0, header.draft.units)}"
                yield _short(header, (run, number), (0.0, limits.min_straight), said, " between them")


def _short(header: Header, step: tuple[Run, int], values: tuple[float, float], said: str, why: str) -> Finding:
    units = header.draft.units
    return Finding(
        rule="min-straight",
        level="error",
        where=step[0].name,
        value=shown_length(values[0], units),
        limit=shown_length(values[1], units),
        unit=units,
        message=(
            f"{capital(step[0].name)}, step {step[1]}: {said}; at least {say_length(values[1], units)} "
            f"is required{why}."
        ),
    )
