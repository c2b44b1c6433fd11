"""Parts cut from sheet and mounted on tubes, as DXF: contour and holes at finished size, coped at mid-plane.

No allowance is added for the width of the cut; the edges are dressed to fit the tubes.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from headergen.geometry.plate.lettering import with_room
from headergen.geometry.plate.outline import Outline, circle, points_on
from headergen.model import Draft
from headergen.outputs.dxf.document import SMALL, add_contour, add_words, middle_of, new_document, size_text, text_of
from headergen.parts.kind import Seated
from headergen.parts.sheet import Sheet

SPACING = 1.0  # mm between the points on edges that texts stay clear of


def write_sheets(folder: Path, draft: Draft, parts: Sequence[tuple[Seated, str]]) -> dict[str, str]:
    """Writes each sheet of a kind that is drawn; the same bytes for the same draft and library.

    Raises DrawingError if the library's audit finds a fault, OSError if the file cannot be written.
    """
    found = {}
    for part, stem in parts:
        sheet = part.seat
        assert isinstance(sheet, Sheet) and sheet.flat is not None
        found[part.name] = f"{stem}.dxf"
        text = _drawing(sheet, sheet.flat, (part.name, draft.tube.material, size_text(sheet.thickness, draft.units)))
        (folder / found[part.name]).write_text(text, encoding="utf-8", newline="\n")
    return found


def _drawing(sheet: Sheet, flat: Outline, words: Sequence[str]) -> str:
    document = new_document()
    space = document.modelspace()
    holes = [circle(spot, radius) for spot, radius in sheet.holes]
    for outline in (flat, *holes):
        add_contour(space, outline)
    edge = points_on(flat, SPACING)
    texts = [(each, middle_of(edge)) for each in words]
    add_words(space, with_room(texts, edge, [points_on(hole, SPACING) for hole in holes], SMALL))
    return text_of(document)
