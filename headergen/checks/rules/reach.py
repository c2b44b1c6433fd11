"""There is room to put sockets on the bolts, take plugs out and put sensors in."""

from __future__ import annotations

from collections.abc import Iterator

from headergen.model import Survey
from headergen.model.finding import Finding
from headergen.words.say import say_length, shown_length


def reach(survey: Survey) -> Iterator[Finding]:
    units = survey.header.draft.units
    for gap in survey.reaches:
        if gap.is_too_small:
            yield Finding(
                rule="reach",
                level="warning",
                where=gap.a,
                value=shown_length(gap.value, units),
                limit=shown_length(gap.required, units),
                unit=units,
                message=f"The {gap.a} has no room: {gap.b} is {say_length(-gap.value, units)} too close; "
                f"{say_length(gap.required, units)} or more between them is required; move one of the two.",
                point=gap.points[1],
                against=gap.b,
            )
