"""A tube does not run into itself."""

from __future__ import annotations

from collections.abc import Iterator

from headergen.geometry.curves.stepped import tube_at
from headergen.model import Survey
from headergen.model.finding import Finding
from headergen.words.say import capital, say_length, say_place, shown_length


def own_crossing(survey: Survey) -> Iterator[Finding]:
    header = survey.header
    units = header.draft.units
    for crossing in survey.crossings:
        first, second = crossing.places
        run = header.run(crossing.run)
        diameter = sum(tube_at(run, place.at).radius for place in crossing.places)
        yield Finding(
            rule="own-crossing",
            level="error",
            where=crossing.run,
            value=shown_length(crossing.distance, units),
            limit=shown_length(diameter, units),
            unit=units,
            message=(
                f"{capital(crossing.run)} crosses itself: its middle at {say_place(header, first)}, comes within "
                f"{say_length(crossing.distance, units)} of its middle at {say_place(header, second)}; the two must "
                f"stay a diameter apart, {say_length(diameter, units)}, so no solid is made of this tube."
            ),
            point=crossing.point,
        )
