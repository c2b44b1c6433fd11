"""The ring or bell on the end of an outlet, a solid of revolution about its axis."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

from OCP.BRepPrimAPI import BRepPrimAPI_MakeRevol
from OCP.gp import gp_Ax1, gp_Dir, gp_Pnt

from headergen.geometry.merge.design import AnyMerge
from headergen.model import OutletRing
from headergen.parts.kind import Seated
from headergen.parts.outlet import outlet_slope
from headergen.parts.outlet_end import EndSeat, Turned, TurnedProfile, end_profile
from headergen.solids.making import Making, Shaped
from headergen.solids.shapes import cut, cylinder, only_solid, plane_face, straight, through, wire_of

BEYOND = 5.0  # mm by which hole cutters extend past what they go through


def end_solid(end: Turned, merge: AnyMerge, name: str) -> Any:
    """About z, with zero at the end of the outlet. Raises SolidError, naming the part, if it is no single body."""
    face = plane_face(_half_section(end_profile(end, merge)))
    body = BRepPrimAPI_MakeRevol(face, gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(0, 0, 1))).Shape()
    holes = []
    if isinstance(end, OutletRing):
        for k in range(end.bolts):
            angle, reach = end.turn + 2 * math.pi * k / end.bolts, end.bolt_circle / 2
            start = (reach * math.cos(angle), reach * math.sin(angle), -end.thickness - BEYOND)
            holes.append(cylinder(start, (0.0, 0.0, 1.0), end.hole / 2, end.thickness + 2 * BEYOND))
    return only_solid(cut(body, *holes) if holes else body, name)


def _half_section(profile: TurnedProfile) -> Any:
    """The closed wire of a half section in the plane of x and z."""
    edges, ends = [], [*profile, profile[0]]
    for corner, after in pairwise(ends):
        places = (corner[-2:], *(after[k : k + 2] for k in range(0, len(after), 2)))
        start, *way, end = ((radius, 0.0, place) for radius, place in places)
        edges.append(through(start, way[0], end) if way else straight(start, end))
    return wire_of(edges)


def end_part(part: Seated, making: Making) -> Shaped:
    seat = part.seat
    assert isinstance(seat, EndSeat)
    key = ("end", seat.end, seat.merge.end_inner, seat.merge.end_outer, outlet_slope(seat.merge))
    return making.once(key, lambda: end_solid(seat.end, seat.merge, part.name), part.name, (seat.frame, 0.0))
