"""The surroundings of the header in the report: each item, and the assumptions for each mesh."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from pydantic import Field

from headergen.model import ChassisItem, MeshFacts, MeshRef, MeshUnits, Survey
from headergen.outputs.report.records.base import Count, Mm, Point, PositiveMm, Record, Sha256


class MeshFileRecord(Record):
    """A mesh by name and content."""

    file: str = Field(description="its name, without its folder")
    sha256: Sha256 = Field(description="hash of its bytes")


class ItemRecord(Record):
    """An item of the chassis, with the gap that is required to it."""

    name: str = Field(description="as the spec calls it")
    role: Literal["obstacle", "enclosure", "surface"] = Field(
        description="obstacle: to stay out of; enclosure: to stay inside; surface: open, its inside unknown"
    )
    clearance_mm: Mm = Field(description="required gap")
    free_from_flange_mm: Mm = Field(description="length from the flange over which it is not checked")
    mesh: MeshFileRecord | None = Field(description="null for an item that is no mesh")


class OtherUnitRecord(Record):
    """A unit in which a mesh would be as large as a chassis and lie by the header, too."""

    units: MeshUnits = Field(description="of the file's numbers")
    largest_mm: PositiveMm = Field(description="largest dimension")
    from_ports_mm: Mm = Field(description="from the nearest port or bore to the mesh")


class PlacedByRecord(Record):
    """A place found both in a mesh and on the engine."""

    name: str = Field(description="of the place")
    off_mm: Mm = Field(description="what is left between its two places")


class MeshRecord(Record):
    """What a mesh was taken for."""

    item: str = Field(description="name of the chassis item")
    file: str = Field(description="its name, without its folder")
    triangles: Count = Field(description="in the file")
    left_out: Count = Field(description="triangles with a corner that is not a number")
    without_area: Count = Field(description="triangles measured as lines or points")
    y_up: bool = Field(description="its format is y up, and it was turned z up")
    doubts: tuple[str, ...] = Field(description="what may be missing from the file")
    points_only: bool = Field(description="a cloud of points, without a surface")
    assumed: tuple[str, ...] = Field(description="what had to be assumed to read it")
    units: MeshUnits = Field(description="of the file's numbers")
    units_from: Literal["spec", "format", "points", "size", "extent"] = Field(description="how the unit was told")
    closed: bool = Field(description="its triangles close once, so that it can tell inside from outside")
    size_mm: Point = Field(description="along the file's own axes")
    from_ports_mm: Mm = Field(description="from the nearest port or bore to the mesh")
    from_header_mm: Mm = Field(
        description="from the nearest tube, port or bore to the mesh; 0 where it meets the header"
    )
    other_units: tuple[OtherUnitRecord, ...] = Field(
        description="in which it would be as large as a chassis and lie by the header, too"
    )
    placed: Literal["file", "spec", "points"] = Field(description="as its file has it, as the spec says, by points")
    spacing_mm: Mm = Field(description="within which nine in ten points have a neighbour; 0 for a surface")
    placed_by: tuple[PlacedByRecord, ...] = Field(description="the places that it was placed by")
    error_at_header_mm: Mm = Field(
        description="by how much it is off at the header, or less, in 95 of 100; 0 without points"
    )
    tells_mirror: bool = Field(description="its points, if it has any, would show a mirrored mesh")


def item_record(item: ChassisItem) -> ItemRecord:
    mesh = item.shape if isinstance(item.shape, MeshRef) else None
    return ItemRecord(
        name=item.name,
        role=item.role,
        clearance_mm=item.clearance,
        free_from_flange_mm=item.free_from_flange,
        mesh=None if mesh is None else MeshFileRecord(file=Path(mesh.path).name, sha256=mesh.sha256),
    )


def mesh_record(survey: Survey, known: MeshFacts) -> MeshRecord:
    content = known.content
    return MeshRecord(
        item=known.item,
        file=known.file,
        triangles=content.triangles,
        left_out=content.left_out,
        without_area=content.no_area,
        y_up=content.y_up,
        doubts=content.doubts,
        points_only=content.points_only,
        assumed=content.assumed,
        units=known.units,
        units_from=known.units_from,
        closed=known.closed,
        size_mm=known.size,
        from_ports_mm=known.away,
        from_header_mm=survey.from_header(known),
        other_units=tuple(
            OtherUnitRecord(units=other.units, largest_mm=other.size, from_ports_mm=other.away)
            for other in known.others
        ),
        placed=known.placed,
        spacing_mm=known.spacing,
        placed_by=tuple(PlacedByRecord(name=pair.name, off_mm=pair.distance) for pair in known.residuals),
        error_at_header_mm=known.error,
        tells_mirror=known.tells_mirror,
    )
