"""A chassis item that a primary was not measured against is said, never taken as clear."""

from __future__ import annotations

from collections.abc import Iterator

from headergen.checks.words import say_length, shown_length
from headergen.finding import Finding
from headergen.model import Survey


def unmeasured(survey: Survey) -> Iterator[Finding]:
    """Where the length left free at the flange takes in the whole tube."""
    units = survey.header.draft.units
    measured = {(gap.place.primary, gap.other) for gap in survey.gaps}
    for line in survey.header.centrelines:
        for item in survey.header.draft.chassis:
            if (line.primary, item.name) not in measured:
                yield Finding(
                    rule="unmeasured",
                    level="warning",
                    where=f"primary {line.primary}",
                    value=shown_length(line.length, units),
                    limit=shown_length(item.free_from_flange, units),
                    unit=units,
                    message=(
                        f"Primary {line.primary} was not measured against {item.name}: all of its "
                        f"{say_length(line.length, units)} lie within the "
                        f"{say_length(item.free_from_flange, units)} left free at the flange."
                    ),
                )
