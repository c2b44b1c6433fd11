"""No straight is shorter than the shop can hold; bend may meet bend without one."""

from __future__ import annotations

from collections.abc import Iterator

from headergen.checks.words import say_length, shown_length
from headergen.finding import Finding
from headergen.model import Header, Straight

ROUNDING = 1e-6  # mm


def min_straight(header: Header) -> Iterator[Finding]:
    units, least = header.draft.units, header.draft.limits.min_straight
    for primary in header.primaries:
        for number, step in enumerate(primary.steps, 1):
            if isinstance(step, Straight) and step.length < least - ROUNDING:
                yield Finding(
                    rule="min-straight",
                    level="error",
                    where=f"primary {primary.number}",
                    value=shown_length(step.length, units),
                    limit=shown_length(least, units),
                    unit=units,
                    message=(
                        f"Primary {primary.number}, step {number}: the straight is {say_length(step.length, units)} "
                        f"long; this shop needs at least {say_length(least, units)}."
                    ),
                )
