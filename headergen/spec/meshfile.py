"""Mesh files of every format that is read, as plain vertices and faces."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import numpy as np

from headergen.geometry.mesh import Faces, Points
from headergen.model import MeshUnits
from headergen.spec.rawmesh import BrokenMesh, RawMesh, finite_only
from headergen.spec.stl import read_stl

UNITS: dict[str, MeshUnits] = {"millimeter": "mm", "centimeter": "cm", "meter": "m", "inch": "in"}  # of 3MF


def read_mesh(content: bytes, suffix: str) -> RawMesh:
    """Vertices and faces of a mesh file by its suffix, `.stl` and so on. Raises BrokenMesh.

    STL is read here, byte by byte; other formats by trimesh, which does not say where it failed: byte 0.
    """
    if suffix == ".stl":
        return read_stl(content)
    name = suffix.lstrip(".").upper()
    if not content:
        raise BrokenMesh("the file is empty", 0)
    try:
        loaded = _loaded(content, suffix)
        pieces, clouds, units = _pieces(loaded), _clouds(loaded), _units(loaded, suffix)
    except Exception:  # whatever a parser of somebody else's raises on broken input
        raise BrokenMesh(f"the file cannot be read as {name}", 0, "export it again, as STL if need be") from None
    if not pieces:
        if not clouds:
            raise BrokenMesh("the file holds no triangle and no point, only lines or nothing", 0)
        points = as_stored(np.vstack(clouds))
        faces = np.repeat(np.arange(len(points)), 3).reshape(-1, 3)
        return finite_only(RawMesh(points, faces, points_only=True, units=units), lambda k: 0)
    offsets = np.cumsum([0] + [len(vertices) for vertices, _ in pieces[:-1]])
    vertices = np.vstack([vertices for vertices, _ in pieces])
    faces = np.vstack([faces + offset for (_, faces), offset in zip(pieces, offsets, strict=True)])
    _check_indices(vertices, faces)
    return finite_only(RawMesh(as_stored(vertices), faces, units=units), lambda k: 0)


def as_stored(points: Points) -> Any:
    """Points in single precision where that loses nothing: most files have no more."""
    short = points.astype(np.float32)
    return short if np.array_equal(short, points, equal_nan=True) else points


def _check_indices(vertices: Points, faces: Faces) -> None:
    if faces.min() < 0 or faces.max() >= len(vertices):
        raise BrokenMesh(f"a triangle names a corner that is not among the {len(vertices)} of the file", 0)


def _loaded(content: bytes, suffix: str) -> list[tuple[Any, Any]]:
    """The geometries of a file, each with the transform that its scene puts it in place with."""
    import trimesh  # half a second, which a spec without such meshes need not pay

    loaded: Any = trimesh.load(BytesIO(content), file_type=suffix.lstrip("."), process=False)
    if not isinstance(loaded, trimesh.Scene):
        return [(np.eye(4), loaded)]
    nodes = [loaded.graph[node] for node in sorted(loaded.graph.nodes_geometry)]
    return [(transform, loaded.geometry[name]) for transform, name in nodes]


def _pieces(loaded: list[tuple[Any, Any]]) -> list[tuple[Points, Faces]]:
    return [
        (_moved(each.vertices, transform), np.asarray(each.faces, np.int64).reshape(-1, 3))
        for transform, each in loaded
        if len(getattr(each, "faces", ()))
    ]


def _clouds(loaded: list[tuple[Any, Any]]) -> list[Points]:
    return [_moved(each.vertices, transform) for transform, each in loaded if type(each).__name__ == "PointCloud"]


def _moved(points: Any, transform: Any) -> Points:
    moved: Points = np.asarray(points, float).reshape(len(points), 3)
    if not np.array_equal(transform, np.eye(4)):
        moved = moved @ transform[:3, :3].T + transform[:3, 3]
    return moved


def _units(loaded: list[tuple[Any, Any]], suffix: str) -> MeshUnits | None:
    """What the format itself says: metres in glTF, one of several in 3MF."""
    if suffix == ".glb":
        return "m"
    said = {getattr(each, "units", None) for _, each in loaded}
    return UNITS.get(str(said.pop())) if len(said) == 1 else None
