"""Primaries keep their distance from each other; where they converge on a collector, what the ramp asks."""

from __future__ import annotations

from collections.abc import Iterator

from headergen.model import Gap, Header, Survey
from headergen.model.finding import Finding
from headergen.words.say import capital, say_length, say_place, say_runs, say_stretches, shown_length


def gap_tubes(survey: Survey) -> Iterator[Finding]:
    units = survey.header.draft.units
    for gap in survey.gaps:
        if gap.is_between_runs and gap.is_too_small:
            yield Finding(
                rule="gap-tubes",
                level="error",
                where=gap.a,
                value=shown_length(gap.value, units),
                limit=shown_length(gap.required, units),
                unit=units,
                message=_message(survey.header, gap),
                point=gap.points[0],
                against=gap.b,
            )


def _message(header: Header, gap: Gap) -> str:
    units = header.draft.units
    pair = capital(say_runs(header, (gap.a, gap.b)))
    if gap.value < 0:
        what = f"{pair} cross, {say_length(-gap.value, units)} deep"
    else:
        what = f"{pair} are {say_length(gap.value, units)} apart"
    required = f"{say_length(gap.required, units)} required"
    if gap.together and gap.required > 0:
        required += " there, where tubes converge and the gap falls from "
        required += f"{say_length(header.draft.limits.between_tubes, units)} to what the bores leave"
    elif gap.together:
        required = "so near the collector they may touch but not overlap"
    where = f"nearest {', '.join(f'on {place.run} {say_place(header, place)}' for place in gap.places)}"
    near = say_stretches(gap.near, header.draft)
    near += f" along {gap.a}" if near else ""
    return f"{what}; {required}; {where}{near}{_boundary(header, gap)}."


def _boundary(header: Header, gap: Gap) -> str:
    if not gap.on_boundary:
        return ""
    together = say_length(header.draft.limits.together, header.draft.units)
    return f"; this is at the start of the last {together}, where tubes may converge"
