"""Locating plates as DXF, for cutting in plywood or steel: outline and holes at full size, in millimetres."""

from __future__ import annotations

from pathlib import Path

from headergen.model import LocatingPlate

MILLIMETRES = 4  # $INSUNITS
CUT, NOTE = "CUT", "NOTE"
LETTERS = 6.0


def write_plate_dxf(path: Path, plate: LocatingPlate, title: str) -> None:
    """Writes the plate as seen from the tubes' side; words and numbers are on a layer of their own."""
    import ezdxf
    from ezdxf.enums import TextEntityAlignment

    ezdxf.options.write_fixed_meta_data_for_testing = True  # no time stamp: the same plate, the same bytes
    drawing = ezdxf.new("R2010")
    drawing.header["$INSUNITS"] = MILLIMETRES
    drawing.header["$MEASUREMENT"] = 1
    for layer in (CUT, NOTE):
        drawing.layers.add(layer)
    space = drawing.modelspace()
    space.add_lwpolyline(plate.outline, close=True, dxfattribs={"layer": CUT})
    for hole in plate.holes:
        space.add_circle(hole.at, hole.diameter / 2, dxfattribs={"layer": CUT})
        if hole.primary is not None:
            text = space.add_text(f"P{hole.primary}", height=LETTERS, dxfattribs={"layer": NOTE})
            text.set_placement(hole.at, align=TextEntityAlignment.MIDDLE_CENTER)
    low = min(y for _, y in plate.outline), min(x for x, _ in plate.outline)
    words = f"{title}: plate {plate.name}, {plate.thickness:g} mm, seen from the tubes"
    space.add_text(words, height=LETTERS, dxfattribs={"layer": NOTE}).set_placement((low[1], low[0] - 2 * LETTERS))
    drawing.saveas(path)
