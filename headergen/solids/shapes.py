"""What the parts are built from: plain bodies, booleans that are checked, and bodies set up in a frame."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any

from OCP.Bnd import Bnd_Box
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common, BRepAlgoAPI_Cut, BRepAlgoAPI_Fuse
from OCP.BRepBndLib import BRepBndLib
from OCP.BRepBuilderAPI import (
    BRepBuilderAPI_MakeFace,
    BRepBuilderAPI_MakePolygon,
    BRepBuilderAPI_MakeVertex,
    BRepBuilderAPI_MakeWire,
    BRepBuilderAPI_Transform,
)
from OCP.BRepOffsetAPI import BRepOffsetAPI_ThruSections
from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox, BRepPrimAPI_MakeCylinder, BRepPrimAPI_MakePrism
from OCP.gp import gp_Ax1, gp_Ax2, gp_Ax3, gp_Dir, gp_Pnt, gp_Trsf, gp_Vec
from OCP.TopAbs import TopAbs_SOLID
from OCP.TopExp import TopExp_Explorer
from OCP.TopTools import TopTools_ListOfShape

from headergen.geometry.frames import WORLD, add
from headergen.model import Frame, Vec
from headergen.solids.inspect import SolidError

FAR = 2000.0  # mm; more than any part is long


def cylinder(start: Vec, direction: Vec, radius: float, length: float) -> Any:
    """A full cylinder from `start` along the unit `direction`."""
    axes = gp_Ax2(gp_Pnt(*start), gp_Dir(*direction))
    return BRepPrimAPI_MakeCylinder(axes, radius, length).Shape()


def half_space(origin: Vec, normal: Vec) -> Any:
    """A box that stands for everything behind a plane, against its unit normal."""
    axes = gp_Ax2(gp_Pnt(*origin), gp_Dir(*normal))
    corner = axes.Location().Translated(
        gp_Vec(axes.XDirection())
        .Multiplied(-FAR / 2)
        .Added(gp_Vec(axes.YDirection()).Multiplied(-FAR / 2))
        .Added(gp_Vec(axes.Direction()).Multiplied(-FAR))
    )
    axes.SetLocation(corner)
    return BRepPrimAPI_MakeBox(axes, FAR, FAR, FAR).Shape()


def prism(points: Sequence[Vec], way: Vec) -> Any:
    """The plane polygon through `points`, carried along `way`."""
    polygon = BRepBuilderAPI_MakePolygon()
    for point in points:
        polygon.Add(gp_Pnt(*point))
    polygon.Close()
    return carried(polygon.Wire(), way)


def carried(wire: Any, way: Vec) -> Any:
    """The plane face inside a closed wire, carried along `way`."""
    return BRepPrimAPI_MakePrism(BRepBuilderAPI_MakeFace(wire, True).Face(), gp_Vec(*way)).Shape()


def wire_of(edges: Iterable[Any]) -> Any:
    """Edges that follow one another, as one wire. Raises SolidError where they do not meet."""
    maker = BRepBuilderAPI_MakeWire()
    for edge in edges:
        maker.Add(edge)
        if not maker.IsDone():
            raise SolidError("the edges of an outline do not meet")
    return maker.Wire()


def ruled(*wires: Any) -> Any:
    """The solid of straight rulings from wire to wire; edges are matched in the order they come in."""
    sections = BRepOffsetAPI_ThruSections(True, True, 1e-6)
    sections.CheckCompatibility(False)
    for wire in wires:
        sections.AddWire(wire)
    sections.Build()
    return sections.Shape()


def pointed(wire: Any, tip: Vec) -> Any:
    """The solid of straight rulings from a wire to a point."""
    sections = BRepOffsetAPI_ThruSections(True, True, 1e-6)
    sections.AddWire(wire)
    sections.AddVertex(BRepBuilderAPI_MakeVertex(gp_Pnt(*tip)).Vertex())
    sections.Build()
    return sections.Shape()


def fused(shapes: Sequence[Any]) -> Any:
    return _boolean(BRepAlgoAPI_Fuse(), shapes[:1], shapes[1:]) if len(shapes) > 1 else shapes[0]


def cut(shape: Any, *tools: Any) -> Any:
    return _boolean(BRepAlgoAPI_Cut(), [shape], tools)


def common(shape: Any, *tools: Any) -> Any:
    for tool in tools:
        shape = _boolean(BRepAlgoAPI_Common(), [shape], [tool])
    return shape


def shared(one: Any, other: Any) -> Any:
    """What two bodies have in common; neither is touched, where else the kernel may widen their tolerances."""
    operation = BRepAlgoAPI_Common()
    operation.SetNonDestructive(True)
    return _boolean(operation, [one], [other])


def _boolean(operation: Any, arguments: Sequence[Any], tools: Sequence[Any]) -> Any:
    """The same order of shapes each time, in one thread: the kernel's result depends on both."""
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
    """Turned about z."""
    move = gp_Trsf()
    move.SetRotation(gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(0, 0, 1)), angle)
    return BRepBuilderAPI_Transform(shape, move, True).Shape()


def placed(shape: Any, frame: Frame, turn: float = 0.0) -> Any:
    """A body built about the origin, turned about z and then set up in a frame; its geometry is copied."""
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
    """The one solid in the outcome of booleans. Raises SolidError, naming the part, when there is none or another."""
    explorer, found = TopExp_Explorer(shape, TopAbs_SOLID), []
    while explorer.More():
        found.append(explorer.Current())
        explorer.Next()
    if len(found) != 1:
        raise SolidError(f"{name}: one body is required, and the CAD kernel made {len(found)}")
    return found[0]
