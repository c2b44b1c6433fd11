"""A tab of a slip joint: cut from sheet, on edge on its tube."""

from __future__ import annotations

from typing import Any

from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace
from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
from OCP.gp import gp_Vec

from headergen.geometry.plate.outline import circle
from headergen.parts.tabs import TabSeat, tab_outline
from headergen.solids.flange import outline_wire
from headergen.solids.shapes import cut, only_solid, placed
from headergen.solids.tube import full_solid


def tab_solid(seat: TabSeat, name: str) -> Any:
    """Where it stands, its foot fitted to the tube. Raises SolidError, naming the part."""
    outline, (spot, radius) = tab_outline(seat)
    half = seat.tabs.thickness / 2
    face = BRepBuilderAPI_MakeFace(outline_wire(outline, -half), True)
    hole = outline_wire(circle(spot, radius), -half)
    hole.Reverse()
    face.Add(hole)
    body = placed(BRepPrimAPI_MakePrism(face.Face(), gp_Vec(0, 0, 2 * half)).Shape(), seat.frame)
    return only_solid(cut(body, full_solid(seat.line, seat.radius)), name)
