"""One line of an order, and amounts in whole units."""

from __future__ import annotations

import math
from dataclasses import dataclass

from headergen.words.numbers import INCH


@dataclass(frozen=True)
class OrderLine:
    """One line: `on_hand` are there already; `quantity` in `unit` is to be bought."""

    what: str
    size: str
    needed: int
    on_hand: int
    quantity: float
    unit: str


def in_pieces(count: int) -> str:
    return "piece" if count == 1 else "pieces"


def whole_length(millimetres: float, units: str) -> int:
    """A length to be bought, in whole units."""
    return math.ceil(millimetres / INCH if units == "in" else millimetres)


def whole_area(square_millimetres: float, units: str) -> tuple[int, str]:
    """An area to be bought, in whole units, and the unit."""
    if units == "in":
        return math.ceil(square_millimetres / INCH**2), "in²"
    return math.ceil(square_millimetres / 100), "cm²"
