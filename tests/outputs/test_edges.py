"""Which edges of a mesh are drawn: corners of a body, never the low lips where solids were united."""

from __future__ import annotations

import math

import numpy as np
import pytest

from headergen.geometry.frames import WORLD
from headergen.geometry.mesh.boxes import box_mesh
from headergen.geometry.mesh.triangles import Faces, Points
from headergen.model import Box
from headergen.outputs.picture.edges import sharp_edges

COSINE = math.cos(math.radians(35))


def stair(rise: float) -> tuple[Points, Faces]:
    """Two level treads 20 mm deep with a riser between them, 5 mm wide strips over 40 mm; open all round."""
    profile = np.array([[0.0, 0.0], [20.0, 0.0], [20.0, rise], [40.0, rise]])
    columns = np.arange(0.0, 45.0, 5.0)
    vertices = np.array([[x, y, z] for x in columns for y, z in profile])
    corner = np.arange(len(vertices)).reshape(len(columns), len(profile))
    a, b, c, d = corner[:-1, :-1], corner[1:, :-1], corner[1:, 1:], corner[:-1, 1:]
    faces = np.concatenate([np.stack(each, axis=-1).reshape(-1, 3) for each in ((a, b, c), (a, c, d))])
    return vertices, faces


def test_a_box_has_twelve_edges() -> None:
    mesh = box_mesh(Box(WORLD, (30.0, 20.0, 10.0)))
    found = sharp_edges(mesh.vertices, mesh.faces, COSINE)
    assert len(found) == 12
    lengths = np.linalg.norm(mesh.vertices[found[:, 0]] - mesh.vertices[found[:, 1]], axis=1)
    assert sorted(lengths) == pytest.approx([10.0] * 4 + [20.0] * 4 + [30.0] * 4)


@pytest.mark.parametrize(("rise", "drawn"), [(1.0, 16), (0.5, 16), (0.1, 0), (0.02, 0)])
def test_a_step_is_drawn_and_a_lip_is_not(rise: float, drawn: int) -> None:
    """Eight strips: a line at the foot of the riser and one at its head, where it is a step at all."""
    assert len(sharp_edges(*stair(rise), COSINE)) == drawn


def test_a_smooth_tube_has_no_line_along_it() -> None:
    angles = np.linspace(0, 2 * math.pi, 48, endpoint=False)
    ring = np.stack([20 * np.cos(angles), 20 * np.sin(angles)], axis=1)
    vertices = np.concatenate([np.column_stack([ring, np.full(48, z)]) for z in (0.0, 50.0)])
    k = np.arange(48)
    n = (k + 1) % 48
    faces = np.concatenate([np.stack([k, n, n + 48], axis=1), np.stack([k, n + 48, k + 48], axis=1)])
    assert len(sharp_edges(vertices, faces, COSINE)) == 0


def test_nothing_has_no_edges() -> None:
    assert sharp_edges(np.zeros((0, 3)), np.zeros((0, 3), int), COSINE).shape == (0, 2)
