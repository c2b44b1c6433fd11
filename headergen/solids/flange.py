"""The flange plate as an exact solid, from its plane outlines."""

from __future__ import annotations

import math
from typing import Any

from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeFace
from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
from OCP.gp import gp_Ax2, gp_Circ, gp_Dir, gp_Pnt, gp_Vec

from headergen.geometry.frames import WORLD
from headergen.geometry.plate.flange import hole_outline, is_square, plate_of
from headergen.geometry.plate.outline import Edge, Outline
from headergen.model import Flange, Frame, Tube
from headergen.parts.flange import PlateSeat
from headergen.parts.kind import Seated
from headergen.solids.making import Making, Shaped
from headergen.solids.shapes import carried, cut, only_solid, placed, wire_of

BEYOND = 200.0  # mm by which the hole of a leaning port extends to either side


def flange_solid(flange: Flange, tube: Tube, name: str) -> Any:
    """The finished plate in place, its gasket face on the face of the head.

    Raises SolidError, naming the part, if its holes leave no single body.
    """
    plate = plate_of(flange, tube)
    leaning = {f"port {port.number}" for port in flange.ports if not is_square(flange, port)}
    face = BRepBuilderAPI_MakeFace(outline_wire(plate.outline), True)
    for hole in plate.holes:
        if hole.what not in leaning:
            inner = outline_wire(hole.outline)
            inner.Reverse()
            face.Add(inner)
    body = placed(BRepPrimAPI_MakePrism(face.Face(), gp_Vec(0, 0, plate.thickness)).Shape(), flange.frame)
    for port in flange.ports:
        if f"port {port.number}" in leaning:
            way = carried(outline_wire(hole_outline(flange, port, tube), -BEYOND), (0.0, 0.0, 2 * BEYOND))
            body = cut(body, placed(way, port.frame))
    return only_solid(body, name)


def outline_wire(outline: Outline, z: float = 0.0, frame: Frame = WORLD) -> Any:
    """A closed wire in the plane z of a frame."""
    wire = wire_of([outline_edge(edge, z) for edge in outline])
    return wire if frame is WORLD else placed(wire, frame)


def outline_edge(edge: Edge, z: float) -> Any:
    if edge.centre is None:
        return BRepBuilderAPI_MakeEdge(gp_Pnt(*edge.start, z), gp_Pnt(*edge.end, z)).Edge()
    up = gp_Dir(0, 0, 1 if edge.sweep > 0 else -1)
    x, y = edge.start[0] - edge.centre[0], edge.start[1] - edge.centre[1]
    axes = gp_Ax2(gp_Pnt(*edge.centre, z), up, gp_Dir(x, y, 0))
    if abs(edge.sweep) > 2 * math.pi - 1e-9:
        return BRepBuilderAPI_MakeEdge(gp_Circ(axes, edge.radius)).Edge()
    return BRepBuilderAPI_MakeEdge(gp_Circ(axes, edge.radius), 0.0, abs(edge.sweep)).Edge()


def plate_part(part: Seated, making: Making) -> Shaped:
    """The plate of a flange, or that of an outlet."""
    seat = part.seat
    assert isinstance(seat, PlateSeat)
    return making.whole(lambda: flange_solid(seat.flange, seat.tube, part.name), part.name)
