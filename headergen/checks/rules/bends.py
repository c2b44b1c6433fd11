"""Bends that exist: a centre-line radius a tube can have, and a bend on the shelf to cut it from."""

from __future__ import annotations

import math
from collections.abc import Iterator

from headergen.checks.words import say_angle, say_length, shown_length
from headergen.finding import Finding
from headergen.model import Bend, Header, StockBend

SAME_RADIUS = 0.05  # mm; shelf radii are named to a tenth or as an inch fraction
SAME_ANGLE = 1e-6  # rad


def numbered_bends(header: Header) -> Iterator[tuple[int, int, Bend]]:
    """Primary, step (both from 1) and bend, in travel order."""
    for primary in header.primaries:
        for number, step in enumerate(primary.steps, 1):
            if isinstance(step, Bend):
                yield primary.number, number, step


def is_too_tight(bend: Bend, header: Header) -> bool:
    """The inside of such a bend would fold over itself."""
    return bend.radius < header.draft.tube.radius


def bend_radius(header: Header) -> Iterator[Finding]:
    units, radius = header.draft.units, header.draft.tube.radius
    for primary, step, bend in numbered_bends(header):
        if is_too_tight(bend, header):
            yield Finding(
                rule="bend-radius",
                level="error",
                where=f"primary {primary}",
                value=shown_length(bend.radius, units),
                limit=shown_length(radius, units),
                unit=units,
                message=(
                    f"Primary {primary}, step {step}: a centre-line radius of {say_length(bend.radius, units)} is less "
                    f"than half the tube's outside diameter ({say_length(radius, units)}); the inside of the bend "
                    f"would fold into itself, so no solid is made of this primary."
                ),
            )
        elif bend.radius < 2 * radius - SAME_RADIUS:
            yield Finding(
                rule="bend-radius",
                level="warning",
                where=f"primary {primary}",
                value=shown_length(bend.radius, units),
                limit=shown_length(2 * radius, units),
                unit=units,
                message=(
                    f"Primary {primary}, step {step}: a centre-line radius of {say_length(bend.radius, units)} is less "
                    f"than the tube's outside diameter ({say_length(2 * radius, units)}); bends that tight are hardly "
                    "sold. Look at its unit, and whether it is measured to the middle of the tube."
                ),
            )


def bend_on_shelf(header: Header) -> Iterator[Finding]:
    stock = header.draft.stock
    if stock is None or not stock.bends:
        return
    for primary, step, bend in numbered_bends(header):
        same = [each for each in stock.bends if abs(each.radius - bend.radius) <= SAME_RADIUS]
        if not same:
            yield _no_radius(header, (primary, step, bend), stock.bends)
        elif bend.angle > max(each.angle for each in same) + SAME_ANGLE:
            yield _no_angle(header, (primary, step, bend), max(each.angle for each in same))


def _no_radius(header: Header, place: tuple[int, int, Bend], shelf: tuple[StockBend, ...]) -> Finding:
    units = header.draft.units
    primary, step, bend = place
    nearest = min((each.radius for each in shelf), key=lambda radius: (abs(radius - bend.radius), radius))
    return Finding(
        rule="bend-shelf",
        level="warning",
        where=f"primary {primary}",
        value=shown_length(bend.radius, units),
        limit=shown_length(nearest, units),
        unit=units,
        message=(
            f"Primary {primary}, step {step}: no bend of centre-line radius {say_length(bend.radius, units)} is in the "
            f"stock list; the nearest radius there is {say_length(nearest, units)}."
        ),
    )


def _no_angle(header: Header, place: tuple[int, int, Bend], largest: float) -> Finding:
    primary, step, bend = place
    return Finding(
        rule="bend-shelf",
        level="warning",
        where=f"primary {primary}",
        value=round(math.degrees(bend.angle), 2),
        limit=round(math.degrees(largest), 2),
        unit="deg",
        message=(
            f"Primary {primary}, step {step}: a bend of {say_angle(bend.angle)} cannot be cut from the stock list; "
            f"the largest of radius {say_length(bend.radius, header.draft.units)} there is {say_angle(largest)}."
        ),
    )
