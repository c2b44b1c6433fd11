"""Boxes and frusta: signed distances from first principles, and least gaps against dense sampling."""

from __future__ import annotations

import math

import numpy as np
import pytest

from headergen.geometry.body import cylinder_body
from headergen.geometry.boxes import box_mesh
from headergen.geometry.convex import (
    Frustum,
    box_distance,
    frustum_above_plane,
    frustum_distance,
    least_along_body,
    least_over_triangles,
    nearest_point,
)
from headergen.geometry.frames import WORLD, frame_from_normal, point_in
from headergen.geometry.mesh import enclosed_volume
from headergen.geometry.triangles import winding_number
from headergen.model import Box, Cylinder, Plane

CONE = Frustum(WORLD, 50.0, 30.0, 100.0)


@pytest.mark.parametrize(
    ("point", "wanted"),
    [
        ((0, 0, -7), 7.0),  # below the wide end
        ((0, 0, 111), 11.0),  # above the narrow end
        ((53, 0, -4), 5.0),  # off the wide rim: 3, 4, 5
        ((0, 42, 112), math.hypot(12, 12)),  # off the narrow rim
        ((60, 0, 50), 20 * math.cos(math.atan(0.2))),  # square to the slanted side, whose radius there is 40
        ((0, 0, 3), -3.0),  # inside, nearest to the wide end
        ((38, 0, 50), -2 * math.cos(math.atan(0.2))),  # inside, nearest to the side
    ],
)
def test_distance_from_a_frustum(point: tuple[float, float, float], wanted: float) -> None:
    assert frustum_distance(CONE)(np.array([point], dtype=float))[0] == pytest.approx(wanted, abs=1e-12)


@pytest.mark.parametrize(
    ("point", "wanted"),
    [((0, 0, 25), 5.0), ((53, 34, 0), 5.0), ((50, 30, 20), 0.0), ((0, 0, 18), -2.0), ((0, 0, 0), -20.0)],
)
def test_distance_from_a_box(point: tuple[float, float, float], wanted: float) -> None:
    box = Box(WORLD, (100.0, 60.0, 40.0))
    assert box_distance(box)(np.array([point], dtype=float))[0] == pytest.approx(wanted, abs=1e-12)


def sampled_points(triangles: np.ndarray, count: int) -> np.ndarray:
    i, j = np.meshgrid(np.linspace(0, 1, count), np.linspace(0, 1, count))
    keep = i + j <= 1 + 1e-12
    weights = np.stack([1 - i[keep] - j[keep], i[keep], j[keep]], axis=1)
    return np.einsum("kp,npx->nkx", weights, triangles).reshape(-1, 3)


def test_triangles_against_dense_sampling() -> None:
    """150 seeded cases; 60 samples an edge of at most 300 mm bound what sampling can miss: 5 mm, and by its square
    near a minimum. Never above the sampled value; the point found has the distance stated."""
    for seed in range(150):
        rng = np.random.default_rng(seed)
        frame = frame_from_normal(tuple(rng.uniform(-50, 50, 3)), tuple(rng.normal(size=3)))
        if seed % 2:
            distance = frustum_distance(Frustum(frame, *rng.uniform(5, 60, 2), rng.uniform(20, 150)))
        else:
            distance = box_distance(Box(frame, tuple(rng.uniform(10, 200, 3))))
        triangles = rng.uniform(-150, 150, (1, 1, 3)) + rng.choice([10.0, 60.0]) * rng.normal(size=(12, 3, 3))
        value, point = least_over_triangles(distance, triangles)
        sampled = float(distance(sampled_points(triangles, 60)).min())
        assert sampled - 5.0 <= value <= sampled + 1e-6, seed
        assert distance(point[None])[0] == pytest.approx(value, abs=1e-9), seed
        if value > 1.0:
            skin = nearest_point(distance, point, value)
            assert np.linalg.norm(skin - point) == pytest.approx(value, abs=1e-9)
            assert distance(skin[None])[0] == pytest.approx(0.0, abs=1e-4), seed


def test_bodies_against_dense_sampling() -> None:
    """A cylinder on a grid of 1° by 1 mm by 21 radii of its ends: chords bound what that misses to 0.1 mm."""
    turns = np.radians(np.arange(360))[:, None]
    for seed in range(60):
        rng = np.random.default_rng(seed)
        frame = frame_from_normal(tuple(rng.uniform(-50, 50, 3)), tuple(rng.normal(size=3)))
        distance = frustum_distance(Frustum(frame, *rng.uniform(5, 60, 2), rng.uniform(20, 150)))
        start, end = rng.uniform(-200, 200, (2, 3))
        value, point = least_along_body(distance, cylinder_body(Cylinder(tuple(start), tuple(end), 40.0)))
        across = frame_from_normal((0.0, 0.0, 0.0), tuple(end - start))
        ring = 20 * (np.cos(turns) * np.array(across.x) + np.sin(turns) * np.array(across.y))
        length = float(np.linalg.norm(end - start))
        middles = start + np.linspace(0, 1, int(length) + 2)[:, None] * (end - start)
        side = (middles[:, None] + ring[None]).reshape(-1, 3)
        discs = [centre + share * ring for centre in (start, end) for share in np.linspace(0, 1, 21)]
        sampled = float(distance(np.concatenate([side, *discs])).min())
        if sampled > 0:
            assert sampled - 0.1 <= value <= sampled + 1e-4, seed
            assert distance(point[None])[0] == pytest.approx(value, abs=1e-6), seed


def test_frustum_above_planes() -> None:
    """The lowest of its two rims; sampled at every half degree, which a chord bounds to 0.001 mm here."""
    turns = np.linspace(0, 2 * math.pi, 721)
    for seed in range(30):
        rng = np.random.default_rng(seed)
        normal = rng.normal(size=3)
        normal /= np.linalg.norm(normal)
        plane = Plane(tuple(rng.uniform(-90, 90, 3)), tuple(normal))
        rims = [(r * math.cos(t), r * math.sin(t), z) for r, z in ((50.0, 0.0), (30.0, 100.0)) for t in turns]
        sampled = float(((np.array(rims) - np.array(plane.origin)) @ normal).min())
        assert sampled - 1e-3 <= frustum_above_plane(CONE, plane)[0] <= sampled + 1e-9


def test_box_as_triangles() -> None:
    box = Box(frame_from_normal((3.0, -4.0, 5.0), (1.0, 2.0, 2.0)), (30.0, 40.0, 50.0))
    mesh = box_mesh(box)
    assert enclosed_volume(mesh.vertices, mesh.faces) == pytest.approx(30 * 40 * 50)
    inside, outside = point_in(box.frame, (14.9, -19.9, 24.9)), point_in(box.frame, (15.1, 0.0, 0.0))
    assert winding_number(mesh.triangles, np.array(inside)) == pytest.approx(1, abs=1e-9)
    assert winding_number(mesh.triangles, np.array(outside)) == pytest.approx(0, abs=1e-9)
