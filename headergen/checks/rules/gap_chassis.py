"""A primary keeps the clearance of every chassis item."""

from __future__ import annotations

from collections.abc import Iterator

from headergen.model import ChassisItem, Gap, Header, Survey
from headergen.model.finding import Finding
from headergen.words.say import capital, say_length, say_place, say_stretches, shown_length


def gap_chassis(survey: Survey) -> Iterator[Finding]:
    header = survey.header
    units = header.draft.units
    items = {item.name: item for item in header.draft.chassis}
    for gap in survey.gaps:
        if not gap.is_between_runs and gap.is_too_small:
            item = items[gap.b]
            yield Finding(
                rule="gap-chassis",
                level="error",
                where=gap.a,
                value=shown_length(gap.value, units),
                limit=shown_length(gap.required, units),
                unit=units,
                message=_message(header, item, gap),
                point=gap.points[1],
                against=gap.b,
            )


def _message(header: Header, item: ChassisItem, gap: Gap) -> str:
    units = header.draft.units
    who = f"{capital(gap.a)}"
    required = f"{say_length(gap.required, units)} required"
    if item.role == "enclosure" and gap.value < 0:
        what = f"{who} breaks out of {item.name}, which it must stay inside, by {say_length(-gap.value, units)}"
    elif gap.runs_through:
        what = f"{who} runs through {item.name}, {say_length(-gap.value, units)} deep"
    elif gap.value < 0:
        what = f"{who} crosses {item.name}, {say_length(-gap.value, units)} deep"
    else:
        what = f"{who} is {say_length(gap.value, units)} from {item.name}"
    where = f"nearest {say_place(header, gap.place)}{say_stretches(gap.near, header.draft)}"
    return f"{what}; {required}; {where}{_boundary(gap, item, units)}."


def _boundary(gap: Gap, item: ChassisItem, units: str) -> str:
    if not gap.on_boundary:
        return ""
    free = say_length(item.free_from_flange, units)
    return f"; it is closer still within the {free} after the flange, which are not checked"
