"""Boxes as triangles, so that a box is measured exactly as a mesh is."""

from __future__ import annotations

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.frames import axes_matrix
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.model import Box

CORNERS = np.array([[x, y, z] for x in (-0.5, 0.5) for y in (-0.5, 0.5) for z in (-0.5, 0.5)])
SIDES = ((0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3))  # from outside


def box_mesh(box: Box) -> TriangleMesh:
    """The twelve outward triangles of a box."""
    corners: Array = CORNERS * np.array(box.size) @ axes_matrix(box.frame) + np.array(box.frame.origin)
    faces = [triangle for a, b, c, d in SIDES for triangle in ((a, b, c), (a, c, d))]
    return TriangleMesh(corners, np.array(faces, dtype=np.int64), closed=True)
