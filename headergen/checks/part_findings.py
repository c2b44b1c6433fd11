"""A finding about a part with a length found and a length required, in the job's unit."""

from __future__ import annotations

from headergen.model import Draft, Vec
from headergen.model.finding import Finding, Level
from headergen.words.say import shown_length

Said = tuple[float, float, str]  # the length found, the length required, and the message after the part's name


def length_finding(
    draft: Draft, part: str, said: Said, point: Vec | None, *, rule: str, level: Level = "error"
) -> Finding:
    value, limit, what = said
    return Finding(
        rule=rule,
        level=level,
        where=part,
        value=shown_length(value, draft.units),
        limit=shown_length(limit, draft.units),
        unit=draft.units,
        message=f"The {part} {what}.",
        point=point,
    )
