"""A tube does not run into itself."""

from __future__ import annotations

from collections.abc import Iterator

from headergen.checks.words import say_length, say_place, shown_length
from headergen.finding import Finding
from headergen.model import Survey


def own_crossing(survey: Survey) -> Iterator[Finding]:
    header = survey.header
    units, diameter = header.draft.units, header.draft.tube.outside_diameter
    for crossing in survey.crossings:
        first, second = crossing.places
        yield Finding(
            rule="own-crossing",
            level="error",
            where=f"primary {crossing.primary}",
            value=shown_length(crossing.distance, units),
            limit=shown_length(diameter, units),
            unit=units,
            message=(
                f"Primary {crossing.primary} crosses itself: its middle at {say_place(header, first)}, comes within "
                f"{say_length(crossing.distance, units)} of its middle at {say_place(header, second)}; the two must "
                f"stay a diameter apart, {say_length(diameter, units)}, so no solid is made of this primary."
            ),
            point=crossing.point,
        )
