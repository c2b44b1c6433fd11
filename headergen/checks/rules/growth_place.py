"""A tube grows at a length from its start that the spec asks for."""

from __future__ import annotations

from collections.abc import Iterator

from headergen.geometry.curves.stepped import growth_places
from headergen.model import Header, Straight
from headergen.model.finding import Finding
from headergen.words.say import capital, say_length, say_source, shown_length

SAME = 0.05  # mm, of lengths that are sawn by hand


def growth_place(header: Header) -> Iterator[Finding]:
    units = header.draft.units
    for run in header.runs:
        for place in growth_places(run):
            step = run.steps[place.step - 1]
            required = step.growth.at if isinstance(step, Straight) and step.growth is not None else None
            at = place.bore_grows
            if required is None or required[0] - SAME <= at <= required[1] + SAME:
                continue
            low, high = (say_length(each, units) for each in required)
            limit = required[0] if at < required[0] else required[1]
            yield Finding(
                rule="growth-place",
                level="error",
                where=run.name,
                value=shown_length(at, units),
                limit=shown_length(limit, units),
                unit=units,
                message=(
                    f"{capital(run.name)}, step {place.step}: its bore grows {say_length(at, units)} from "
                    f"{say_source(run)}, "
                    f"{say_length(abs(limit - at), units)} too {'near' if at < limit else 'far'}; {low} to {high} are "
                    "required, and the straights before and after it, as far as they are marked fit, leave no room for "
                    "that."
                ),
            )
