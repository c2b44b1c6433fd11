"""Triangle meshes of kernel solids, welded and proved closed before they are used."""

from __future__ import annotations

from typing import Any

import numpy as np
from OCP.BRep import BRep_Tool
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.TopAbs import TopAbs_FACE, TopAbs_REVERSED
from OCP.TopExp import TopExp_Explorer
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS

from headergen.geometry.mesh.triangles import Faces, Points, TriangleMesh, enclosed_volume
from headergen.solids.inspect import SolidError

WELD = 1e-4  # mm; vertices of neighbouring faces coincide except for rounding
ANGLE = 0.35  # radians between neighbouring facets
FINER = (1.0, 0.5, 0.25)  # shares of the chordal deviation, tried until the mesh is closed
SHARE = 0.4  # of the chordal deviation given to the kernel, whose true deviation is up to twice that


def solid_mesh(solid: Any, chord_error: float, name: str) -> TriangleMesh:
    """The skin of a kernel solid as one closed mesh, off by at most about `chord_error` mm.

    Vertices are welded at 1e-4 mm; then every edge must be shared by two triangles that use it in opposite directions.
    Raises SolidError, naming the part, if no mesh passes: a leaking mesh is never returned.
    """
    for share in FINER:
        mesh = _welded(*_triangulation(solid, SHARE * share * chord_error))
        if is_watertight(mesh.faces) and enclosed_volume(mesh.vertices, mesh.faces) > 0:
            return mesh
    raise SolidError(f"{name}: the solid is sound, but its mesh is not closed")


def is_watertight(faces: Faces) -> bool:
    """Whether each edge is used once in each direction."""
    if not len(faces):
        return False
    edges = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    forth = edges[np.lexsort(edges.T)]
    back = edges[:, ::-1][np.lexsort(edges[:, ::-1].T)]
    doubled = (forth[1:] == forth[:-1]).all(axis=1).any()
    return bool((forth == back).all() and not doubled)


def _triangulation(solid: Any, deflection: float) -> tuple[Points, Faces]:
    mesher = BRepMesh_IncrementalMesh()
    mesher.SetShape(solid)
    settings = mesher.ChangeParameters()
    settings.Deflection, settings.Angle, settings.Relative, settings.InParallel = deflection, ANGLE, False, False
    mesher.Perform()
    vertices: list[Points] = []
    faces: list[Faces] = []
    count = 0
    explorer = TopExp_Explorer(solid, TopAbs_FACE)
    while explorer.More():
        face, place = TopoDS.Face_s(explorer.Current()), TopLoc_Location()
        triangulation = BRep_Tool.Triangulation_s(face, place)
        if triangulation is not None:
            node, corner, move = triangulation.Node, triangulation.Triangle, place.Transformation()
            places = [node(k) for k in range(1, triangulation.NbNodes() + 1)]
            if not place.IsIdentity():
                places = [each.Transformed(move) for each in places]
            turn = -1 if face.Orientation() == TopAbs_REVERSED else 1
            vertices.append(np.array([each.Coord() for each in places]))
            corners = [corner(k).Get() for k in range(1, triangulation.NbTriangles() + 1)]
            faces.append(np.array(corners, np.int64)[:, ::turn] - 1 + count)
            count += len(vertices[-1])
        explorer.Next()
    return np.concatenate(vertices), np.concatenate(faces)


def _welded(vertices: Points, faces: Faces) -> TriangleMesh:
    """Vertices within WELD of each other are merged into the first; triangles that lose a corner are dropped."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    pairs = cKDTree(vertices).query_pairs(WELD, output_type="ndarray")
    graph = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(len(vertices), len(vertices)))
    _, labels = connected_components(graph, directed=False)
    _, first, ours = np.unique(labels, return_index=True, return_inverse=True)
    joined = ours[faces]
    whole = (joined != np.roll(joined, 1, axis=1)).all(axis=1)
    return TriangleMesh(vertices[first], joined[whole].astype(np.int64), closed=True)
