"""The holes of the flange leave metal between them."""

from __future__ import annotations

from collections.abc import Iterator

from headergen.checks.words import say_length, shown_length
from headergen.finding import Finding
from headergen.geometry.frames import point_in
from headergen.geometry.plate import lands, plate_of
from headergen.model import Header

LEAST_LAND = 3.0  # mm; common practice, no source


def plate_land(header: Header) -> Iterator[Finding]:
    draft = header.draft
    units, flange = draft.units, draft.flange
    for what, other, land, spot in lands(plate_of(flange, draft.tube), LEAST_LAND):
        wanted = f"at least {say_length(LEAST_LAND, units)} is wanted"
        if land < 0:
            said = f"runs the holes of {what} and {other} into each other, {say_length(-land, units)} deep; {wanted}"
        else:
            said = f"leaves {say_length(land, units)} of metal between {what} and {other}; {wanted}"
        yield Finding(
            rule="plate-land",
            level="error" if land < 0 else "warning",
            where="flange",
            value=shown_length(land, units),
            limit=shown_length(LEAST_LAND, units),
            unit=units,
            message=f"The flange {said}.",
            point=point_in(flange.frame, (*spot, 0.0)),
        )
