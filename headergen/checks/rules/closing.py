"""Primaries with values to fit close on their bores; where one does not, what stands in the way and what would help."""

from __future__ import annotations

import math
from collections.abc import Iterator

from headergen.checks.words import say_angle, say_length, shown_length
from headergen.finding import Finding
from headergen.model import Bend, Fit, Header, Miss, Primary

NOTHING = 1e-3  # mm; less than this is no part of a miss that is worth naming


def closing(header: Header) -> Iterator[Finding]:
    primaries = {primary.number: primary for primary in header.primaries}
    for miss in header.misses:
        primary = primaries[miss.primary]
        if primary.fits:
            yield _not_closed(header, primary, miss)
        elif miss.would_help:
            yield _would_help(header, primary, miss)


def _not_closed(header: Header, primary: Primary, miss: Miss) -> Finding:
    units = header.draft.units
    off = math.hypot(miss.along, miss.across)
    said = [f"Primary {primary.number} cannot be closed with the values it may change: {_off(header, primary, miss)}"]
    if miss.at_limits:
        said.append("; ".join(_at_limit(header, primary, fit) for fit in miss.at_limits))
    if miss.nearest_length is not None:
        said.append(f"it does close at a length of {say_length(miss.nearest_length, units)}")
    if miss.would_help:
        said.append(f"freeing {_values(primary, miss.would_help)} as well would close it")
    return Finding(
        rule="closing",
        level="error",
        where=f"primary {primary.number}",
        value=shown_length(off, units),
        limit=0.0,
        unit=units,
        message="; ".join(said) + ".",
    )


def _would_help(header: Header, primary: Primary, miss: Miss) -> Finding:
    units = header.draft.units
    return Finding(
        rule="closing",
        level="info",
        where=f"primary {primary.number}",
        value=shown_length(math.hypot(miss.along, miss.across), units),
        limit=shown_length(header.draft.limits.end_position, units),
        unit=units,
        message=(
            f"Primary {primary.number} would close with {_values(primary, miss.would_help)} marked to be fitted: "
            f"as it is, {_off(header, primary, miss)}."
        ),
    )


def _off(header: Header, primary: Primary, miss: Miss) -> str:
    units = header.draft.units
    bore = f"bore {primary.bore.number} of collector {primary.bore.collector}"
    parts = []
    if math.hypot(miss.along, miss.across) > NOTHING:
        parts.append(f"it ends {say_length(math.hypot(miss.along, miss.across), units)} from {bore}")
    if miss.angle > math.radians(0.01):
        parts.append(f"it arrives {say_angle(miss.angle)} off the axis of {bore}")
    if abs(miss.length_off) > NOTHING:
        side = "longer" if miss.length_off > 0 else "shorter"
        target = primary.target if primary.target is not None else header.draft.length.target
        wanted = f" than the {say_length(target, units)} wanted" if target is not None else ""
        parts.append(f"it is {say_length(abs(miss.length_off), units)} {side}{wanted}")
    return " and ".join(parts) if parts else f"it only just misses {bore}"


def _at_limit(header: Header, primary: Primary, fit: Fit) -> str:
    value = say_length(fit.low, header.draft.units) if fit.what == "length" else say_angle(fit.low)
    return f"{_value(primary, fit)} stands on its limit of {value}"


def _values(primary: Primary, fits: tuple[Fit, ...]) -> str:
    names = [_value(primary, fit) for fit in fits]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _value(primary: Primary, fit: Fit) -> str:
    kind = "bend" if isinstance(primary.steps[fit.step - 1], Bend) else "straight"
    return f"the {fit.what} of step {fit.step} ({kind})"
