"""GLB for viewers: glTF 2.0 in metres, +Y up, one steel tone for every part and a duller one for the chassis."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from headergen.geometry.mesh.triangles import Faces, Points, TriangleMesh

# engine axes (x forward, y left, z up) to glTF's (§3.4: +Y up, right-handed, metres): a quarter turn about x
TO_GLTF = 0.001 * np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]])
CREASE = math.radians(50)  # a round wall of eight sides, the fewest, turns by 45° from one to the next
STEEL = {"baseColorFactor": [0.62, 0.63, 0.64, 1.0], "metallicFactor": 0.85, "roughnessFactor": 0.35}
CHASSIS = {
    "baseColorFactor": [0.30, 0.31, 0.32, 0.55],
    "metallicFactor": 0.0,
    "roughnessFactor": 0.9,
    "doubleSided": True,
}


def write_glb(path: Path, parts: Mapping[str, TriangleMesh], chassis: Mapping[str, TriangleMesh] | None = None) -> None:
    """Writes meshes (engine axes, mm) under their names; the chassis, where given, lets what is behind it show.

    A chassis item called like a part is written as "NAME (chassis)".
    """
    import trimesh  # takes most of a second, and commands that write no pictures do without

    scene = trimesh.Scene()
    items = {f"{name} (chassis)" if name in parts else name: mesh for name, mesh in (chassis or {}).items()}
    for meshes, look in ((parts, STEEL), (items, CHASSIS)):
        for name, mesh in meshes.items():
            scene.add_geometry(_shaded(mesh, look), node_name=name, geom_name=name)
    path.write_bytes(scene.export(file_type="glb", include_normals=True))


def _shaded(mesh: TriangleMesh, look: Mapping[str, Any]) -> Any:
    import trimesh

    vertices, faces, normals = creased(mesh.vertices @ TO_GLTF.T, mesh.faces)
    mode = "BLEND" if look["baseColorFactor"][3] < 1.0 else "OPAQUE"
    material = trimesh.visual.material.PBRMaterial(**look, alphaMode=mode)
    visual = trimesh.visual.TextureVisuals(material=material)
    return trimesh.Trimesh(vertices, faces, vertex_normals=normals, visual=visual, process=False)


def creased(vertices: Points, faces: Faces) -> tuple[Points, Faces, Points]:
    """The mesh with its vertices parted at creases, and a unit normal for each: (n, 3), (m, 3), (n, 3).

    Two corners of neighbouring triangles stay one vertex when the edge they share is smooth. Normals are means of the
    triangles around a vertex, weighted by their angles there (Thürmer and Wüthrich 1998), so that the way a facet is
    cut into triangles does not tilt them.
    """
    corners = vertices[faces]
    normals = _unit(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]))
    pairs = _neighbours(faces)
    turn = np.einsum("ij,ij->i", normals[pairs[:, 0, 0] // 3], normals[pairs[:, 0, 1] // 3])
    joined = pairs[turn > math.cos(CREASE)].reshape(-1, 2)
    graph = coo_array((np.ones(len(joined)), (joined[:, 0], joined[:, 1])), shape=(faces.size, faces.size))
    _, labels = connected_components(graph, directed=False)
    _, first = np.unique(labels, return_index=True)
    weighted = np.repeat(normals, 3, axis=0) * _corner_angles(corners).reshape(-1, 1)
    sums: Points = np.column_stack([np.bincount(labels, weighted[:, axis]) for axis in range(3)])
    return vertices[faces.ravel()[first]], labels.reshape(-1, 3).astype(np.int64), _unit(sums)


def _neighbours(faces: Faces) -> NDArray[np.int64]:
    """(edges, 2, 2): at either end of each shared edge, the corners of its two triangles; corner 3·face + place."""
    tails = np.arange(faces.size).reshape(-1, 3)
    ends = np.stack([tails, np.roll(tails, -1, axis=1)], axis=-1).reshape(-1, 2)
    ends = np.take_along_axis(ends, np.argsort(faces.ravel()[ends], axis=1), axis=1)
    at = faces.ravel()[ends]
    order = np.lexsort((at[:, 1], at[:, 0]))
    ends, at = ends[order], at[order]
    shared = (at[1:] == at[:-1]).all(axis=1)
    return np.stack([ends[:-1][shared], ends[1:][shared]], axis=-1)


def _corner_angles(corners: Points) -> Points:
    """(m, 3) angles of triangles; 0 at a corner without two sides."""
    sides = _unit((np.roll(corners, -1, axis=1) - corners).reshape(-1, 3)).reshape(-1, 3, 3)
    cosines = -np.einsum("ijk,ijk->ij", sides, np.roll(sides, 1, axis=1))
    angles: Points = np.arccos(np.clip(cosines, -1.0, 1.0))
    return angles


def _unit(vectors: Points) -> Points:
    """(n, 3) directions; zero where there is none."""
    lengths = np.linalg.norm(vectors, axis=1, keepdims=True)
    directions: Points = np.divide(vectors, lengths, out=np.zeros_like(vectors), where=lengths > 0)
    return directions
