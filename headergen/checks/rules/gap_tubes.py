"""Primaries keep their distance from each other, and do not cross where they close up on a collector."""

from __future__ import annotations

from collections.abc import Iterator

from headergen.checks.words import say_length, say_place, say_stretches, shown_length
from headergen.finding import Finding
from headergen.model import Gap, Header, Place, Survey


def gap_tubes(survey: Survey) -> Iterator[Finding]:
    units = survey.header.draft.units
    for gap in survey.gaps:
        if isinstance(gap.other, Place) and gap.is_too_small:
            yield Finding(
                rule="gap-tubes",
                level="error",
                where=f"primary {gap.place.primary}",
                value=shown_length(gap.value, units),
                limit=shown_length(gap.required, units),
                unit=units,
                message=_message(survey.header, gap, gap.other),
                point=gap.points[0],
                against=f"primary {gap.other.primary}",
            )


def _message(header: Header, gap: Gap, other: Place) -> str:
    units = header.draft.units
    pair = f"Primaries {gap.place.primary} and {other.primary}"
    if gap.value < 0:
        what = f"{pair} cross, {say_length(-gap.value, units)} deep"
    else:
        what = f"{pair} are {say_length(gap.value, units)} apart"
    wanted = (
        "where they close up on the collector they may touch, no more"
        if gap.together
        else (f"{say_length(gap.required, units)} wanted")
    )
    where = (
        f"nearest on primary {gap.place.primary} {say_place(header, gap.place)}, "
        f"on primary {other.primary} {say_place(header, other)}"
    )
    near = say_stretches(gap.near, header.draft)
    near += f" along primary {gap.place.primary}" if near else ""
    return f"{what}; {wanted}; {where}{near}{_boundary(header, gap)}."


def _boundary(header: Header, gap: Gap) -> str:
    if not gap.on_boundary:
        return ""
    together = say_length(header.draft.limits.together, header.draft.units)
    return f"; that is where the last {together}, over which they may close up, begin"
