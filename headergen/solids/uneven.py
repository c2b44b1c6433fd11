"""A merge that is not of revolution as an exact solid, and its spike.

Outside and inside are built in the same way, as two full bodies: every tube, trimmed on the planes to its neighbours of
the same size and at the cut, all of them fused; then, from the outline that the kernel finds at the cut, a ruled face
from each arc to its part of the outlet, and the outlet. The inside is subtracted from the outside.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge
from OCP.BRepTools import BRepTools, BRepTools_WireExplorer
from OCP.gp import gp_Ax2, gp_Circ, gp_Dir, gp_Pnt

from headergen.geometry.frames import add, scaled, unit
from headergen.geometry.merge.ellipses import union_area
from headergen.geometry.merge.measures import PLUG_DEPTH, SEAM, SPIKE_DEPTH, Merge
from headergen.geometry.merge.uneven import (
    MergeTube,
    UnevenMerge,
    apart,
    halfway,
    middle_opening,
    mouth_of,
    neighbours,
    section,
    turning_point,
)
from headergen.solids.inspect import SolidError, measure
from headergen.solids.shapes import (
    carried,
    common,
    conical,
    count_solids,
    cut,
    cylinder,
    ends_of,
    faces_of,
    fused,
    half_space,
    lies_at,
    only_solid,
    plane_face,
    prism,
    ruled_face,
    sewn,
    unified,
    wire_of,
)

BEYOND = 5.0  # mm by which the inside is longer than the outside at its open ends
AT_CUT = 1e-6  # mm
FUZZY = (0.0, 1e-6, 1e-5, 1e-4, 1e-3)  # mm within which skins of tubes count as meeting, tried in turn
LOST = 0.01  # of the volume by sections: a body that is off by more lacks a part of a tube
LOST_LEANING = 0.05  # the same where tubes are cut square to themselves, and may be one there already
SECTIONS = 61  # for that volume


def uneven_solid(merge: UnevenMerge, name: str) -> Any:
    """The collector in its own frame as a kernel solid.

    Sleeves that touch are made up to 0.1 mm thinner: bodies that touch only in a line have no common solid. Raises
    SolidError, naming the part, if the kernel makes no single body of it.
    """
    drawn = apart(merge)
    outside, inside = (_filled(drawn, within, BEYOND if within else 0.0, name) for within in (False, True))
    return only_solid(unified(cut(outside, inside)), name)


def _filled(merge: UnevenMerge, inside: bool, beyond: float, name: str) -> Any:
    """The tubes, the cone and the outlet, full, by their inner radii or by their outer ones."""
    tubes = _united([_trimmed(merge, k, inside, beyond) for k in range(merge.count)], merge, (inside, beyond), name)
    skin = [face for face in faces_of(tubes) if not lies_at(face, merge.cut, AT_CUT)]
    ends = [face for face in faces_of(tubes) if lies_at(face, merge.cut, AT_CUT)]
    if len(ends) != 1:
        raise SolidError(f"{name}: the tubes are not one at the cut")
    narrow, last = (merge.outlet_inner, merge.end_inner) if inside else (merge.outlet_outer, merge.end_outer)
    arcs = [(edge, _outlet_arc(merge, edge, narrow)) for edge in _edges_of(ends[0])]
    rulings = [ruled_face(edge, arc) for edge, arc in arcs]
    wire = wire_of([arc for _, arc in arcs])
    if merge.end + beyond <= merge.cone_end:
        return sewn([*skin, *rulings, plane_face(wire)])
    body = sewn([*skin, *rulings, plane_face(wire)])
    if merge.taper_to is not None:
        return fused([body, tapered(merge, (narrow, last), beyond)])
    return fused([body, carried(wire, (0.0, 0.0, merge.end + beyond - merge.cone_end))])


def _united(tubes: Sequence[Any], merge: UnevenMerge, drawn: tuple[bool, float], name: str) -> Any:
    """All tubes as one body, of the volume that their sections come to.

    Where skins of two sizes nearly touch, the kernel may lose a tube, or all of them, and still call the rest valid; a
    fuzzy tolerance far below any saw's settles what meets what. Raises SolidError, naming the part, if none does.
    """
    required, lost = _volume_of_tubes(merge, *drawn), LOST_LEANING if merge.leans else LOST
    for within in FUZZY:
        body = unified(fused(tubes, within))
        if count_solids(body) == 1 and abs(measure(body).volume - required) < lost * required:
            return only_solid(body, name)
    raise SolidError(f"{name}: the CAD kernel made no single body of its tubes")


def _volume_of_tubes(merge: UnevenMerge, inside: bool, beyond: float) -> float:
    """Volume, mm³, from the mouths to the cut, by sections square to the axis.

    A tube counts as straight until it has turned; the square end of one that leans is as if cut level in its middle.
    """
    start = (merge.mouth - beyond) * min(tube.arrival[2] for tube in merge.tubes)
    heights = np.linspace(start, merge.cut, SECTIONS)
    return float(np.trapezoid([union_area(section(merge, inside, at)) for at in heights.tolist()], heights))


def tapered(merge: Merge | UnevenMerge, ends: tuple[float, float], beyond: float) -> Any:
    """A tapered outlet, full, and continued by `beyond` at its slope."""
    length = merge.end - merge.cone_end
    return conical(merge.cone_end, length + beyond, ends[0], ends[1] + (ends[1] - ends[0]) * beyond / length)


def _edges_of(face: Any) -> list[Any]:
    """The edges of a plane face round the axis, in order and each with its own direction, counter-clockwise."""
    explorer, found = BRepTools_WireExplorer(BRepTools.OuterWire_s(face)), []
    while explorer.More():
        found.append(explorer.Current())
        explorer.Next()
    return found


def _outlet_arc(merge: UnevenMerge, edge: Any, radius: float) -> Any:
    """The part of the outlet in the same directions from the axis as an arc at the cut, and with its sense."""
    (x0, y0, _), (x1, y1, _) = ends_of(edge)
    start, end = math.atan2(y0, x0), math.atan2(y1, x1)
    end = start + ((end - start) % (2 * math.pi) or 2 * math.pi)
    circle = gp_Circ(gp_Ax2(gp_Pnt(0, 0, merge.cone_end), gp_Dir(0, 0, 1), gp_Dir(1, 0, 0)), radius)
    return BRepBuilderAPI_MakeEdge(circle, start, end).Edge()


def _trimmed(merge: UnevenMerge, number: int, inside: bool, beyond: float) -> Any:
    """One tube, full: sleeve and leaning part, trimmed at its neighbours of the same size and at the cut."""
    tube = merge.tubes[number]
    radius, turn = (tube.inner if inside else tube.outer), turning_point(merge, tube)
    mouth = add(mouth_of(merge, tube), tube.arrival, -beyond)
    limits = [half_space((0.0, 0.0, merge.cut), (0.0, 0.0, 1.0))]
    limits += [
        half_space((0.0, 0.0, merge.apex), halfway(merge, tube, merge.tubes[k])) for k in neighbours(merge, number)
    ]
    length = (merge.cut - merge.mitre) / tube.way[2] + 4 * radius
    if merge.leans or tube.turn < 1e-9:
        whole = math.dist(mouth, turn) + length
        return common(cylinder(mouth, tube.way, radius, whole), *limits)
    mitre = half_space(turn, unit(add(tube.arrival, tube.way)))
    back = add(turn, tube.way, -4 * BEYOND)
    leaning = cut(cylinder(back, tube.way, radius, length + 4 * BEYOND), mitre)
    if turn[2] - mouth[2] <= radius * math.tan(tube.turn / 2):
        raise SolidError("the sleeves of a collector are too short for their mitre")
    sleeve = common(cylinder(mouth, tube.arrival, radius, turn[2] - mouth[2] + radius), mitre)
    return fused([sleeve, common(leaning, *limits)])


def uneven_spike(merge: UnevenMerge, name: str) -> Any:
    """The filler of the one opening between the tubes, up to where they close it.

    It begins SPIKE_DEPTH upstream of there, or at the mitre. The spike of a welded collector belongs to the primaries:
    it reaches PLUG_DEPTH in between their ends. Raises SolidError, naming the part, if the kernel makes no single body.
    """
    drawn = apart(merge)
    opening = middle_opening(merge)
    if opening is None:
        raise SolidError(f"{name}: its tubes leave no single opening between them")
    tip = opening.closed + SEAM
    start = drawn.mitre if drawn.is_welded else max(drawn.mitre, opening.closed - SPIKE_DEPTH)
    full = [_whole(drawn, tube) for tube in drawn.tubes]
    bodies = [_between(opening.corners, start, tip + BEYOND, full)]
    bodies = [common(bodies[0], half_space((0.0, 0.0, tip), (0.0, 0.0, 1.0)))]
    if drawn.is_welded:
        bodies.insert(0, _between(opening.at_plane, -PLUG_DEPTH, drawn.mitre, full))
    return only_solid(fused(bodies), name)


def _between(corners: tuple[tuple[float, float], ...], start: float, end: float, tubes: list[Any]) -> Any:
    return cut(prism([(x, y, start) for x, y in corners], (0.0, 0.0, end - start)), *tubes)


def _whole(merge: UnevenMerge, tube: MergeTube) -> Any:
    """A tube with its turn, full, untrimmed, and longer than a spike at both ends."""
    turn = turning_point(merge, tube)
    far = 2 * (PLUG_DEPTH + SPIKE_DEPTH) + abs(merge.mouth)
    length = (merge.cut - merge.mitre) / tube.way[2] + 4 * SPIKE_DEPTH
    straight = cylinder(add(turn, tube.arrival, -far), tube.arrival, tube.outer, far + tube.outer)
    if tube.turn < 1e-9:
        return cylinder(add(turn, tube.arrival, -far), tube.arrival, tube.outer, far + length)
    mitre = half_space(turn, unit(add(tube.arrival, tube.way)))
    back = add(turn, scaled(tube.way, -4 * BEYOND))
    leaning = cut(cylinder(back, tube.way, tube.outer, length + 4 * BEYOND), mitre)
    return fused([common(straight, mitre), leaning])
