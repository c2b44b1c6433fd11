"""Boxes as triangles: closed, outward, as large as asked; and what is inside a closed mesh, by solid angles."""

from __future__ import annotations

import random

import numpy as np
import pytest
import trimesh

from headergen.geometry.frames import WORLD, axes_matrix, frame_from_normal
from headergen.geometry.mesh.boxes import box_mesh
from headergen.geometry.mesh.index import build_index
from headergen.geometry.mesh.triangles import TriangleMesh, enclosed_volume
from headergen.geometry.mesh.winding import winding_numbers
from headergen.model import Box

SEEDS = range(12)
CUBE = box_mesh(Box(WORLD, (100.0, 100.0, 100.0)))


def winding_at(triangles: np.ndarray, point: np.ndarray) -> float:
    return float(winding_numbers(build_index(triangles), point[None])[0])


def random_box(seed: int) -> Box:
    chance = random.Random(seed)
    origin, normal, x = (tuple(chance.gauss(0, 1) for _ in range(3)) for _ in range(3))
    return Box(
        frame_from_normal(origin, normal, x), (chance.uniform(1, 300), chance.uniform(1, 300), chance.uniform(1, 300))
    )


@pytest.mark.parametrize("seed", SEEDS)
def test_a_box_is_closed_outward_and_as_large_as_asked(seed: int) -> None:
    """Volume and closedness by another reader; rounding of up to 300³ mm³ is under 1e-6 of it."""
    box = random_box(seed)
    mesh = box_mesh(box)
    assert mesh.closed and mesh.vertices.shape == (8, 3) and mesh.faces.shape == (12, 3)
    read = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    assert read.is_watertight and read.is_winding_consistent
    assert read.volume == pytest.approx(np.prod(box.size), rel=1e-9), "positive: the triangles face outward"
    assert enclosed_volume(mesh.vertices, mesh.faces) == pytest.approx(np.prod(box.size), rel=1e-9)


@pytest.mark.parametrize("seed", SEEDS)
def test_every_triangle_faces_away_from_the_middle(seed: int) -> None:
    box = random_box(seed)
    a, b, c = (box_mesh(box).triangles[:, k] for k in range(3))
    outward = np.einsum("ij,ij->i", np.cross(b - a, c - a), (a + b + c) / 3 - np.array(box.frame.origin))
    assert (outward > 0).all()


@pytest.mark.parametrize("seed", SEEDS)
def test_corners_stand_half_a_size_from_the_middle(seed: int) -> None:
    box = random_box(seed)
    local = (box_mesh(box).vertices - np.array(box.frame.origin)) @ axes_matrix(box.frame).T
    assert np.abs(local) == pytest.approx(np.tile(np.array(box.size) / 2, (8, 1)), abs=1e-9)
    assert len({tuple(corner) for corner in np.sign(local)}) == 8


@pytest.mark.parametrize("seed", SEEDS)
def test_winding_number_tells_inside_from_outside(seed: int) -> None:
    """1 inside and 0 outside, by the box's own inequality; points within 1e-3 mm of the skin are left out."""
    box, rng = random_box(seed), np.random.default_rng(seed)
    mesh, half = box_mesh(box), np.array(box.size) / 2
    local = rng.uniform(-1.6, 1.6, (60, 3)) * half
    for point in local[np.abs(np.abs(local) - half).min(axis=1) > 1e-3]:
        there = point @ axes_matrix(box.frame) + np.array(box.frame.origin)
        inside = bool((np.abs(point) < half).all())
        assert winding_at(mesh.triangles, there) == pytest.approx(float(inside), abs=1e-9)


def test_each_side_of_a_cube_fills_a_sixth_of_what_its_middle_sees() -> None:
    """4π/6 by symmetry: without one side 5/6 are left, without three a half."""
    for sides in (5, 3, 1):
        part = CUBE.triangles[: 2 * sides]
        assert winding_at(part, np.zeros(3)) == pytest.approx(sides / 6, abs=1e-12)


def test_inward_and_nested_surfaces() -> None:
    inward = CUBE.triangles[:, ::-1]
    smaller = CUBE.triangles / 2
    assert winding_at(inward, np.zeros(3)) == pytest.approx(-1, abs=1e-12)
    assert winding_at(np.concatenate([CUBE.triangles, smaller]), np.zeros(3)) == pytest.approx(2, abs=1e-12)
    hollow = np.concatenate([CUBE.triangles, smaller[:, ::-1]])
    assert winding_at(hollow, np.zeros(3)) == pytest.approx(0, abs=1e-12)
    assert winding_at(hollow, np.array([40.0, 0.0, 0.0])) == pytest.approx(1, abs=1e-12)


def test_meshes_are_read_only() -> None:
    mesh = TriangleMesh(CUBE.vertices.copy(), CUBE.faces.copy(), closed=True)
    with pytest.raises(ValueError, match="read-only"):
        mesh.vertices[0, 0] = 1.0
