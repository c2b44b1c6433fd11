"""The building blocks of parts: simple bodies, checked booleans, and placement of bodies in a frame."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any

from OCP.Bnd import Bnd_Box
from OCP.BRepAdaptor import BRepAdaptor_Curve, BRepAdaptor_Surface
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common, BRepAlgoAPI_Cut, BRepAlgoAPI_Fuse
from OCP.BRepBndLib import BRepBndLib
from OCP.BRepBuilderAPI import (
    BRepBuilderAPI_MakeEdge,
    BRepBuilderAPI_MakeFace,
    BRepBuilderAPI_MakePolygon,
    BRepBuilderAPI_MakeSolid,
    BRepBuilderAPI_MakeVertex,
    BRepBuilderAPI_MakeWire,
    BRepBuilderAPI_Sewing,
    BRepBuilderAPI_Transform,
)
from OCP.BRepFill import BRepFill
from OCP.BRepLib import BRepLib
from OCP.BRepOffsetAPI import BRepOffsetAPI_ThruSections
from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox, BRepPrimAPI_MakeCone, BRepPrimAPI_MakeCylinder, BRepPrimAPI_MakePrism
from OCP.GC import GC_MakeArcOfCircle
from OCP.GeomAbs import GeomAbs_Plane
from OCP.gp import gp_Ax1, gp_Ax2, gp_Ax3, gp_Dir, gp_Pnt, gp_Trsf, gp_Vec
from OCP.ShapeUpgrade import ShapeUpgrade_UnifySameDomain
from OCP.TopAbs import TopAbs_FACE, TopAbs_SHELL, TopAbs_SOLID
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS
from OCP.TopTools import TopTools_ListOfShape

from headergen.geometry.frames import WORLD, add
from headergen.model import Frame, Vec
from headergen.solids.inspect import SolidError

SEWN = 1e-6  # mm within which edges of sewn faces count as one
FAR = 2000.0  # mm; longer than any part


def cylinder(start: Vec, direction: Vec, radius: float, length: float) -> Any:
    """A full cylinder from `start` along the unit `direction`."""
    axes = gp_Ax2(gp_Pnt(*start), gp_Dir(*direction))
    return BRepPrimAPI_MakeCylinder(axes, radius, length).Shape()


def frustum(start: Vec, direction: Vec, radii: tuple[float, float], length: float) -> Any:
    """A full frustum from `start` along the unit `direction`, or a cylinder if both radii are one."""
    if radii[0] == radii[1]:
        return cylinder(start, direction, radii[0], length)
    return BRepPrimAPI_MakeCone(gp_Ax2(gp_Pnt(*start), gp_Dir(*direction)), *radii, length).Shape()


def conical(start: float, length: float, near: float, far: float) -> Any:
    """A full frustum about z, of radius `near` at the height `start` and `far` at its end."""
    axes = gp_Ax2(gp_Pnt(0, 0, start), gp_Dir(0, 0, 1))
    return BRepPrimAPI_MakeCone(axes, near, far, length).Shape()


def half_space(origin: Vec, normal: Vec) -> Any:
    """A box that stands for the half space behind a plane, on the side against its unit normal."""
    axes = gp_Ax2(gp_Pnt(*origin), gp_Dir(*normal))
    corner = axes.Location().Translated(
        gp_Vec(axes.XDirection())
        .Multiplied(-FAR / 2)
        .Added(gp_Vec(axes.YDirection()).Multiplied(-FAR / 2))
        .Added(gp_Vec(axes.Direction()).Multiplied(-FAR))
    )
    axes.SetLocation(corner)
    return BRepPrimAPI_MakeBox(axes, FAR, FAR, FAR).Shape()


def straight(start: Vec, end: Vec) -> Any:
    """The edge from one point to another."""
    return BRepBuilderAPI_MakeEdge(gp_Pnt(*start), gp_Pnt(*end)).Edge()


def through(start: Vec, middle: Vec, end: Vec) -> Any:
    """The arc from one point through another to a third."""
    return BRepBuilderAPI_MakeEdge(GC_MakeArcOfCircle(gp_Pnt(*start), gp_Pnt(*middle), gp_Pnt(*end)).Value()).Edge()


def ends_of(edge: Any) -> tuple[Vec, Vec]:
    """The start and the end of an edge."""
    curve = BRepAdaptor_Curve(edge)
    start, end = (curve.Value(at) for at in (curve.FirstParameter(), curve.LastParameter()))
    return (start.X(), start.Y(), start.Z()), (end.X(), end.Y(), end.Z())


def plane_through(points: Sequence[Vec]) -> Any:
    """The plane polygon through `points`, as a face."""
    polygon = BRepBuilderAPI_MakePolygon()
    for point in points:
        polygon.Add(gp_Pnt(*point))
    polygon.Close()
    return plane_face(polygon.Wire())


def plane_face(wire: Any) -> Any:
    """The plane face inside a closed wire."""
    return BRepBuilderAPI_MakeFace(wire, True).Face()


def prism(points: Sequence[Vec], way: Vec) -> Any:
    """The plane polygon through `points`, extruded by `way`."""
    return BRepPrimAPI_MakePrism(plane_through(points), gp_Vec(*way)).Shape()


def carried(wire: Any, way: Vec) -> Any:
    """The plane face inside a closed wire, extruded by `way`."""
    return BRepPrimAPI_MakePrism(plane_face(wire), gp_Vec(*way)).Shape()


def wire_of(edges: Iterable[Any]) -> Any:
    """Consecutive edges as one wire. Raises SolidError if they do not meet."""
    maker = BRepBuilderAPI_MakeWire()
    for edge in edges:
        maker.Add(edge)
        if not maker.IsDone():
            raise SolidError("the edges of an outline do not meet")
    return maker.Wire()


def ruled(*wires: Any) -> Any:
    """The ruled solid from wire to wire; edges are matched in the given order."""
    sections = BRepOffsetAPI_ThruSections(True, True, 1e-6)
    sections.CheckCompatibility(False)
    for wire in wires:
        sections.AddWire(wire)
    sections.Build()
    return sections.Shape()


def ruled_face(one: Any, other: Any) -> Any:
    """The ruled face between two edges, from start to start and from end to end."""
    return BRepFill.Face_s(one, other)


def sewn(faces: Iterable[Any]) -> Any:
    """The solid bounded by these faces. Raises SolidError if they do not close."""
    sewing = BRepBuilderAPI_Sewing(SEWN)
    for face in faces:
        sewing.Add(face)
    sewing.Perform()
    skin = sewing.SewedShape()
    if skin.IsNull() or skin.ShapeType() != TopAbs_SHELL or sewing.NbFreeEdges():
        raise SolidError("the faces of a body do not close")
    solid = BRepBuilderAPI_MakeSolid(TopoDS.Shell_s(skin)).Solid()
    BRepLib.OrientClosedSolid_s(solid)
    return solid


def unified(shape: Any) -> Any:
    """The shape with faces and edges that continue each other merged."""
    unify = ShapeUpgrade_UnifySameDomain(shape, True, True, False)
    unify.Build()
    return unify.Shape()


def faces_of(shape: Any) -> list[Any]:
    explorer, found = TopExp_Explorer(shape, TopAbs_FACE), []
    while explorer.More():
        found.append(TopoDS.Face_s(explorer.Current()))
        explorer.Next()
    return found


def lies_in(face: Any, normal: Vec, within: float) -> bool:
    """Whether a face lies in the plane through the origin with a unit normal; its orientation does not matter."""
    surface = BRepAdaptor_Surface(face)
    if surface.GetType() != GeomAbs_Plane:
        return False
    plane = surface.Plane()
    turned_alike: bool = plane.Axis().Direction().IsParallel(gp_Dir(*normal), within)
    return turned_alike and bool(plane.Distance(gp_Pnt(0, 0, 0)) < within)


def lies_at(face: Any, height: float, within: float) -> bool:
    """Whether a face lies in the plane square to z at a height."""
    surface = BRepAdaptor_Surface(face)
    if surface.GetType() != GeomAbs_Plane:
        return False
    plane = surface.Plane()
    turned_alike: bool = plane.Axis().Direction().IsParallel(gp_Dir(0, 0, 1), within)
    return turned_alike and abs(plane.Location().Z() - height) < within


def pointed(wire: Any, tip: Vec) -> Any:
    """The ruled solid from a wire to a point."""
    sections = BRepOffsetAPI_ThruSections(True, True, 1e-6)
    sections.AddWire(wire)
    sections.AddVertex(BRepBuilderAPI_MakeVertex(gp_Pnt(*tip)).Vertex())
    sections.Build()
    return sections.Shape()


def fused(shapes: Sequence[Any], within: float = 0.0) -> Any:
    """One shape of several; skins that are `within` mm of each other count as meeting."""
    if len(shapes) == 1:
        return shapes[0]
    operation = BRepAlgoAPI_Fuse()
    if within > 0.0:
        operation.SetFuzzyValue(within)
    return _boolean(operation, shapes[:1], shapes[1:])


def cut(shape: Any, *tools: Any) -> Any:
    return _boolean(BRepAlgoAPI_Cut(), [shape], tools)


def common(shape: Any, *tools: Any) -> Any:
    for tool in tools:
        shape = _boolean(BRepAlgoAPI_Common(), [shape], [tool])
    return shape


def shared(one: Any, other: Any) -> Any:
    """The common volume of two bodies; copies are used, as the kernel may widen its arguments' tolerances."""
    operation = BRepAlgoAPI_Common()
    operation.SetNonDestructive(True)
    return _boolean(operation, [one], [other])


def _boolean(operation: Any, arguments: Sequence[Any], tools: Sequence[Any]) -> Any:
    """Uses a fixed order of shapes and one thread, because the kernel's result depends on both."""
    ours, theirs = TopTools_ListOfShape(), TopTools_ListOfShape()
    for shape in arguments:
        ours.Append(shape)
    for shape in tools:
        theirs.Append(shape)
    operation.SetArguments(ours)
    operation.SetTools(theirs)
    operation.SetRunParallel(False)
    operation.Build()
    if not operation.IsDone():
        raise SolidError("the CAD kernel could not combine two bodies")
    return operation.Shape()


def turned(shape: Any, angle: float) -> Any:
    """The shape turned about z."""
    move = gp_Trsf()
    move.SetRotation(gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(0, 0, 1)), angle)
    return BRepBuilderAPI_Transform(shape, move, True).Shape()


def placed(shape: Any, frame: Frame, turn: float = 0.0) -> Any:
    """A body built about the origin, turned about z and then placed in a frame; its geometry is copied."""
    c, s = math.cos(turn), math.sin(turn)
    x = add(_scaled(frame.x, c), frame.y, s)
    move = gp_Trsf()
    move.SetTransformation(_axes(Frame(frame.origin, x, frame.y, frame.z)), _axes(WORLD))
    return BRepBuilderAPI_Transform(shape, move, True).Shape()


def _scaled(v: Vec, by: float) -> Vec:
    return (v[0] * by, v[1] * by, v[2] * by)


def _axes(frame: Frame) -> gp_Ax3:
    return gp_Ax3(gp_Pnt(*frame.origin), gp_Dir(*frame.z), gp_Dir(*frame.x))


def bounding_box(shape: Any) -> Bnd_Box:
    box = Bnd_Box()
    BRepBndLib.AddOptimal_s(shape, box, False, False)
    return box


def only_solid(shape: Any, name: str) -> Any:
    """The only solid in the result of booleans. Raises SolidError, naming the part, if there is not just one."""
    found = _solids_of(shape)
    if len(found) != 1:
        raise SolidError(f"{name}: one body is required, and the CAD kernel made {len(found)}")
    return found[0]


def count_solids(shape: Any) -> int:
    return len(_solids_of(shape))


def _solids_of(shape: Any) -> list[Any]:
    explorer, found = TopExp_Explorer(shape, TopAbs_SOLID), []
    while explorer.More():
        found.append(explorer.Current())
        explorer.Next()
    return found
