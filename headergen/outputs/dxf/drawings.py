"""The parts of a header that are cut from plate or sheet, and their drawings.

The shape of a part selects its drawing; only parts of kinds marked as drawn have one (parts/table.py).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path

from headergen.model import Draft
from headergen.outputs.dxf.pattern import write_patterns
from headergen.outputs.dxf.plate import write_flange_dxf
from headergen.outputs.dxf.ring import write_ring_dxf
from headergen.outputs.dxf.sheet import write_sheets
from headergen.parts.kind import Seated, Shape

Stemmed = tuple[Seated, str]  # a part, and the stem of its file names
# shape → function that draws these parts into a folder; returns the file of each drawn part, by its name
DRAWINGS: Mapping[Shape, Callable[[Path, Draft, Sequence[Stemmed]], dict[str, str]]] = {
    "plate": write_flange_dxf,
    "transition": write_patterns,
    "turned": write_ring_dxf,
    "sheet": write_sheets,
}


def write_drawings(folder: Path, draft: Draft, parts: Iterable[Stemmed]) -> dict[str, str]:
    """Draws the made parts; returns the drawing of each part that has one, by part.

    Raises DrawingError and OSError.
    """
    drawn = [each for each in parts if each[0].kind.is_drawn]
    found: dict[str, str] = {}
    for shape, write in DRAWINGS.items():
        found |= write(folder, draft, [each for each in drawn if each[0].kind.shape == shape])
    return found
