"""A part cut from sheet, on edge on tubes; the tubes are cut out of its feet."""

from __future__ import annotations

from typing import Any

from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace
from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
from OCP.gp import gp_Vec

from headergen.geometry.plate.outline import circle
from headergen.parts.kind import Seated
from headergen.parts.sheet import Sheet
from headergen.solids.flange import outline_wire
from headergen.solids.making import Making, Shaped
from headergen.solids.shapes import cut, only_solid, placed
from headergen.solids.tube import full_solid


def sheet_solid(sheet: Sheet, name: str) -> Any:
    """In place, its feet fitted to their tubes. Raises SolidError, naming the part."""
    half = sheet.thickness / 2
    face = BRepBuilderAPI_MakeFace(outline_wire(sheet.outline, -half), True)
    for spot, radius in sheet.holes:
        hole = outline_wire(circle(spot, radius), -half)
        hole.Reverse()
        face.Add(hole)
    body = placed(BRepPrimAPI_MakePrism(face.Face(), gp_Vec(0, 0, 2 * half)).Shape(), sheet.frame)
    return only_solid(cut(body, *(full_solid(*tube) for tube in sheet.tubes)) if sheet.tubes else body, name)


def sheet_part(part: Seated, making: Making) -> Shaped:
    return making.whole(lambda: sheet_solid(part.seat, part.name), part.name)
