"""Flange, sleeves, merge and outlet keep their clearance from chassis items and from tubes that go elsewhere."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from headergen.model import Draft, Gap, Survey
from headergen.model.finding import Finding
from headergen.words.say import say_length, shown_length


def parts_clear(survey: Survey) -> Iterator[Finding]:
    return too_near(survey.header.draft, survey.part_gaps)


def too_near(draft: Draft, gaps: Iterable[Gap]) -> Iterator[Finding]:
    """The gaps of parts that are smaller than required."""
    units = draft.units
    enclosures = {item.name for item in draft.chassis if item.role == "enclosure"}
    for gap in gaps:
        if gap.is_too_small:
            yield Finding(
                rule="part-clear",
                level="error",
                where=gap.a,
                value=shown_length(gap.value, units),
                limit=shown_length(gap.required, units),
                unit=units,
                message=_message(gap, gap.b in enclosures, units),
                point=gap.points[1],
                against=gap.b,
            )


def _message(gap: Gap, is_enclosure: bool, units: str) -> str:
    required = f"{say_length(gap.required, units)} required"
    if gap.crosses:
        touch = f"{say_length(0.0, units)} between them"
        return f"The {gap.a} and {gap.b} cross, {touch}; the depth in an open surface is not known; {required}."
    deep = ("at least " if gap.at_least else "") + say_length(-gap.value, units)
    if gap.inside:
        return f"The {gap.a} is wholly on the wrong side of {gap.b}, by at least {deep}; {required}."
    if gap.value < 0 and is_enclosure:
        return f"The {gap.a} breaks out of {gap.b}, which it must stay inside, by {deep}; {required}."
    if gap.value < 0:
        return f"The {gap.a} and {gap.b} cross, {deep} deep; {required}."
    return f"The {gap.a} is {say_length(gap.value, units)} from {gap.b}; {required}."
