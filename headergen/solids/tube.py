"""The hollow tube of a centreline as an exact solid: planes, cylinders and tori, without approximation."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

from OCP.BRep import BRep_Builder
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakeWire
from OCP.BRepLib import BRepLib
from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism, BRepPrimAPI_MakeRevol
from OCP.gp import gp_Ax1, gp_Ax2, gp_Circ, gp_Dir, gp_Pnt, gp_Vec
from OCP.TopAbs import TopAbs_FACE
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS_Shell, TopoDS_Solid

from headergen.geometry.curves.centreline import cut_out, frame_on
from headergen.geometry.curves.stepped import WallSpan
from headergen.geometry.frames import add, cross, dot, rotated, scaled
from headergen.model import Arc, Centreline, Line, Segment
from headergen.parts.kind import Seated
from headergen.parts.run import RunSeat
from headergen.solids.making import Making, Shaped, tried
from headergen.solids.shapes import cut, cylinder, fused, only_solid, plane_through, unified

SHORTEST = 2e-7  # mm, twice the kernel's own tolerance: a shorter segment is no body to it and is left out


def tube_solid(centreline: Centreline, outer_radius: float, inner_radius: float) -> Any:
    """The tube between two radii around `centreline`, in millimetres, as a kernel solid (TopoDS_Solid).

    An annulus perpendicular to the start is swept along: a prism for each straight, a revolution for each bend. Each
    begins with the same face that ended the one before. Without these shared faces, what is left is one closed shell.

    Raises ValueError if the radii leave no wall or a bend is tighter than the tube's radius. A tube that runs into
    itself elsewhere is not detected here, and gives a wrong solid that looks valid: the caller must refuse it.
    """
    _refuse(centreline, outer_radius, inner_radius)
    segments = [segment for segment in centreline.segments if segment.length > SHORTEST]
    if not segments:
        raise ValueError(f"{centreline.run} has no length")
    return _swept(segments, _annulus(segments, (outer_radius, inner_radius)))


def stepped_solid(centreline: Centreline, walls: Sequence[WallSpan]) -> Any:
    """A tube that grows on its way, as one kernel solid: each length of one wall by itself, then joined.

    Raises ValueError as tube_solid, and SolidError if the lengths do not join to one solid.
    """
    found = []
    for wall in walls:
        line = cut_out(centreline, wall.start, wall.end)
        if line.length > SHORTEST:
            is_plain = wall.outer[0] == wall.outer[1] and wall.inner[0] == wall.inner[1]
            found.append(tube_solid(line, wall.outer[0], wall.inner[0]) if is_plain else _cone_solid(line, wall))
    return only_solid(unified(fused(found)), centreline.run)


def _cone_solid(line: Centreline, wall: WallSpan) -> Any:
    """The wall of a cone about a straight, turned about it from its half section."""
    first = line.segments[0]
    ends = (first.start, add(first.start, first.tangent, line.length))
    corners = [add(end, first.normal, radius) for end, radius in zip(ends, wall.outer, strict=True)]
    corners += [add(end, first.normal, radius) for end, radius in reversed(list(zip(ends, wall.inner, strict=True)))]
    axis = gp_Ax1(gp_Pnt(*first.start), gp_Dir(*first.tangent))
    return BRepPrimAPI_MakeRevol(plane_through(corners), axis).Shape()


def full_solid(centreline: Centreline, radius: float) -> Any:
    """The volume within `radius` of a centreline, between flat ends, made as the tube is; errors are the same."""
    _refuse(centreline, radius, radius / 2)
    segments = [segment for segment in centreline.segments if segment.length > SHORTEST]
    return _swept(segments, _annulus(segments, (radius,)))


def _swept(segments: Sequence[Segment], face: Any) -> Any:
    """A face at the start of the first segment, swept along all segments."""
    faces: list[Any] = []
    joints: list[Any] = []
    for segment in segments:
        body = _carried(face, segment)
        face = body.LastShape()
        faces.extend(_faces(body.Shape()))
        joints.append(face)
    return _closed([f for f in faces if not any(f.IsSame(joint) for joint in joints[:-1])])


def _refuse(centreline: Centreline, outer_radius: float, inner_radius: float) -> None:
    if not 0.0 < inner_radius < outer_radius:
        raise ValueError(f"a bore of {2 * inner_radius:g} mm leaves no wall in a tube of {2 * outer_radius:g} mm")
    for segment in centreline.segments:
        if isinstance(segment, Arc) and segment.radius < outer_radius:
            raise ValueError(
                f"{centreline.run}, step {segment.step}: a bend with a centre-line radius of "
                f"{segment.radius:g} mm is tighter than half the tube's diameter of {2 * outer_radius:g} mm"
            )


def _annulus(segments: Sequence[Segment], radii: tuple[float, ...]) -> Any:
    """The section at the start, outer radius first; its circles begin at x, which puts the seams of the walls there."""
    first = segments[0]
    x = rotated(first.normal, first.tangent, _seam(segments))
    axes = gp_Ax2(gp_Pnt(*first.start), gp_Dir(*first.tangent), gp_Dir(*x))
    outer, *inner = (
        BRepBuilderAPI_MakeWire(BRepBuilderAPI_MakeEdge(gp_Circ(axes, radius)).Edge()).Wire() for radius in radii
    )
    face = BRepBuilderAPI_MakeFace(outer, True)
    for wire in inner:
        wire.Reverse()
        face.Add(wire)
    return face.Face()


def _seam(segments: Sequence[Segment]) -> float:
    """The angle of the seam round the tube, from the first `toward`: as far as possible from the inside of every bend.

    The inside of a bend whose radius is half the tube's diameter is a single point. A seam that ends there would be an
    edge without length, and the kernel makes a broken solid of that.
    """
    insides, turn, carried = [], 0.0, segments[0].normal
    for segment in segments:
        turn += math.atan2(dot(cross(carried, segment.normal), segment.tangent), dot(carried, segment.normal))
        if isinstance(segment, Arc):
            insides.append(turn % math.tau)
        carried = frame_on(segment, segment.length)[2]
    if not insides:
        return 0.0
    insides.sort()
    gaps = [after - before for before, after in pairwise([*insides, insides[0] + math.tau])]
    widest = max(range(len(gaps)), key=lambda index: round(gaps[index], 6))
    return insides[widest] + gaps[widest] / 2


def _carried(face: Any, segment: Segment) -> Any:
    """The shape swept by `face` along one segment."""
    if isinstance(segment, Line):
        sweep = BRepPrimAPI_MakePrism(face, gp_Vec(*scaled(segment.tangent, segment.length)))
    else:
        centre = add(segment.start, segment.normal, segment.radius)
        axis = gp_Ax1(gp_Pnt(*centre), gp_Dir(*cross(segment.tangent, segment.normal)))
        sweep = BRepPrimAPI_MakeRevol(face, axis, segment.angle)
    sweep.Build()
    return sweep


def _faces(shape: Any) -> list[Any]:
    explorer = TopExp_Explorer(shape, TopAbs_FACE)
    found = []
    while explorer.More():
        found.append(explorer.Current())
        explorer.Next()
    return found


def _closed(faces: list[Any]) -> Any:
    """A solid inside the closed shell of `faces`, material inside."""
    builder = BRep_Builder()
    shell = TopoDS_Shell()
    builder.MakeShell(shell)
    for face in faces:
        builder.Add(shell, face)
    shell.Closed(True)
    solid = TopoDS_Solid()
    builder.MakeSolid(solid)
    builder.Add(solid, shell)
    BRepLib.OrientClosedSolid_s(solid)
    return solid


def tube_part(part: Seated, making: Making) -> Shaped:
    seat = part.seat
    assert isinstance(seat, RunSeat)
    radii = seat.tube.radius, seat.tube.radius - seat.tube.wall
    whole = tried(
        lambda: stepped_solid(seat.line, seat.walls) if seat.walls else tube_solid(seat.line, *radii), part.name
    )
    if seat.cuts:
        tools = [cylinder(each.start, each.way, each.radius, each.length) for each in seat.cuts]
        return making.whole(lambda: only_solid(cut(whole, *tools), part.name), part.name)
    return Shaped(whole, line=seat.line, tube=seat.tube, walls=seat.walls)
