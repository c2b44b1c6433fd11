"""The look at one mesh file: its content, whether it is closed, its size in each unit, and its place."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.frames import WORLD
from headergen.geometry.mesh.index import Corners, TriangleIndex, distance_to_index, placed
from headergen.model import Draft, FileFacts, MeshRef, MeshUnits
from headergen.spec.chassis import GLTF_HINT, MESH_FORMATS
from headergen.spec.complaint import Complaint, SpecError
from headergen.spec.files import shown_path
from headergen.spec.mesh.load import broken_text, header_points, take, tells_sides
from headergen.spec.mesh.place import ALL_UNITS, PlacementError, frame_in, z_up
from headergen.spec.mesh.raw import BrokenMeshError
from headergen.spec.mesh.shell import BASE, edges, same_cell, shells
from headergen.spec.scalars import ScalarError
from headergen.spec.units import MILLIMETRES
from headergen.words.numbers import INCH


@dataclass(frozen=True)
class Seams:
    """How the triangles of a file are connected; corners with equal coordinates count as one.

    `rims`: number of connected chains of open edges, each round a hole or a border; `longest_rim`: in the file's
    numbers. `crowded`: edges of three or more triangles. `against`: edges of two triangles with opposite orientation.
    """

    corners: int
    duplicates: int
    open_edges: int
    rims: int
    longest_rim: float
    crowded: int
    against: int

    @property
    def closed(self) -> bool:
        return self.open_edges == self.crowded == 0


@dataclass(frozen=True)
class InUnit:
    """A mesh as it would be in one unit: its size in mm along its own axes, and its distance from the header."""

    units: MeshUnits
    size: tuple[float, float, float]
    away: float | None


@dataclass(frozen=True, eq=False)
class Look:
    facts: FileFacts
    seams: Seams | None  # None for points
    tells_sides: bool
    units: tuple[InUnit, ...]
    job: str  # the unit of the job beside which it is looked at, for sizes and distances; else mm
    index: TriangleIndex  # unplaced


def look_at(file: Path, header: Array | None = None, ref: MeshRef | None = None, job: str = "mm") -> Look:
    """All facts of a mesh file. `header`: (n, 3) ports and bores in mm; `ref` places the mesh relative to it;
    `job` is its unit.

    Raises SpecError when the file cannot be read.
    """
    try:
        if file.suffix.lower() == ".gltf":
            raise ScalarError(f"{shown_path(file)} is glTF as text, which is not read", GLTF_HINT)
        if file.suffix.lower() not in MESH_FORMATS:
            raise ScalarError(
                f"{shown_path(file)} is not a mesh file that is read here", f"the formats are {', '.join(MESH_FORMATS)}"
            )
        taken = take(file)
    except BrokenMeshError as broken:
        raise SpecError([broken_text(file, broken)]) from None
    except ScalarError as refused:
        raise SpecError([Complaint(shown_path(file), None, None, "", refused.message, hint=refused.hint)]) from None
    size = taken.index.size
    placing = z_up(ref) if ref is not None and taken.facts.y_up else ref
    in_units = []
    for unit in ALL_UNITS:
        scale = MILLIMETRES[unit]
        away = None if header is None else _away(taken.index, header, unit, placing)
        x, y, z = (size.astype(float) * scale).tolist()
        in_units.append(InUnit(unit, (x, y, z), away))
    seams = None if taken.facts.points_only else seams_of(taken.index.raw)
    return Look(taken.facts, seams, tells_sides(taken), tuple(in_units), job, taken.index)


def _away(index: TriangleIndex, header: Array, unit: MeshUnits, ref: MeshRef | None) -> float | None:
    try:
        frame = WORLD if ref is None else frame_in(ref, unit)
    except PlacementError:
        return None
    return float(distance_to_index(header, placed(index, MILLIMETRES[unit], frame)).min())


def beside(draft: Draft, folder: Path, file: Path) -> tuple[Array, MeshRef | None, str]:
    """The ports and bores of a draft, the mesh reference of its chassis to a file, if it has one, and its unit."""
    for item in draft.chassis:
        if isinstance(item.shape, MeshRef) and (folder / item.shape.path).resolve() == file.resolve():
            return header_points(draft), item.shape, draft.units
    return header_points(draft), None, draft.units


def seams_of(corners: Corners) -> Seams:
    """The seams of triangles with `corners` (m, 3, 3)."""
    points = corners.reshape(-1, 3)
    faces = same_cell(points.astype(float))[np.arange(len(points))].reshape(-1, 3)
    used, places = np.unique(faces, return_inverse=True)
    vertices, faces = points[used].astype(float), places.reshape(-1, 3)
    same = same_cell(np.sort(faces, axis=1).astype(float))
    whole = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    single = whole & (same == np.arange(len(faces)))
    keys, counts, sums = edges(faces[single])
    rim = np.column_stack([keys // BASE, keys % BASE])[counts == 1]
    lengths = np.sqrt(((vertices[rim[:, 0]] - vertices[rim[:, 1]]) ** 2).sum(axis=1))
    of_rim = shells(len(vertices), np.column_stack([rim, rim[:, 0]]))[rim[:, 0]] if len(rim) else np.zeros(0, np.int64)
    each = np.bincount(np.unique(of_rim, return_inverse=True)[1], lengths) if len(rim) else np.zeros(0)
    return Seams(
        corners=len(vertices),
        duplicates=int((whole & ~single).sum()),
        open_edges=len(rim),
        rims=len(each),
        longest_rim=float(each.max(initial=0.0)),
        crowded=int((counts > 2).sum()),
        against=int(((counts == 2) & (sums != 0)).sum()),
    )


def said_of(file: Path, seen: Look) -> Iterator[str]:
    """A report of a mesh, line by line."""
    facts = seen.facts
    if facts.points_only:
        yield f"{file.name}: {facts.triangles} points and no surface; nine in ten have a neighbour within its spacing."
    else:
        yield f"{file.name}: {facts.triangles} triangles."
    yield from (f"  {said[0].upper()}{said[1:]}." for said in (*facts.assumed, *facts.doubts))
    if facts.y_up:
        yield "  Its format is y up; it is turned to z up: x stays, y goes up to z, z goes to the right."
    if facts.left_out:
        yield f"  {facts.left_out} triangles have a corner that is not a number; they are left out."
    if facts.no_area:
        yield f"  {facts.no_area} triangles have no area."
    if seen.seams is not None:
        yield from _said_of_seams(seen.seams, seen.tells_sides)
    yield "Its size along its own axes, and where it would lie:"
    one = INCH if seen.job == "in" else 1.0
    for each in seen.units:
        x, y, z = (_figure(size / one) for size in each.size)
        spacing = facts.spacing * MILLIMETRES[each.units] / one
        gap = f", spacing {spacing:.3g} {seen.job}" if facts.points_only else ""
        away = "" if each.away is None else f", {_figure(each.away / one)} {seen.job} from the nearest port or bore"
        said = "  (what its format says)" if facts.units == each.units else ""
        yield f"  in {each.units:2}: {x} × {y} × {z} {seen.job}{gap}{away}{said}"


def _figure(size: float) -> str:
    """A number to five digits, without an exponent."""
    return f"{size:.5g}" if size < 99_999.5 else f"{size:.0f}"


def _said_of_seams(seams: Seams, tells_sides: bool) -> Iterator[str]:
    yield f"  {seams.corners} corners, {seams.duplicates} triangles that are there twice."
    if tells_sides:
        yield "  Closed: it encloses a volume, and inside can be told from outside."
    elif seams.closed:
        yield (
            "  Its edges close, but its triangles are there twice or face both ways, so inside cannot be told from "
            "outside: export it as closed bodies with all faces outward."
        )
    else:
        yield (
            f"  Open: {seams.open_edges} open edges in {seams.rims} holes or borders, the longest "
            f"{seams.longest_rim:.5g} long in the file's numbers; it says how far, not which side."
        )
        if seams.crowded:
            yield f"  {seams.crowded} edges belong to three triangles and more."
    if seams.against:
        yield f"  Its triangles change sides over {seams.against} edges."
