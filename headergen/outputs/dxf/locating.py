"""Locating plates as DXF, for cutting in plywood or steel: outline and holes at full size, in millimetres."""

from __future__ import annotations

from pathlib import Path

from headergen.geometry.plate.lettering import with_room
from headergen.geometry.plate.outline import points_on, polygon
from headergen.geometry.plate.united import openings_of
from headergen.model import LocatingPlate
from headergen.outputs.dxf.document import (
    CUT,
    HAND,
    add_contour,
    add_words,
    middle_of,
    new_document,
    size_text,
    text_of,
)

SPACING = 1.0  # mm between the points on edges that texts stay clear of


def write_plate_dxf(path: Path, plate: LocatingPlate, title: str, units: str = "mm") -> None:
    """Writes the plate as seen from the tubes' side; words and numbers are on their own layer, in the metal.

    `units` (mm or in) are those of its thickness.

    The same bytes for the same plate and library. Raises DrawingError, and OSError if it cannot be written.
    """
    drawing = new_document()
    space = drawing.modelspace()
    space.add_lwpolyline(plate.outline, close=True, dxfattribs={"layer": CUT})
    cut_out = openings_of(plate.holes)
    for opening in cut_out:
        add_contour(space, opening.outline)
    edge = points_on(polygon(plate.outline), SPACING)
    holes = [points_on(opening.outline, SPACING) for opening in cut_out]
    texts = [(hole.mark, hole.at) for hole in plate.holes if hole.run is not None]
    texts += [(hole.datum, hole.at) for hole in plate.holes if hole.datum]
    top = (middle_of(edge)[0], float(edge[:, 1].max()))
    texts += [
        (words, top) for words in (plate.name, size_text(plate.thickness, units), "this face to the engine", title)
    ]
    add_words(space, with_room(texts, edge, holes, HAND))
    path.write_text(text_of(drawing), encoding="utf-8", newline="\n")
