"""Boxes and frusta: signed distances from first principles, their slopes and farthest points."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from headergen.geometry.distance.convex import Convex, Frustum, frustum_solid, moved
from headergen.geometry.frames import WORLD, axes_matrix, frame_from_normal, point_in
from headergen.geometry.mesh.boxes import box_mesh
from headergen.geometry.mesh.index import build_index
from headergen.geometry.mesh.triangles import enclosed_volume
from headergen.geometry.mesh.winding import winding_numbers
from headergen.model import Box, Frame
from tests.geometry.box_solid import box_solid

CONE = Frustum(WORLD, 50.0, 30.0, 100.0)


def winding_at(triangles: np.ndarray, point: np.ndarray) -> float:
    return float(winding_numbers(build_index(triangles), point[None])[0])


def random_frame(rng: np.random.Generator) -> Frame:
    return frame_from_normal(tuple(rng.uniform(-50, 50, 3)), tuple(rng.normal(size=3)), tuple(rng.normal(size=3)))


def random_shape(rng: np.random.Generator, seed: int) -> Box | Frustum:
    """Boxes, frusta that narrow or widen, cylinders, and cones that end in a point."""
    if seed % 4 == 0:
        return Box(random_frame(rng), tuple(rng.uniform(10, 200, 3)))
    start, end = rng.uniform(5, 60, 2)
    return Frustum(random_frame(rng), start, (end, start, 0.0)[seed % 4 - 1], rng.uniform(20, 150))


def solid_of(shape: Box | Frustum) -> Convex:
    return box_solid(shape) if isinstance(shape, Box) else frustum_solid(shape)


def plain_distance(shape: Box | Frustum, points: np.ndarray) -> np.ndarray:
    """Outside by the nearest place of the solid, inside by the nearest face; each from its definition."""
    local = (points - np.array(shape.frame.origin)) @ axes_matrix(shape.frame).T
    if isinstance(shape, Box):
        half = np.array(shape.size) / 2
        out = np.linalg.norm(local - np.clip(local, -half, half), axis=1)
        return np.where(out > 0, out, -(half - np.abs(local)).min(axis=1))
    r, z = np.hypot(local[:, 0], local[:, 1]), local[:, 2]
    radius = shape.start + (shape.end - shape.start) * z / shape.length
    inside = (z >= 0) & (z <= shape.length) & (r <= radius)
    corners = [(0.0, 0.0), (shape.start, 0.0), (shape.end, shape.length), (0.0, shape.length)]
    best = np.full(len(points), np.inf)
    for (ax, az), (bx, bz) in pairwise(corners):
        t = ((r - ax) * (bx - ax) + (z - az) * (bz - az)) / max((bx - ax) ** 2 + (bz - az) ** 2, 1e-300)
        t = np.clip(t, 0, 1)
        best = np.minimum(best, np.hypot(r - ax - t * (bx - ax), z - az - t * (bz - az)))
    return np.where(inside, -best, best)


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
    assert frustum_solid(CONE).skin(np.array([point], dtype=float))[0][0] == pytest.approx(wanted, abs=1e-12)


@pytest.mark.parametrize(
    ("point", "wanted"),
    [((0, 0, 25), 5.0), ((53, 34, 0), 5.0), ((50, 30, 20), 0.0), ((0, 0, 18), -2.0), ((0, 0, 0), -20.0)],
)
def test_distance_from_a_box(point: tuple[float, float, float], wanted: float) -> None:
    box = Box(WORLD, (100.0, 60.0, 40.0))
    assert box_solid(box).skin(np.array([point], dtype=float))[0][0] == pytest.approx(wanted, abs=1e-12)


@pytest.mark.parametrize("seed", range(40))
def test_distance_and_slope_everywhere(seed: int) -> None:
    """The slope is a unit vector along which a step back of the distance ends on the skin; and since the distance is
    convex, the slope at one place bounds it at every other."""
    rng = np.random.default_rng(seed)
    shape = random_shape(rng, seed)
    solid = solid_of(shape)
    points = solid.middle + rng.normal(size=(400, 3)) * rng.choice([20.0, 80.0, 200.0], (400, 1))
    value, slope = solid.skin(points)
    assert value == pytest.approx(plain_distance(shape, points), abs=1e-9)
    assert np.linalg.norm(slope, axis=1) == pytest.approx(1.0, abs=1e-9)
    assert plain_distance(shape, points - value[:, None] * slope) == pytest.approx(0.0, abs=1e-9)
    bound = value[:, None] + np.einsum("ij,ikj->ik", slope, points[None] - points[:, None])
    assert (bound <= value[None] + 1e-9).all()


def test_slope_where_it_is_not_one() -> None:
    """On the axis, in the middle, on the skin and on a rim: still a unit vector that bounds from below."""
    for solid in (box_solid(Box(WORLD, (40.0, 40.0, 40.0))), frustum_solid(CONE)):
        places = np.array([[0.0, 0, 0], [0, 0, 20], [0, 0, 50], [20, 20, 20], [50, 0, 0], [30, 0, 100], [0, 50, 0]])
        value, slope = solid.skin(places)
        others = np.random.default_rng(1).normal(size=(500, 3)) * 60
        bound = value[:, None] + np.einsum("ij,ikj->ik", slope, others[None] - places[:, None])
        assert np.linalg.norm(slope, axis=1) == pytest.approx(1.0, abs=1e-12)
        assert (bound <= solid.skin(others)[0][None] + 1e-8).all()


@pytest.mark.parametrize("seed", range(20))
def test_farthest_points_are_in_the_solid_and_nothing_is_beyond(seed: int) -> None:
    rng = np.random.default_rng(seed)
    shape = random_shape(rng, seed)
    solid = solid_of(shape)
    directions = rng.normal(size=(50, 3))
    farthest = solid.farthest(directions)
    assert plain_distance(shape, farthest) == pytest.approx(0.0, abs=1e-9)
    cloud = solid.middle + rng.uniform(-1, 1, (20000, 3)) * solid.reach
    held = cloud[plain_distance(shape, cloud) <= 0]
    assert len(held) > 100
    ahead = np.einsum("ij,ij->i", farthest, directions)
    assert (held @ directions.T <= ahead[None] + 1e-9).all()
    assert (np.linalg.norm(held - solid.middle, axis=1) <= solid.reach).all(), "the ball holds all of it"


def test_a_moved_solid_is_the_same_elsewhere() -> None:
    shift = (3.0, -40.0, 7.0)
    there = frustum_solid(replace(CONE, frame=replace(WORLD, origin=shift)))
    points = np.random.default_rng(0).uniform(-100, 100, (50, 3))
    brought = moved(frustum_solid(CONE), shift)
    for one, other in zip(brought.skin(points), there.skin(points), strict=True):
        assert one == pytest.approx(other, abs=1e-12)
    assert brought.farthest(points) == pytest.approx(there.farthest(points), abs=1e-12)
    assert brought.middle == pytest.approx(there.middle)


def test_a_frustum_needs_a_length() -> None:
    with pytest.raises(ValueError, match="length"):
        frustum_solid(replace(CONE, length=0.0))


def test_box_as_triangles() -> None:
    box = Box(frame_from_normal((3.0, -4.0, 5.0), (1.0, 2.0, 2.0)), (30.0, 40.0, 50.0))
    mesh = box_mesh(box)
    assert enclosed_volume(mesh.vertices, mesh.faces) == pytest.approx(30 * 40 * 50)
    inside, outside = point_in(box.frame, (14.9, -19.9, 24.9)), point_in(box.frame, (15.1, 0.0, 0.0))
    assert winding_at(mesh.triangles, np.array(inside)) == pytest.approx(1, abs=1e-9)
    assert winding_at(mesh.triangles, np.array(outside)) == pytest.approx(0, abs=1e-9)
