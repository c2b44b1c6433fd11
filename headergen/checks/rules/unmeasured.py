"""A chassis item that a primary was not measured against is reported, and never counts as clear."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from headergen.model import Survey
from headergen.model.finding import Finding
from headergen.words.say import capital, say_length, shown_length


def unmeasured(survey: Survey) -> Iterator[Finding]:
    """Where the free length at the flange covers the whole tube."""
    units = survey.header.draft.units
    measured = {(gap.a, gap.b) for gap in survey.gaps}
    for line in survey.header.centrelines:
        for item in survey.header.draft.chassis:
            if (line.run, item.name) not in measured:
                yield Finding(
                    rule="unmeasured",
                    level="warning",
                    where=line.run,
                    value=shown_length(line.length, units),
                    limit=shown_length(item.free_from_flange, units),
                    unit=units,
                    message=(
                        f"{capital(line.run)} was not measured against {item.name}: all of its "
                        f"{say_length(line.length, units)} lie within the "
                        f"{say_length(item.free_from_flange, units)} left free at the flange."
                    ),
                )


def together_all_along(survey: Survey) -> Iterator[Finding]:
    """Where the length over which tubes of one collector may converge covers whole tubes."""
    draft, shared = survey.header.draft, Counter(run.end.collector for run in survey.header.runs)
    for run, length in zip(survey.header.runs, survey.lengths, strict=True):
        if draft.limits.together >= length and shared[run.end.collector] > 1:
            yield Finding(
                rule="unmeasured",
                level="warning",
                where=run.name,
                value=shown_length(length, draft.units),
                limit=shown_length(draft.limits.together, draft.units),
                unit=draft.units,
                message=(
                    f"{capital(run.name)} need not keep the full gap of "
                    f"{say_length(draft.limits.between_tubes, draft.units)} to the others of collector "
                    f"{run.end.collector}: all of its {say_length(length, draft.units)} lie within the "
                    f"{say_length(draft.limits.together, draft.units)} of limits.together, where less is required."
                ),
            )
