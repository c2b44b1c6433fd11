"""Makes bogbean_frame.stl, the welded tube frame of the Bogbean, as a drawn envelope: `python make_bogbean_frame.py`.

Invented for the demo. Every member is a closed body of its own that runs into its neighbours, as members do before
they are fish-mouthed. Engine axes, millimetres: x forward, y left, z up, zero at the middle of port 1.
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np

from headergen.geometry.curves.centreline import trace
from headergen.geometry.frames import frame_from_normal, norm, subtract
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.geometry.mesh.tube import outer_skin
from headergen.model import Straight, Vec
from headergen.outputs.stl import write_stl

MIDDLE = -150.0  # y of the plane about which the frame is mirrored
SIDES = 24
KNEE = 8.0  # mm by which members run past each other at a corner

BOTH_SIDES: tuple[tuple[float, list[Vec]], ...] = (
    (38.1, [(360, 150, -430), (160, 218, -440), (-960, 226, -440)]),  # lower rail
    (38.1, [(330, 165, 60), (150, 236, 120), (-560, 244, 150), (-960, 244, 150)]),  # upper rail
    (31.8, [(170, 222, -440), (170, 232, 112)]),  # front upright
    (31.8, [(-585, 222, -440), (-585, 244, 150)]),  # rear upright
    (25.4, [(150, 222, -430), (-570, 243, 140)]),  # diagonal
)
ACROSS: tuple[tuple[float, list[Vec]], ...] = (
    (38.1, [(-720, 218, -440), (-720, -518, -440)]),  # crossmember
    (31.8, [(170, 218, -440), (170, -518, -440)]),  # front crossmember
    (31.8, [(40, 214, -432), (40, -30, -262)]),  # engine mount
    (31.8, [(-585, 244, 150), (-585, -544, 150)]),  # dash bar
)


def mirrored(points: list[Vec]) -> list[Vec]:
    return [(x, 2 * MIDDLE - y, z) for x, y, z in points]


def members() -> list[tuple[float, list[Vec]]]:
    pairs = [(diameter, side) for diameter, points in BOTH_SIDES for side in (points, mirrored(points))]
    return [*pairs, *ACROSS]


def frame_mesh() -> TriangleMesh:
    """Every leg of every member as a closed cylinder, in one mesh."""
    vertices, faces, count = [], [], 0
    for diameter, points in members():
        for a, b in pairwise(points):
            axis = subtract(b, a)
            start = tuple(np.array(a) - KNEE * np.array(axis) / norm(axis))
            line = trace(frame_from_normal(start, axis), [Straight(norm(axis) + 2 * KNEE)])
            mesh = outer_skin(line, diameter / 2, 1.0, SIDES).mesh
            vertices.append(mesh.vertices)
            faces.append(mesh.faces + count)
            count += len(mesh.vertices)
    return TriangleMesh(np.concatenate(vertices), np.concatenate(faces), closed=True)


if __name__ == "__main__":
    write_stl(Path(__file__).with_name("bogbean_frame.stl"), frame_mesh(), "Bogbean frame")
