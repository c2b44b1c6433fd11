"""A plate, of a head or of an outlet, as DXF: contours on one layer, marks on another, at true size in mm.

Contours are closed, one for each edge of metal, and show the finished size; the operator compensates for the width of
the cut. The plate is seen from outside the head, or along the gas, its gasket face on the far side.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from headergen.geometry.plate.flange import Plate, plate_of
from headergen.geometry.plate.lettering import with_room
from headergen.geometry.plate.outline import points_on
from headergen.model import Draft
from headergen.outputs.dxf.document import (
    HAND,
    add_contour,
    add_words,
    middle_of,
    new_document,
    size_text,
    text_of,
)
from headergen.parts.flange import PlateSeat
from headergen.parts.kind import Seated


def write_flange_dxf(folder: Path, draft: Draft, parts: Sequence[tuple[Seated, str]]) -> dict[str, str]:
    """Writes the flanges among the parts of a draft; the same bytes for the same draft and library.

    Raises DrawingError if the library's audit finds a fault, OSError if the file cannot be written.
    """
    job, found = draft.job, {}
    for part, stem in parts:
        seat = part.seat
        assert isinstance(seat, PlateSeat)
        flange = seat.flange
        sheet = f"{draft.tube.material} {size_text(flange.thickness, draft.units)}"
        name = f"{job.title} {job.revision} {part.name} {sheet}"
        numbers = {port.number: f"{port.number}" for port in flange.ports if part.kind.on_head}
        text = drawing(plate_of(flange, seat.tube), name, numbers)
        found[part.name] = f"{stem}.dxf"
        (folder / found[part.name]).write_text(text, encoding="utf-8", newline="\n")
    return found


def drawing(plate: Plate, name: str, ports: dict[int, str]) -> str:
    """The text of a DXF (R2010): contours, the name as a mark, and each port's number beside its hole."""
    document = new_document()
    space = document.modelspace()
    for outline in (plate.outline, *(hole.outline for hole in plate.holes)):
        add_contour(space, outline)
    edge, holes = points_on(plate.outline, 1.0), [points_on(hole.outline, 1.0) for hole in plate.holes]
    texts = [(name, middle_of(edge))]
    texts += [(words, middle_of(hole)) for words, hole in zip(ports.values(), holes, strict=False)]
    add_words(space, with_room(texts, edge, holes, HAND))
    return text_of(document)
