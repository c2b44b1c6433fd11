"""Meshes for a page: thinned if larger than a page needs, and packed into text.

A packed mesh has points with 16 bits over the longest side of its box, normals with 8 bits, and faces with 16 or 32.
"""

from __future__ import annotations

import base64
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.mesh.triangles import Faces, Points, TriangleMesh
from headergen.model import Vec
from headergen.show.creases import creased

PLACES = 65535  # steps along the longest side of a box


@dataclass(frozen=True, eq=False)
class ShownMesh:
    """A mesh with its name in a page's list; `group` is "header" or "chassis"."""

    name: str
    group: str
    mesh: TriangleMesh

    @cached_property
    def packed(self) -> dict[str, Any]:
        """Plain data for a page, computed once for all pages: name, group, the corner of its box and its longest side.

        In base64, each padded to four bytes: points (n × 3 of 16 bits), normals (n × 3 of 8) and faces (m × 3).
        """
        surface = creased(np.asarray(self.mesh.vertices, float), self.mesh.faces)
        return packed_surface(self.name, self.group, surface)


def thinned(mesh: TriangleMesh, most: int) -> TriangleMesh:
    """The mesh with at most `most` triangles: the vertices in one cell of a grid become their mean.

    Vertex clustering (Rossignac and Borrel 1993): it takes any set of triangles, in linear time. A mesh that is small
    enough is returned unchanged. The result is for display; nothing is measured on it.
    """
    if len(mesh.faces) <= most:
        return mesh
    size = float(np.ptp(mesh.vertices, axis=0).max())
    cells = int(np.sqrt(most))  # the faces of a box of n × n cells have about n² triangles
    while True:
        smaller = _clustered(mesh, size / cells)
        if len(smaller.faces) <= most:
            return smaller
        cells = min(cells - 1, int(cells * np.sqrt(most / len(smaller.faces))))


def _clustered(mesh: TriangleMesh, cell: float) -> TriangleMesh:
    keys = np.floor((mesh.vertices - mesh.vertices.min(axis=0)) / cell).astype(np.int64)
    wide = keys.max(axis=0) + 1
    _, label, count = np.unique(
        (keys[:, 0] * wide[1] + keys[:, 1]) * wide[2] + keys[:, 2], return_inverse=True, return_counts=True
    )
    means = np.column_stack([np.bincount(label, mesh.vertices[:, k]) / count for k in range(3)])
    faces = label.reshape(-1)[mesh.faces]
    faces = faces[(faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])]
    if len(faces):
        _, first = np.unique(np.sort(faces, axis=1), axis=0, return_index=True)
        faces = faces[np.sort(first)]
    return TriangleMesh(means, faces, closed=False)


def packed_surface(name: str, group: str, surface: tuple[Points, Faces, Points]) -> dict[str, Any]:
    """The data of `ShownMesh.packed` for given vertices, faces and normals."""
    vertices, faces, normals = surface
    at = vertices.min(axis=0)
    span = float(np.ptp(vertices, axis=0).max()) or 1.0
    places = np.rint((vertices - at) / span * PLACES).astype("<u2")
    turned = np.rint(normals * 127).astype("i1")
    corners = faces.astype("<u2" if len(vertices) <= PLACES else "<u4")
    return {
        "name": name,
        "group": group,
        "at": [round(float(value), 4) for value in at],
        "span": round(span, 4),
        "vertices": len(vertices),
        "faces": len(faces),
        "data": base64.b64encode(b"".join(_padded((places, turned, corners)))).decode("ascii"),
    }


def _padded(arrays: tuple[NDArray[Any], ...]) -> Iterator[bytes]:
    for array in arrays:
        content = array.tobytes()
        yield content + b"\0" * (-len(content) % 4)


def size_of(shown: tuple[ShownMesh, ...]) -> Vec | None:
    """The extent of the header along x, y and z, mm; None if there is nothing of it."""
    points = [each.mesh.vertices for each in shown if each.group == "header"]
    if not points:
        return None
    x, y, z = np.ptp(np.concatenate(points), axis=0).tolist()
    return x, y, z
