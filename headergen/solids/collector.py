"""The merge of a collector as an exact solid: sleeves, leaning tubes mitred against each other, cone and outlet.

One sector is made, between the planes halfway to the tube's neighbours. Two full bodies are built in the same way, one
of the outer and one of the inner radii: the tube, a ruled cone from its lobe to the outlet, and the outlet. The inner
one is subtracted from the outer one, because the kernel cannot shell or thicken such a body. The faces of the result,
except those in the two planes, are turned round the axis and sewn together.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge
from OCP.gp import gp_Ax2, gp_Circ, gp_Dir, gp_Elips, gp_Pnt

from headergen.geometry.merge.lobes import lobe_end
from headergen.geometry.merge.measures import (
    PLUG_DEPTH,
    SEAM,
    SPIKE_DEPTH,
    Merge,
    middle_closed,
    ring_at,
    spike_point,
    star_start,
    with_seams,
)
from headergen.geometry.merge.uneven import UnevenMerge
from headergen.model import Vec
from headergen.parts.collector import MergeSeat
from headergen.parts.kind import Seated
from headergen.solids.inspect import SolidError
from headergen.solids.making import Making, Shaped
from headergen.solids.shapes import (
    FAR,
    carried,
    common,
    cut,
    cylinder,
    ends_of,
    faces_of,
    fused,
    half_space,
    lies_in,
    only_solid,
    plane_face,
    plane_through,
    pointed,
    prism,
    ruled_face,
    sewn,
    straight,
    turned,
    unified,
    wire_of,
)
from headergen.solids.uneven import tapered, uneven_solid, uneven_spike

AT_PLANE = 1e-6  # mm, and radians, within which a face lies in a plane
BEYOND = 5.0  # mm by which the inside is longer than the outside at its open ends


def merge_solid(merge: Merge, name: str) -> Any:
    """The collector about its own axis, first bore along x, as a kernel solid.

    Sleeves that touch are made up to 0.1 mm thicker, as if welded along their seam: bodies that touch only in a line
    have no common solid. Raises SolidError, naming the part, if the kernel makes no single body of it.
    """
    drawn = with_seams(merge)
    outside = _filled(drawn, drawn.outer, (drawn.outlet_outer, drawn.end_outer), 0.0)
    inside = _filled(drawn, drawn.inner, (drawn.outlet_inner, drawn.end_inner), BEYOND)
    skin = [face for face in faces_of(cut(outside, inside)) if not _is_between(face, drawn)]
    angles = [2 * math.pi * k / drawn.count for k in range(drawn.count)]
    return only_solid(
        unified(sewn([turned(face, angle) if angle else face for angle in angles for face in skin])), name
    )


def _filled(merge: Merge, radius: float, ends: tuple[float, float], beyond: float) -> Any:
    """The first sector of the tubes of `radius` and of an outlet, filled, as one body.

    `ends`: the radii of the outlet where it begins and where it ends.
    """
    outlet = ends[0]
    parts = [common(trimmed_tube(merge, radius, beyond), _sector(merge)), _cone(merge, radius, outlet)]
    if merge.taper_to is not None:
        parts.append(common(tapered(merge, ends, beyond), _sector(merge)))
    elif merge.end + beyond > merge.cone_end:
        parts.append(carried(_pie(_outlet_arc(merge, outlet)), (0.0, 0.0, merge.end + beyond - merge.cone_end)))
    return fused(parts)


def _is_between(face: Any, merge: Merge) -> bool:
    """Whether a face lies in one of the planes between the first tube and its neighbours."""
    sides = (merge.sector, -merge.sector)
    return any(lies_in(face, (-math.sin(side), math.cos(side), 0.0), AT_PLANE) for side in sides)


def trimmed_tube(merge: Merge, radius: float, beyond: float = 0.0) -> Any:
    """The first tube, filled: sleeve, mitre and leaning part, trimmed to its sector and ended at the cut."""
    half, middle = merge.half_angle, (merge.ring, 0.0, merge.mitre)
    mitre = half_space(middle, (-math.sin(half / 2), 0.0, math.cos(half / 2)))
    leaning_way = (-math.sin(half), 0.0, math.cos(half))
    back = (merge.ring + BEYOND * 4 * math.sin(half), 0.0, merge.mitre - BEYOND * 4 * math.cos(half))
    length = (merge.cut - merge.mitre) / math.cos(half) + 4 * radius + BEYOND * 4
    leaning = cut(cylinder(back, leaning_way, radius, length), mitre)
    leaning = common(leaning, half_space((0.0, 0.0, merge.cut), (0.0, 0.0, 1.0)), _sector(merge))
    start = merge.mouth - beyond
    if merge.mitre - radius * math.tan(half / 2) <= start:
        raise SolidError("the sleeves of a collector are too short for their mitre")
    sleeve = cylinder((merge.ring, 0.0, start), (0.0, 0.0, 1.0), radius, merge.mitre - start + radius)
    return fused([common(sleeve, mitre), leaning])


def _sector(merge: Merge) -> Any:
    """The sector of the first tube, between the planes halfway to its neighbours."""
    low, high = merge.mouth - 100.0, merge.end + 100.0
    if merge.count == 2:
        return half_space((0.0, 0.0, 0.0), (-1.0, 0.0, 0.0))
    c, s = FAR * math.cos(merge.sector), FAR * math.sin(merge.sector)
    return prism([(0.0, 0.0, low), (c, -s, low), (c, s, low)], (0.0, 0.0, high - low))


def _cone(merge: Merge, radius: float, outlet: float) -> Any:
    """The cone's sector: straight rulings from the outline of the lobe at the cut to the outlet."""
    reach = lobe_end(merge.cut_ring, radius, merge.half_angle, merge.sector)
    axes = gp_Ax2(gp_Pnt(merge.cut_ring, 0, merge.cut), gp_Dir(0, 0, 1), gp_Dir(1, 0, 0))
    ellipse = gp_Elips(axes, radius / math.cos(merge.half_angle), radius)
    lobe, arc = BRepBuilderAPI_MakeEdge(ellipse, -reach, reach).Edge(), _outlet_arc(merge, outlet)
    rulings = zip(ends_of(lobe), ends_of(arc), strict=True)
    sides = [plane_through([_foot(low), low, high, _foot(high)]) for low, high in rulings]
    return sewn([ruled_face(lobe, arc), plane_face(_pie(lobe)), plane_face(_pie(arc)), *sides])


def _outlet_arc(merge: Merge, outlet: float) -> Any:
    circle = gp_Circ(gp_Ax2(gp_Pnt(0, 0, merge.cone_end), gp_Dir(0, 0, 1), gp_Dir(1, 0, 0)), outlet)
    return BRepBuilderAPI_MakeEdge(circle, -merge.sector, merge.sector).Edge()


def _pie(edge: Any) -> Any:
    """The wire from the axis to an edge at one height, along it and back."""
    start, end = ends_of(edge)
    return wire_of([straight(_foot(start), start), edge, straight(end, _foot(end))])


def _foot(place: Vec) -> Vec:
    return (0.0, 0.0, place[2])


def spike_solid(merge: Merge, name: str) -> Any:
    """The filler in the middle, between three or more tubes.

    If the tubes meet before the cut, the spike fills the star between them, from SPIKE_DEPTH upstream to the point
    where they close. Otherwise it fills the star up to the cut, and goes on to a point on the axis, inside the cone.
    The spike of a welded collector belongs to the primaries: it reaches PLUG_DEPTH in between their ends, and the
    collector goes over it. Raises SolidError, naming the part, if the kernel makes no single body of it.
    """
    drawn = with_seams(merge)
    meet = middle_closed(drawn)
    tip = min(drawn.cut, meet)
    start = drawn.mitre if drawn.is_welded else max(drawn.mitre, tip - SPIKE_DEPTH)
    star = _star(drawn, ring_at(drawn, tip), start, tip + (BEYOND if meet <= drawn.cut else 0.0))
    if meet <= drawn.cut:
        star = common(star, half_space((0.0, 0.0, tip + SEAM), (0.0, 0.0, 1.0)))
    parts = [_star(drawn, drawn.ring, -PLUG_DEPTH, drawn.mitre)] if drawn.is_welded else []
    parts += [star] if meet <= drawn.cut else [star, _point(drawn)]
    return only_solid(fused(parts), name)


def _star(merge: Merge, ring: float, start: float, end: float) -> Any:
    """The star that the tubes leave between two sections, out to where neighbours on `ring` touch."""
    reach = ring * math.cos(merge.sector)
    angles = [merge.sector * (2 * k + 1) for k in range(merge.count)]
    corners = [(reach * math.cos(angle), reach * math.sin(angle), start) for angle in angles]
    first = _long_tube(merge)
    if start < merge.mitre:
        straight = cylinder((merge.ring, 0.0, start - BEYOND), (0.0, 0.0, 1.0), merge.outer, end - start + 2 * BEYOND)
        first = fused([straight, first])
    tubes = [turned(first, 2 * math.pi * k / merge.count) for k in range(merge.count)]
    return cut(prism(corners, (0.0, 0.0, end - start)), *tubes)


def _long_tube(merge: Merge) -> Any:
    half = merge.half_angle
    back = (merge.ring + SPIKE_DEPTH * math.tan(half), 0.0, merge.mitre - SPIKE_DEPTH)
    length = (merge.cut - merge.mitre) / math.cos(half) + 4 * SPIKE_DEPTH
    return cylinder(back, (-math.sin(half), 0.0, math.cos(half)), merge.outer, length)


def _point(merge: Merge) -> Any:
    """The star at the cut, ruled to a point downstream."""
    near, edges = star_start(merge, merge.outer), []
    assert near is not None
    for k in reversed(range(merge.count)):  # each arc runs clockwise when seen from downstream
        angle = 2 * math.pi * k / merge.count
        c, s = math.cos(angle), math.sin(angle)
        axes = gp_Ax2(gp_Pnt(merge.cut_ring * c, merge.cut_ring * s, merge.cut), gp_Dir(0, 0, 1), gp_Dir(c, s, 0))
        lobe = gp_Elips(axes, merge.outer / math.cos(merge.half_angle), merge.outer)
        edges.append(BRepBuilderAPI_MakeEdge(lobe, near, 2 * math.pi - near).Edge())
    return pointed(wire_of(edges), (0.0, 0.0, merge.cut + spike_point(merge)))


def merge_part(part: Seated, making: Making) -> Shaped:
    """The same solid however it is turned, so it is made once."""
    seat = part.seat
    assert isinstance(seat, MergeSeat) and seat.merge is not None
    merge, frame = seat.merge, seat.collector.frame
    if isinstance(merge, UnevenMerge):
        return making.once(("merge", merge), lambda: uneven_solid(merge, part.name), part.name, (frame, 0.0))
    at = frame, merge.turn
    return making.once(("merge", replace(merge, turn=0.0)), lambda: merge_solid(merge, part.name), part.name, at)


def spike_part(part: Seated, making: Making) -> Shaped:
    seat = part.seat
    assert isinstance(seat, MergeSeat) and seat.merge is not None
    merge, frame = seat.merge, seat.collector.frame
    if isinstance(merge, UnevenMerge):
        return making.once(("spike", merge), lambda: uneven_spike(merge, part.name), part.name, (frame, 0.0))
    at = frame, merge.turn
    return making.once(("spike", replace(merge, turn=0.0)), lambda: spike_solid(merge, part.name), part.name, at)
