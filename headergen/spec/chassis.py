"""Chassis items as given in a spec: meshes and simple solids."""

from __future__ import annotations

import math
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from headergen.geometry.frames import angle_between, norm, subtract
from headergen.spec.entry import Entry, checked_axes, exactly_one, needs_direction, one_of, only_with
from headergen.spec.fields import Direction, FilePoint, Margin, Name, Point, Size, Sizes, Tolerance, complain
from headergen.spec.units import shown

SQUARE_ENOUGH = 1.0  # degrees by which the x and z of a placement may be off square


class PointPairEntry(Entry):
    """A place that is known both in a mesh file and on the engine: a bolt hole, a machined face's corner."""

    name: Name = Field(description="Name of the place, in words.")
    scan: FilePoint = Field(description="The place as the mesh file has it, in the file's own numbers: [x, y, z].")
    engine: Point = Field(description="The same place in engine axes: [x, y, z].")


class PlacementEntry(Entry):
    """Where a mesh's own axes lie in the engine's: said outright, or found from three or more pairs of points."""

    model_config = one_of("origin", "points", together={"x": ["origin"], "z": ["origin"], "within": ["points"]})

    origin: Point | None = Field(default=None, description="Where the mesh's own zero lies, in engine axes.")
    points: list[PointPairEntry] | None = Field(
        default=None, min_length=3, description="Three or more places known in the mesh and on the engine."
    )
    within: Tolerance | None = Field(
        default=None,
        description=(
            "How far a point may be off, once placed; with three points, also what each is assumed to be. "
            "Default: 2 mm."
        ),
    )
    x: Direction = Field(
        default=(1.0, 0.0, 0.0), description="Direction of the mesh's own x in engine axes (GLB: once z up)."
    )
    z: Direction = Field(
        default=(0.0, 0.0, 1.0), description="Direction of the mesh's own z in engine axes, square to x."
    )

    @model_validator(mode="after")
    def _axes(self) -> Self:
        if exactly_one(self, ("origin", "points"), "a placement") == "points":
            self._check_points()
            return self
        only_with(self, ("within",), "points, and this placement has none")
        needs_direction(self.x, "x")
        needs_direction(self.z, "z")
        between = math.degrees(angle_between(self.x, self.z))
        if abs(between - 90) > SQUARE_ENOUGH:
            raise complain(f"x and z are at {between:.1f} degrees, but must be square to each other", at=("z",))
        return self

    def _check_points(self) -> None:
        assert self.points is not None
        if turned := sorted({"x", "z"} & self.model_fields_set):
            raise complain(f"{turned[0]} belongs to an origin: points say the directions too", at=(turned[0],))
        names = [pair.name for pair in self.points]
        for number, name in enumerate(names):
            if name in names[:number]:
                raise complain(f"{shown(name)} names two of the points", at=("points", number, "name"))


class BoxEntry(Entry):
    """A box by its middle and its sizes along its own axes."""

    center: Point = Field(description="The middle of the box, in engine axes.")
    size: Sizes = Field(description="Sizes of the box along its own axes: [x, y, z].")
    normal: Direction = Field(default=(0.0, 0.0, 1.0), description="Direction of the box's own z. Default: up.")
    x: Direction | None = Field(default=None, description="Direction of the box's own x. Default: forward.")

    @model_validator(mode="after")
    def _axes(self) -> Self:
        checked_axes(self.normal, self.x)
        return self


class CylinderEntry(Entry):
    """A solid cylinder with flat ends."""

    start: Point = Field(alias="from", description="The middle of one end of the cylinder.")
    end: Point = Field(alias="to", description="The middle of the other end of the cylinder.")
    diameter: Size = Field(description="Diameter of the cylinder.")

    @model_validator(mode="after")
    def _length(self) -> Self:
        if norm(subtract(self.end, self.start)) < 1e-6:
            raise complain("the cylinder ends where it starts", at=("to",))
        return self


class HalfSpaceEntry(Entry):
    """A plane that must not be crossed; everything behind it, against its normal, is forbidden."""

    origin: Point = Field(description="A point on the plane.")
    normal: Direction = Field(description="Direction that points to the free side of the plane.")

    @model_validator(mode="after")
    def _faces(self) -> Self:
        needs_direction(self.normal, "normal")
        return self


class TubeRunEntry(Entry):
    """A line or cable along points."""

    points: list[Point] = Field(min_length=2, description="Corners along the middle of the line: [[x, y, z], …].")
    diameter: Size = Field(description="Outside diameter of the line.")


SHAPES = ("mesh", "box", "cylinder", "plane", "tube", "header")
GLTF_HINT = "export it as one GLB file (.glb), the binary form of the same"
MESH_FORMATS = (".stl", ".ply", ".obj", ".off", ".glb", ".3mf")


def _mesh_name(name: str) -> str:
    if not name.lower().endswith(MESH_FORMATS):
        if name.lower().endswith(".gltf"):
            raise complain(f"{shown(name)} is glTF as text, which is not read", GLTF_HINT)
        formats = ", ".join(MESH_FORMATS)
        raise complain(f"{shown(name)} is not a mesh file that is read here", f"the formats are {formats}")
    return name


MeshName = Annotated[Name, AfterValidator(_mesh_name)]


class ChassisEntry(Entry):
    """One thing that must not be touched, with its own clearance."""

    model_config = one_of(*SHAPES, together={"units": ["mesh"], "placement": ["mesh"], "extent": ["mesh"]})

    name: Name = Field(description="Name of the item, as it stands in messages.")
    mesh: MeshName | None = Field(default=None, description="Mesh file, relative to this spec's folder.")
    units: Literal["mm", "cm", "m", "in", "ft"] | None = Field(
        default=None, description="Unit of the numbers in the mesh file. Default: told by its size and place."
    )
    placement: PlacementEntry | None = Field(
        default=None, description="Where the mesh lies in engine axes. Default: as drawn."
    )
    extent: Size | None = Field(default=None, description="The mesh's largest dimension by tape measure, as a check.")
    box: BoxEntry | None = Field(default=None, description="A solid box, by its middle and sizes.")
    cylinder: CylinderEntry | None = Field(default=None, description="A solid cylinder, by the middles of its ends.")
    plane: HalfSpaceEntry | None = Field(default=None, description="A plane with nothing allowed behind it.")
    tube: TubeRunEntry | None = Field(default=None, description="A round line or cable along points.")
    header: Name | None = Field(
        default=None, description="Spec of another header, whose tubes and collectors must not be touched."
    )
    clearance: Margin = Field(description="Gap that every primary must keep from the item.")
    role: Literal["obstacle", "enclosure", "surface"] = Field(
        default="obstacle",
        description=(
            "What the item does. obstacle: keep off; enclosure: stay inside; surface: open, its inside unknown."
        ),
    )
    free_from_flange: Margin = Field(
        default=0.0, description="Length from the flange over which primaries may be near the item."
    )
    flanges: list[Name] = Field(
        default=[],
        description=("Names of the flanges that stand on this item, where free_from_flange is given. Default: all."),
    )

    @model_validator(mode="after")
    def _one(self) -> Self:
        if exactly_one(self, SHAPES, "a chassis item") != "mesh":
            only_with(self, ("units", "placement", "extent"), "a mesh, and this item has none")
        if self.role == "surface" and self.mesh is None:
            raise complain("only a mesh can be a surface", at=("role",))
        if self.role == "enclosure" and self.mesh is None and self.box is None:
            raise complain("only a mesh or a box can be an enclosure", at=("role",))
        if self.flanges and not self.free_from_flange:
            message = "flanges says whose tubes may be near it, and free_from_flange does not say over what length"
            raise complain(message, "give free_from_flange, or take flanges out", at=("flanges",))
        return self
