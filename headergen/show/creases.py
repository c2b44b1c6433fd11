"""Vertices split at creases, with a normal for each: the shading of meshes in GLB files and on pages."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.mesh.triangles import Faces, Points

CREASE = math.radians(50)  # the roundest wall, with eight sides, turns by 45° from one to the next


def creased(vertices: Points, faces: Faces) -> tuple[Points, Faces, Points]:
    """The mesh with its vertices split at creases, and a unit normal for each: (n, 3), (m, 3), (n, 3).

    Two corners of neighbouring triangles stay one vertex if their common edge is smooth. Normals are means of the
    triangles around a vertex, weighted by their angles there (Thürmer and Wüthrich 1998), so that the triangulation of
    a facet does not tilt them.
    """
    from scipy.sparse import coo_array  # the renderer loads this module and has no use for scipy
    from scipy.sparse.csgraph import connected_components

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
    """(edges, 2, 2): at either end of each shared edge, the corners of its two triangles; corner = 3·face + place."""
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
    """(n, 3) unit vectors; zero for a vector without length."""
    lengths = np.linalg.norm(vectors, axis=1, keepdims=True)
    directions: Points = np.divide(vectors, lengths, out=np.zeros_like(vectors), where=lengths > 0)
    return directions
