"""Locating plates as DXF, for cutting in plywood or steel: outline and holes at full size, in millimetres."""

from __future__ import annotations

from pathlib import Path

from headergen.model import LocatingPlate
from headergen.outputs.dxf.document import CUT, MARK, new_document, text_of

LETTERS = 6.0


def write_plate_dxf(path: Path, plate: LocatingPlate, title: str) -> None:
    """Writes the plate as seen from the tubes' side; words and numbers are on a layer of their own.

    The same bytes for the same plate and library. Raises DrawingError, and OSError when it cannot be written.
    """
    from ezdxf.enums import TextEntityAlignment

    drawing = new_document()
    space = drawing.modelspace()
    space.add_lwpolyline(plate.outline, close=True, dxfattribs={"layer": CUT})
    for hole in plate.holes:
        space.add_circle(hole.at, hole.diameter / 2, dxfattribs={"layer": CUT})
        if hole.primary is not None:
            text = space.add_text(f"P{hole.primary}", height=LETTERS, dxfattribs={"layer": MARK})
            text.set_placement(hole.at, align=TextEntityAlignment.MIDDLE_CENTER)
    low = min(y for _, y in plate.outline), min(x for x, _ in plate.outline)
    words = f"{title}: plate {plate.name}, {plate.thickness:g} mm, seen from the tubes"
    space.add_text(words, height=LETTERS, dxfattribs={"layer": MARK}).set_placement((low[1], low[0] - 2 * LETTERS))
    path.write_text(text_of(drawing), encoding="utf-8", newline="\n")
