"""The ring or bell on the end of an outlet, a solid of revolution about its axis."""

from __future__ import annotations

import math
from typing import Any

from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakePolygon
from OCP.BRepPrimAPI import BRepPrimAPI_MakeRevol
from OCP.gp import gp_Ax1, gp_Dir, gp_Pnt

from headergen.geometry.merge.measures import Merge
from headergen.model import OutletBell, OutletRing
from headergen.parts.kind import Seated
from headergen.parts.outlet_end import EndSeat, end_profile
from headergen.solids.making import Making, Shaped
from headergen.solids.shapes import cut, cylinder, only_solid

BEYOND = 5.0  # mm by which hole cutters extend past what they go through


def end_solid(end: OutletRing | OutletBell, merge: Merge, name: str) -> Any:
    """About z, with zero at the end of the outlet. Raises SolidError, naming the part, if it is no single body."""
    polygon = BRepBuilderAPI_MakePolygon()
    for radius, place in end_profile(end, merge):
        polygon.Add(gp_Pnt(radius, 0.0, place))
    polygon.Close()
    face = BRepBuilderAPI_MakeFace(polygon.Wire(), True).Face()
    body = BRepPrimAPI_MakeRevol(face, gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(0, 0, 1))).Shape()
    holes = []
    if isinstance(end, OutletRing):
        for k in range(end.bolts):
            angle, reach = end.turn + 2 * math.pi * k / end.bolts, end.bolt_circle / 2
            start = (reach * math.cos(angle), reach * math.sin(angle), -end.thickness - BEYOND)
            holes.append(cylinder(start, (0.0, 0.0, 1.0), end.hole / 2, end.thickness + 2 * BEYOND))
    return only_solid(cut(body, *holes) if holes else body, name)


def end_part(part: Seated, making: Making) -> Shaped:
    seat = part.seat
    assert isinstance(seat, EndSeat)
    key = ("end", seat.end, seat.merge.outlet_inner, seat.merge.outlet_outer)
    return making.once(key, lambda: end_solid(seat.end, seat.merge, part.name), part.name, (seat.frame, 0.0))
