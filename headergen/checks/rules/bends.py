"""Bends can exist: the tube allows their centre-line radius, and the shelf has a bend to cut them from."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from headergen.geometry.curves.stepped import tube_of_step
from headergen.model import Bend, Header, Routing, Run, StockBend
from headergen.model.finding import Finding
from headergen.model.stock import SAME_RADIUS
from headergen.words.say import capital, say_angle, say_length, shown_length

SAME_ANGLE = 1e-6  # rad
WRITTEN = math.radians(1e-4)  # a found angle is written to as much
USUAL = [math.radians(degrees) for degrees in (15, 20, 22.5, *range(30, 181, 15))]  # angles that are often ordered
TWO_DIGITS = 0.005 + 1e-9  # the most that a number written to two digits may be off


def numbered_bends(header: Header) -> Iterator[tuple[Run, int, Bend]]:
    """Run, step (from 1) and bend, in travel order."""
    for run in header.runs:
        for number, step in enumerate(run.steps, 1):
            if isinstance(step, Bend):
                yield run, number, step


def is_too_tight(bend: Bend, run: Run, step: int) -> bool:
    """Whether the inside of the bend, step `step` of the run, would fold over itself."""
    return bend.radius < tube_of_step(run, step).radius


def bend_radius(header: Header) -> Iterator[Finding]:
    units = header.draft.units
    for run, step, bend in numbered_bends(header):
        radius = tube_of_step(run, step).radius
        if is_too_tight(bend, run, step):
            yield Finding(
                rule="bend-radius",
                level="error",
                where=run.name,
                value=shown_length(bend.radius, units),
                limit=shown_length(radius, units),
                unit=units,
                message=(
                    f"{capital(run.name)}, step {step}: a centre-line radius of {say_length(bend.radius, units)} is "
                    f"less than half the tube's outside diameter ({say_length(radius, units)}); the inside of the bend "
                    f"would fold into itself, so no solid is made of this tube, and its gaps are measured only once."
                ),
            )
        elif bend.radius < 2 * radius - SAME_RADIUS:
            yield Finding(
                rule="bend-radius",
                level="warning",
                where=run.name,
                value=shown_length(bend.radius, units),
                limit=shown_length(2 * radius, units),
                unit=units,
                message=(
                    f"{capital(run.name)}, step {step}: a centre-line radius of {say_length(bend.radius, units)} is "
                    f"less than the tube's outside diameter ({say_length(2 * radius, units)}); bends that tight are "
                    "rarely sold. Check its unit, and whether it is measured to the middle of the tube."
                ),
            )


def bend_in_radians(header: Header) -> Iterator[Finding]:
    """A bend of a few degrees whose number is that of a usual angle in radians: 1.57, 0.79."""
    for run, step, bend in numbered_bends(header):
        number = math.degrees(bend.angle)
        meant = next((angle for angle in USUAL if abs(number - angle) <= TWO_DIGITS), None)
        if meant is not None and not any((fit.step, fit.what) == (step, "angle") for fit in run.fits):
            yield Finding(
                rule="bend-radians",
                level="warning",
                where=run.name,
                value=round(number, 2),
                limit=round(math.degrees(meant), 2),
                unit="deg",
                message=(
                    f"{capital(run.name)}, step {step}: the bend is {say_angle(bend.angle)}, hardly a bend. Angles are "
                    f"in degrees; if {number:.2f} was meant in radians, write {math.degrees(meant):g} for "
                    f"{say_angle(meant)}."
                ),
            )


def bend_range(header: Header) -> Iterator[Finding]:
    """Every bend is within the range that the spec gives under route."""
    if header.draft.routing.bends_given:
        yield from bends_out_of_range(header, [run.name for run in header.runs])


def bends_out_of_range(header: Header, names: Sequence[str]) -> Iterator[Finding]:
    """The bends of these runs that are flatter or sharper than paths may have them."""
    routing = header.draft.routing
    for run, step, bend in numbered_bends(header):
        if run.name not in names or is_in_range(bend, routing):
            continue
        is_flat = bend.angle < routing.flattest
        limit = routing.flattest if is_flat else routing.sharpest
        yield Finding(
            rule="bend-range",
            level="error",
            where=run.name,
            value=round(math.degrees(bend.angle), 2),
            limit=round(math.degrees(limit), 2),
            unit="deg",
            message=(
                f"{capital(run.name)}, step {step}: the bend of {say_angle(bend.angle)} is "
                f"{say_angle(abs(bend.angle - limit))} {'flatter' if is_flat else 'sharper'} than the "
                f"{say_angle(limit)} allowed; change the bend, or the range under route: bends."
            ),
        )


def is_in_range(bend: Bend, routing: Routing) -> bool:
    """Whether a bend is neither flatter nor sharper than allowed, by the digits of a file."""
    return routing.flattest - WRITTEN <= bend.angle <= routing.sharpest + WRITTEN


def bend_on_shelf(header: Header) -> Iterator[Finding]:
    """Of tubes that the stock list has bends of: whether it has bends of that radius, and large enough."""
    stock = header.draft.stock
    if stock is None:
        return
    for run, step, bend in numbered_bends(header):
        shelf = tuple(each for _, each in stock.bends_of(tube_of_step(run, step), header.draft.tube))
        if not shelf:
            continue
        same = [each for each in shelf if abs(each.radius - bend.radius) <= SAME_RADIUS]
        if not same:
            yield _no_radius(header, (run, step, bend), shelf)
        elif bend.angle > max(each.angle for each in same) + SAME_ANGLE:
            yield _no_angle(header, (run, step, bend), max(each.angle for each in same))


def _no_radius(header: Header, place: tuple[Run, int, Bend], shelf: tuple[StockBend, ...]) -> Finding:
    units = header.draft.units
    run, step, bend = place
    nearest = min((each.radius for each in shelf), key=lambda radius: (abs(radius - bend.radius), radius))
    return Finding(
        rule="bend-shelf",
        level="warning",
        where=run.name,
        value=shown_length(bend.radius, units),
        limit=shown_length(nearest, units),
        unit=units,
        message=(
            f"{capital(run.name)}, step {step}: no bend of centre-line radius {say_length(bend.radius, units)} is in "
            f"the stock list; the nearest radius there is {say_length(nearest, units)}."
        ),
    )


def _no_angle(header: Header, place: tuple[Run, int, Bend], largest: float) -> Finding:
    run, step, bend = place
    return Finding(
        rule="bend-shelf",
        level="warning",
        where=run.name,
        value=round(math.degrees(bend.angle), 2),
        limit=round(math.degrees(largest), 2),
        unit="deg",
        message=(
            f"{capital(run.name)}, step {step}: a bend of {say_angle(bend.angle)} cannot be cut from the stock list; "
            f"the largest of radius {say_length(bend.radius, header.draft.units)} there is {say_angle(largest)}."
        ),
    )
