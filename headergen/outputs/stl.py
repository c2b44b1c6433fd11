"""Binary STL: it has triangles only, so the unit is in the header text."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.mesh.triangles import Points, TriangleMesh, enclosed_volume

HEADER_BYTES = 80
_FACET = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attributes", "<u2")])


def write_stl(path: Path, mesh: TriangleMesh, name: str, chord_error: float | None = None) -> float:
    """Writes `mesh` in 32-bit millimetres; its header states the unit and, if given, the chordal deviation.

    Returns the volume in mm³ that the vertices enclose as written.

    Triangles with two corners made equal by rounding are left out: their neighbours then share the edge, and a closed
    mesh stays closed. Raises ValueError if a vertex is not a finite 32-bit number.
    """
    with np.errstate(over="ignore"):
        corners = mesh.triangles.astype("<f4")
    if not np.isfinite(corners).all():
        raise ValueError(f"{name}: the mesh has a vertex that is not a number")
    corners = corners[_distinct(corners)]
    facets = np.zeros(len(corners), _FACET)
    facets["normal"] = _normals(corners.astype(np.float64))
    facets["corners"] = corners
    count = np.array(len(facets), "<u4")
    path.write_bytes(_header(name, chord_error) + count.tobytes() + facets.tobytes())
    return enclosed_volume(mesh.vertices.astype("<f4").astype(np.float64), mesh.faces)


def _header(name: str, chord_error: float | None) -> bytes:
    """The header never begins with "solid", which marks text STL for readers; a long name is truncated."""
    error = "" if chord_error is None else f", chordal deviation {chord_error:g} mm"
    text = f"headergen, unit mm{error}: {name}"
    return text.encode("ascii", "replace")[:HEADER_BYTES].ljust(HEADER_BYTES)


def _distinct(corners: NDArray[np.float32]) -> NDArray[np.bool_]:
    """(n,) whether a triangle's three corners differ."""
    same: NDArray[np.bool_] = (corners == np.roll(corners, 1, axis=1)).all(axis=2).any(axis=1)
    return ~same


def _normals(corners: Points) -> Points:
    """(n, 3) unit normals; zero, as the format allows, for a triangle without area."""
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    lengths = np.linalg.norm(normals, axis=1, keepdims=True)
    directions: Points = np.divide(normals, lengths, out=np.zeros_like(normals), where=lengths > 0)
    return directions
