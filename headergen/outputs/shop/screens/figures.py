"""Figures of a screen: each is one value of shop.json, rounded as the tool in use shows it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from headergen.words.numbers import decimal, fixed, in_fractions, in_units


@dataclass(frozen=True)
class Reading:
    """`at`: the place of its value in shop.json, as a JSON pointer (RFC 6901)."""

    label: str
    said: str
    unit: str
    at: str


def value_at(data: Any, at: str) -> Any:
    """The value at a JSON pointer; no key of shop.json needs an escape. Raises KeyError or IndexError."""
    for key in at.split("/")[1:]:
        data = data[int(key)] if isinstance(data, list) else data[key]
    return data


def figure(data: Any, at: str, label: str, sign: str = "") -> Reading:
    """A length in the unit of the job, or an angle to a tenth of a degree, as on a digital level."""
    value = value_at(data, at)
    if at.endswith("_deg"):
        return Reading(label, fixed(value, 1, sign), "°", at)
    units = data["shop_units"]
    return Reading(label, in_units(value, units, 1, sign), units, at)


def figures(
    data: Any, within: str, labels: Iterable[tuple[str, str]], signed: Iterable[str] = ()
) -> tuple[Reading, ...]:
    """Several figures of one record, by key and label, without those that the record does not have."""
    record, signed = value_at(data, within), tuple(signed)
    return tuple(
        figure(data, f"{within}/{key}", label, "+" if key in signed else "")
        for key, label in labels
        if record[key] is not None
    )


def without_sign(data: Any, at: str, label: str) -> Reading:
    """An angle whose direction is given in words."""
    return Reading(label, fixed(abs(value_at(data, at)), 1), "°", at)


def arcs(data: Any, at: str) -> tuple[Reading, Reading]:
    """An arc for both rules that may be in use, whatever the unit of the job is."""
    value = value_at(data, at)
    inches = Reading("arc outside", in_fractions(value), "in", at)
    return Reading("arc outside", fixed(value, 1), "mm", at), inches


def amount(data: Any, at: str, label: str, unit: str) -> Reading:
    return Reading(label, decimal(value_at(data, at), 1), unit, at)
