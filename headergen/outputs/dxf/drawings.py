"""Which parts of a header are cut from plate or sheet, and their drawings.

A drawing goes by the shape of a part, and is made of those parts whose kind is drawn (parts/table.py).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path

from headergen.model import Draft
from headergen.outputs.dxf.flange import write_flange_dxf
from headergen.outputs.dxf.pattern import write_patterns
from headergen.outputs.dxf.ring import write_ring_dxf
from headergen.outputs.dxf.sheet import write_sheets
from headergen.parts.kind import Seated, Shape

Stemmed = tuple[Seated, str]  # a part, and what its files are called
# draws the parts of one shape into a folder: the file of each that has one, by its name
DRAWINGS: Mapping[Shape, Callable[[Path, Draft, Sequence[Stemmed]], dict[str, str]]] = {
    "plate": write_flange_dxf,
    "transition": write_patterns,
    "turned": write_ring_dxf,
    "sheet": write_sheets,
}


def write_drawings(folder: Path, draft: Draft, parts: Iterable[Stemmed]) -> dict[str, str]:
    """Draws the parts that are made; the drawing of each that has one, by part.

    Raises DrawingError and OSError.
    """
    drawn = [each for each in parts if each[0].kind.is_drawn]
    found: dict[str, str] = {}
    for shape, write in DRAWINGS.items():
        found |= write(folder, draft, [each for each in drawn if each[0].kind.shape == shape])
    return found
