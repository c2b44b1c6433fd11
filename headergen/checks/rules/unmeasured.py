"""A chassis item that a primary was not measured against is said, never taken as clear."""

from __future__ import annotations

from collections import Counter
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


def together_all_along(survey: Survey) -> Iterator[Finding]:
    """Where the length over which tubes of one collector may converge takes in whole tubes."""
    draft, shared = survey.header.draft, Counter(primary.bore.collector for primary in survey.header.primaries)
    for primary, length in zip(survey.header.primaries, survey.lengths, strict=True):
        if draft.limits.together >= length and shared[primary.bore.collector] > 1:
            yield Finding(
                rule="unmeasured",
                level="warning",
                where=f"primary {primary.number}",
                value=shown_length(length, draft.units),
                limit=shown_length(draft.limits.together, draft.units),
                unit=draft.units,
                message=(
                    f"Primary {primary.number} was checked for crossings only against the others of collector "
                    f"{primary.bore.collector}: all of its {say_length(length, draft.units)} lie within the "
                    f"{say_length(draft.limits.together, draft.units)} of limits.together, over which they may touch."
                ),
            )
