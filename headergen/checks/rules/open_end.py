"""Every primary ends on its bore, square to the collector plane."""

from __future__ import annotations

import math
from collections.abc import Iterator

from headergen.geometry.frames import add, dot, subtract, unit
from headergen.model import End, Survey, Vec
from headergen.model.finding import Finding
from headergen.words.say import capital, say_angle, say_length, say_way, shown_length


def open_end(survey: Survey) -> Iterator[Finding]:
    for end in survey.ends:
        yield from _position(survey, end)
        yield from _angle(survey, end)


def _position(survey: Survey, end: End) -> Iterator[Finding]:
    draft = survey.header.draft
    miss = math.hypot(end.along, end.across)
    if miss <= draft.limits.end_position:
        return
    parts = []
    if end.across > draft.limits.end_position / 10:
        parts.append(f"{say_length(end.across, draft.units)} beside it, {say_way(_beside(survey, end))}")
    if abs(end.along) > draft.limits.end_position / 10:
        side = "past" if end.along > 0 else "short of"
        parts.append(f"{say_length(abs(end.along), draft.units)} {side} the collector plane")
    yield Finding(
        rule="end-position",
        level="error",
        where=end.run,
        value=shown_length(miss, draft.units),
        limit=shown_length(draft.limits.end_position, draft.units),
        unit=draft.units,
        message=(
            f"{capital(end.run)} misses {_bore(survey, end)} by {say_length(miss, draft.units)} "
            f"({', '.join(parts)}); {say_length(draft.limits.end_position, draft.units)} allowed."
        ),
        point=end.point,
    )


def _angle(survey: Survey, end: End) -> Iterator[Finding]:
    draft = survey.header.draft
    if end.angle <= draft.limits.end_angle:
        return
    gape = survey.header.run(end.run).tubes[-1].outside_diameter * math.tan(min(end.angle, math.radians(80)))
    yield Finding(
        rule="end-angle",
        level="error",
        where=end.run,
        value=round(math.degrees(end.angle), 2),
        limit=round(math.degrees(draft.limits.end_angle), 2),
        unit="deg",
        message=(
            f"{capital(end.run)} arrives {say_angle(end.angle)} off the axis of {_bore(survey, end)}; "
            f"{say_angle(draft.limits.end_angle)} allowed; its end gapes {say_length(gape, draft.units)} "
            f"across the tube."
        ),
        point=end.point,
    )


def _beside(survey: Survey, end: End) -> Vec:
    """The vector from the bore's axis to the end of the tube."""
    bore = survey.header.run(end.run).end.frame
    off = subtract(end.point, bore.origin)
    return unit(add(off, bore.z, -dot(off, bore.z)))


def _bore(survey: Survey, end: End) -> str:
    bore = survey.header.run(end.run).end
    return bore.own
