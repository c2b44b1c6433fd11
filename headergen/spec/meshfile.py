"""Mesh files of every format that is read, as plain vertices and faces."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import numpy as np

from headergen.geometry.mesh import Faces, Points
from headergen.spec.stl import BrokenMesh, RawMesh, read_stl


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
        pieces = _pieces(content, suffix)
    except Exception:  # whatever a parser of somebody else's raises on broken input
        raise BrokenMesh(f"the file cannot be read as {name}", 0, "export it again, as STL if need be") from None
    if not pieces:
        raise BrokenMesh("the file holds no triangle, only points, lines or nothing", 0)
    offsets = np.cumsum([0] + [len(vertices) for vertices, _ in pieces[:-1]])
    vertices = np.vstack([vertices for vertices, _ in pieces])
    faces = np.vstack([faces + offset for (_, faces), offset in zip(pieces, offsets, strict=True)])
    _check_indices(vertices, faces)
    return RawMesh(vertices, faces, 0)


def _check_indices(vertices: Points, faces: Faces) -> None:
    if faces.min() < 0 or faces.max() >= len(vertices):
        raise BrokenMesh(f"a triangle names a corner that is not among the {len(vertices)} of the file", 0)
    if not np.isfinite(vertices[faces]).all():
        raise BrokenMesh("a corner of a triangle is not a number", 0, "export the mesh again")


def _pieces(content: bytes, suffix: str) -> list[tuple[Points, Faces]]:
    """The triangle meshes of a file, each moved to where its scene puts it."""
    import trimesh  # half a second, which a spec without such meshes need not pay

    loaded: Any = trimesh.load(BytesIO(content), file_type=suffix.lstrip("."), process=False)
    if not isinstance(loaded, trimesh.Scene):
        placed = [(np.eye(4), loaded)]
    else:
        nodes = [loaded.graph[node] for node in sorted(loaded.graph.nodes_geometry)]
        placed = [(transform, loaded.geometry[name]) for transform, name in nodes]
    meshes = [(transform, mesh) for transform, mesh in placed if isinstance(mesh, trimesh.Trimesh) and len(mesh.faces)]
    return [
        (np.asarray(mesh.vertices, float) @ transform[:3, :3].T + transform[:3, 3], np.asarray(mesh.faces, np.int64))
        for transform, mesh in meshes
    ]
