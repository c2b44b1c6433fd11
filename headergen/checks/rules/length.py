"""Every run has its required length, and primaries into collectors have nearly equal lengths."""

from __future__ import annotations

from collections.abc import Iterator

from headergen.model import Survey
from headergen.model.finding import Finding
from headergen.model.lengths import has_common_length, required_length
from headergen.words.say import capital, say_length, shown_length


def length(survey: Survey) -> Iterator[Finding]:
    draft = survey.header.draft
    tolerance = draft.length.tolerance
    for run, developed in zip(survey.header.runs, survey.lengths, strict=True):
        target = required_length(run, draft)
        if target is None or abs(developed - target) <= tolerance:
            continue
        side = "too long" if developed > target else "too short"
        yield Finding(
            rule="length",
            level="error",
            where=run.name,
            value=shown_length(developed, draft.units),
            limit=shown_length(target, draft.units),
            unit=draft.units,
            message=(
                f"{capital(run.name)} is {say_length(developed, draft.units)} along its centreline, "
                f"{say_length(abs(developed - target), draft.units)} {side}: "
                f"{say_length(target, draft.units)} is required, within {say_length(tolerance, draft.units)}."
            ),
        )


def length_spread(survey: Survey) -> Iterator[Finding]:
    """Without a target length, primaries into collectors are compared with each other."""
    draft = survey.header.draft
    free = [
        (developed, run.number)
        for run, developed in zip(survey.header.runs, survey.lengths, strict=True)
        if has_common_length(run) and run.target is None and draft.length.target is None
    ]
    if len(free) < 2:
        return
    (shortest, short), (longest, long) = min(free), max(free)
    if longest - shortest <= draft.length.tolerance:
        return
    yield Finding(
        rule="length-spread",
        level="error",
        where=f"primary {long}",
        value=shown_length(longest - shortest, draft.units),
        limit=shown_length(draft.length.tolerance, draft.units),
        unit=draft.units,
        message=(
            f"Primary {long} is {say_length(longest - shortest, draft.units)} longer than primary {short} "
            f"({say_length(longest, draft.units)} against {say_length(shortest, draft.units)}); "
            f"{say_length(draft.length.tolerance, draft.units)} allowed."
        ),
    )
