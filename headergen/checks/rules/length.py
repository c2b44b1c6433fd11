"""Every primary is as long as asked, or at least as long as its neighbours."""

from __future__ import annotations

from collections.abc import Iterator

from headergen.checks.words import say_length, shown_length
from headergen.finding import Finding
from headergen.model import Survey


def length(survey: Survey) -> Iterator[Finding]:
    draft = survey.header.draft
    tolerance = draft.length.tolerance
    for primary, developed in zip(survey.header.primaries, survey.lengths, strict=True):
        target = primary.target if primary.target is not None else draft.length.target
        if target is None or abs(developed - target) <= tolerance:
            continue
        side = "too long" if developed > target else "too short"
        yield Finding(
            rule="length",
            level="error",
            where=f"primary {primary.number}",
            value=shown_length(developed, draft.units),
            limit=shown_length(target, draft.units),
            unit=draft.units,
            message=(
                f"Primary {primary.number} is {say_length(developed, draft.units)} along its centreline, "
                f"{say_length(abs(developed - target), draft.units)} {side}: "
                f"{say_length(target, draft.units)} is wanted, within {say_length(tolerance, draft.units)}."
            ),
        )


def length_spread(survey: Survey) -> Iterator[Finding]:
    """Without a target the primaries are compared with each other."""
    draft = survey.header.draft
    free = [
        (developed, primary.number)
        for primary, developed in zip(survey.header.primaries, survey.lengths, strict=True)
        if primary.target is None and draft.length.target is None
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
