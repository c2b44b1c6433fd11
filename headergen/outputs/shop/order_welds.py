"""The lines of an order for filler: each kind of weld by its length."""

from __future__ import annotations

from collections.abc import Iterator

from headergen.model import Header, Shop
from headergen.model.materials import material_called
from headergen.outputs.shop.order_line import OrderLine, whole_length

# AWS A5.9; those of 316 are from memory of it
FILLERS = {
    "304": "ER308L",
    "304L": "ER308L",
    "316": "ER316L",
    "316L": "ER316L",
    "321": "ER347",
    "347": "ER347",
    "409": "ER309L",
}


def filler_lines(header: Header, shop: Shop) -> Iterator[OrderLine]:
    """A line for each kind of weld that the header has."""
    units, known = header.draft.units, material_called(header.draft.tube.material)
    filler = FILLERS.get(known.names[0] if known is not None else "", "to suit the tube")
    for weld in shop.welds:
        what = f"filler rod for {weld.what}"
        yield OrderLine(what, filler, weld.count, 0, whole_length(weld.length, units), f"{units} of weld")
