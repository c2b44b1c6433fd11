"""Chassis meshes: read, scaled, placed and judged, so that an unusable one never counts as clear."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from headergen.geometry.frames import axes_matrix
from headergen.geometry.mesh import TriangleMesh
from headergen.model import Draft, MeshRef, Vec
from headergen.spec.complaint import Complaint, SpecError, Trouble, path_text
from headergen.spec.files import read_file, shown_path
from headergen.spec.meshfile import read_mesh
from headergen.spec.scalars import Refused
from headergen.spec.shell import surface
from headergen.spec.stl import BrokenMesh
from headergen.spec.text import LARGEST, complaint_at, read_text
from headergen.spec.units import MILLIMETRES

SMALLEST, LARGEST_MESH = 100.0, 15_000.0  # mm; largest dimension of anything that is modelled of a vehicle
EXTENT_TOLERANCE = 0.05  # of the extent given: a tape measure and a bumper more or less
FARTHEST = 5_000.0  # mm from every port; such a mesh was placed by mistake


class _Judged(Exception):
    """A readable mesh that cannot be what the spec says it is."""

    def __init__(self, key: str, message: str, hint: str = "") -> None:
        super().__init__(message)
        self.key, self.message, self.hint = key, message, hint


def load_meshes(source_file: Path, draft: Draft) -> dict[str, TriangleMesh]:
    """The meshes of the draft's chassis by item name, in engine axes and millimetres.

    `source_file` is the spec, whose folder the mesh paths count from. Raises SpecError with a complaint for each
    mesh that is broken, empty, implausibly large or small, or nowhere near the header.
    """
    ports = tuple(port.frame.origin for port in draft.flange.ports)
    meshes: dict[str, TriangleMesh] = {}
    complaints: list[Complaint] = []
    for index, item in enumerate(draft.chassis):
        if not isinstance(item.shape, MeshRef):
            continue
        file = source_file.parent / item.shape.path
        try:
            meshes[item.name] = _load(file, item.shape, ports)
        except BrokenMesh as broken:
            where = shown_path(file)
            complaints.append(Complaint(where, None, None, "", broken.message, hint=broken.hint, byte=broken.byte))
        except Refused as refused:
            trouble = Trouble(("chassis", index, "mesh"), refused.message, refused.hint)
            complaints.append(_in_spec(source_file, trouble))
        except _Judged as judged:
            trouble = Trouble(("chassis", index, judged.key), f"{shown_path(file)} {judged.message}", judged.hint)
            complaints.append(_in_spec(source_file, trouble))
    if complaints:
        raise SpecError(complaints)
    return meshes


def _load(file: Path, ref: MeshRef, ports: tuple[Vec, ...]) -> TriangleMesh:
    raw = read_mesh(read_file(file), file.suffix.lower())
    largest = float(np.ptp(raw.vertices[raw.faces].reshape(-1, 3), axis=0).max())
    if largest > 0:
        _check_size(largest, ref)
    mesh = surface(raw.vertices * MILLIMETRES[ref.units], raw.faces)
    if len(mesh.faces) == 0:
        raise BrokenMesh("all triangles from here on are squashed: none has an area", raw.body)
    placed = mesh.vertices @ axes_matrix(ref.placement) + np.array(ref.placement.origin)
    _check_near(placed, ref, ports)
    return TriangleMesh(placed, mesh.faces, mesh.closed)


def _check_size(numbers: float, ref: MeshRef) -> None:
    """`numbers`: the largest dimension as the file has it, whatever its unit."""
    size = numbers * MILLIMETRES[ref.units]
    if ref.extent is not None:
        if not _matches(size, ref.extent):
            units = [unit for unit in ("mm", "cm", "in", "m") if _matches(numbers * MILLIMETRES[unit], ref.extent)]
            hint = f"it would match with units: {units[0]}" if units else "is it the right file?"
            message = f"is {_length(size)} in its largest dimension, but extent says {_length(ref.extent)}"
            raise _Judged("extent", message, hint)
    elif not SMALLEST <= size <= LARGEST_MESH:
        fitting = [
            f"units: {unit} would make it {_length(numbers * MILLIMETRES[unit])}"
            for unit in ("mm", "cm", "in", "m")
            if SMALLEST <= numbers * MILLIMETRES[unit] <= LARGEST_MESH
        ]
        message = (
            f"is {_length(size)} in its largest dimension, too {'small' if size < SMALLEST else 'large'} to be true"
        )
        raise _Judged("units", message, "; ".join(fitting) or "if that is right, say so: add extent")


def _matches(size: float, extent: float) -> bool:
    return abs(size - extent) <= EXTENT_TOLERANCE * extent


def _length(millimetres: float) -> str:
    return f"{millimetres:.4g} mm" if millimetres < 10_000 else f"{millimetres / 1000:.4g} m"


def _check_near(vertices: np.ndarray, ref: MeshRef, ports: tuple[Vec, ...]) -> None:
    nearest = min(float(np.linalg.norm(vertices - np.array(port), axis=1).min()) for port in ports)
    if nearest > FARTHEST:
        hint = "place it with placement: {origin: [x, y, z]}, or check the origin it was exported with"
        raise _Judged("placement", f"lies {_length(nearest)} from the nearest port, and no part of it is nearer", hint)


def _in_spec(source_file: Path, trouble: Trouble) -> Complaint:
    """The trouble with its place in the spec, which is read again for that."""
    try:
        return complaint_at(read_text(read_file(source_file, LARGEST), str(source_file)), trouble)
    except (Refused, SpecError):
        path = path_text(trouble.path)
        return Complaint(str(source_file), None, None, path, trouble.message, hint=trouble.hint)
