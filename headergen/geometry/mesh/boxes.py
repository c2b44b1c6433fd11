"""Boxes and plates as triangles, so that they are measured exactly as a mesh is."""

from __future__ import annotations

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.frames import axes_matrix
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.model import Box, OtherPlate

CORNERS = np.array([[x, y, z] for x in (-0.5, 0.5) for y in (-0.5, 0.5) for z in (-0.5, 0.5)])
NO_AREA = 1e-9  # mm²
SIDES = ((0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3))  # from outside


def box_mesh(box: Box) -> TriangleMesh:
    """The twelve outward triangles of a box."""
    corners: Array = CORNERS * np.array(box.size) @ axes_matrix(box.frame) + np.array(box.frame.origin)
    faces = [triangle for a, b, c, d in SIDES for triangle in ((a, b, c), (a, c, d))]
    return TriangleMesh(corners, np.array(faces, dtype=np.int64), closed=True)


def plate_mesh(plate: OtherPlate) -> TriangleMesh:
    """The outward triangles of a plate of n corners: 2·(n − 2) on its faces, and 2·n round its edge and its taper.

    Those without area are left out: rulings of a transition begin in one corner, or along one edge.
    """
    count, levels = len(plate.corners), [(plate.corners, 0.0), (plate.corners, plate.thickness)]
    levels += [(plate.onto, plate.thickness + plate.taper)] if plate.onto else []
    local = np.concatenate([np.column_stack([np.array(ring), np.full(count, height)]) for ring, height in levels])
    at, after = np.arange(count), np.roll(np.arange(count), -1)
    fan = np.column_stack([np.zeros(count - 2, dtype=np.int64), at[1:-1], at[2:]])
    edge = np.concatenate(
        [np.column_stack([at, after, after + count]), np.column_stack([at, after + count, at + count])]
    )
    round_it = [edge + k * count for k in range(len(levels) - 1)]
    faces = np.concatenate([fan[:, ::-1], fan + (len(levels) - 1) * count, *round_it]).astype(np.int64)
    corners: Array = local @ axes_matrix(plate.frame) + np.array(plate.frame.origin)
    one, two, three = (corners[faces[:, k]] for k in range(3))
    twice = np.linalg.norm(np.cross(two - one, three - one), axis=1)
    return TriangleMesh(corners, faces[twice > NO_AREA], closed=True)
