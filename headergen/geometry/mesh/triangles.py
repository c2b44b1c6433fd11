"""Triangle meshes as read-only arrays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
Faces = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class TriangleMesh:
    """`vertices` (n, 3) in millimetres, `faces` (m, 3) counter-clockwise from outside; `closed`: encloses a volume."""

    vertices: Points
    faces: Faces
    closed: bool

    def __post_init__(self) -> None:
        self.vertices.setflags(write=False)
        self.faces.setflags(write=False)

    @property
    def triangles(self) -> Points:
        """(m, 3, 3) corner points."""
        return self.vertices[self.faces]


def enclosed_volume(vertices: Points, faces: Faces) -> float:
    """Signed volume of a closed mesh: the sum of the tetrahedra to the origin (divergence theorem)."""
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6.0)
