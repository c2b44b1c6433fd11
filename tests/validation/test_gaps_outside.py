"""Exact gaps against independent truths: dense sampling with refinement, closed forms, and a collision library.

The truth here is written from the definition of a swept disc and shares no distance code with the project.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
import trimesh
from trimesh.collision import CollisionManager

from headergen.geometry.between import body_to_body, body_to_plane
from headergen.geometry.body import Body, cylinder_body, run_body, surface_point, tube_body
from headergen.geometry.centreline import frame_at, frame_on, trace
from headergen.geometry.frames import WORLD, frame_from_normal
from headergen.geometry.triangles import body_to_triangles
from headergen.geometry.tube_mesh import outer_skin
from headergen.model import Bend, Centreline, Cylinder, Line, Plane, Step, Straight, TubeRun

RADIUS = 21.2
EDGE = 1e-11  # mm or rad by which rounding may put a point beyond the segment it belongs to
CASES = [pytest.param(60, id="60"), pytest.param(300, id="300", marks=pytest.mark.slow)]


def random_line(rng: np.random.Generator) -> Centreline:
    """One to four bends, some without a straight between or before, first segments from 0.5 mm up."""
    steps: list[Step] = [Straight(float(rng.choice([0.5, 3.0, rng.uniform(10, 80)])))] if rng.random() < 0.8 else []
    for _ in range(rng.integers(1, 5)):
        angle = float(rng.choice([rng.uniform(0.05, 2.2), math.pi / 2, math.pi]))
        steps.append(Bend(angle, float(rng.choice([RADIUS * 1.2, 63.5])), float(rng.uniform(-3, 3))))
        if rng.random() < 0.6:
            steps.append(Straight(float(rng.choice([0.5, rng.uniform(5, 90)]))))
    start = frame_from_normal(tuple(rng.uniform(-80, 80, 3)), tuple(rng.normal(size=3)))
    return trace(start, steps)


def distance_to_swept_disc(line: Centreline, radius: float, points: np.ndarray) -> np.ndarray:
    """Signed distance of points (n, 3) from what a disc sweeps along a line, from the definition alone.

    On each segment, in its own axes: a box of revolution for a straight, a torus sector for a bend. Outside all of
    them the nearest point is on the skin of one, or on an end disc.
    """
    best = np.full(len(points), np.inf)
    for segment in line.segments:
        t, n = np.array(segment.tangent), np.array(segment.toward)
        b = np.cross(t, n)
        w = points - np.array(segment.start)
        x, y, z = w @ t, w @ n, w @ b
        if isinstance(segment, Line):
            inside = (x >= -EDGE) & (x <= segment.length + EDGE)
            value = np.hypot(y, z) - radius
        else:
            y = y - segment.radius
            turn = (np.arctan2(x, -y) + EDGE) % (2 * math.pi) - EDGE
            inside = turn <= segment.angle + EDGE
            value = np.hypot(np.hypot(x, y) - segment.radius, z) - radius
        best = np.minimum(best, np.where(inside, value, np.inf))
    first, last = line.segments[0], line.segments[-1]
    end, tangent, _ = frame_on(last, last.length)
    for centre, outward in ((first.start, -np.array(first.tangent)), (end, np.array(tangent))):
        w = points - np.array(centre)
        axial = w @ outward
        beside = np.linalg.norm(w - axial[:, None] * outward, axis=1)
        reach = np.hypot(axial, np.maximum(beside - radius, 0))
        best = np.minimum(best, np.where(axial > 0, reach, np.inf))
    return best


def truth_for_triangles(line: Centreline, triangles: np.ndarray, rng: np.random.Generator) -> float:
    """Least sampled distance, refined by a shrinking random search from the five best samples: an upper bound."""
    i, j = np.meshgrid(np.linspace(0, 1, 41), np.linspace(0, 1, 41))
    keep = i + j <= 1 + 1e-12
    weights = np.stack([1 - i[keep] - j[keep], i[keep], j[keep]], axis=1)
    points = np.einsum("kp,npx->nkx", weights, triangles)
    value = distance_to_swept_disc(line, RADIUS, points.reshape(-1, 3)).reshape(len(triangles), -1)
    best = np.inf
    for flat in np.argsort(value, axis=None)[:5]:
        which, k = np.unravel_index(flat, value.shape)
        here, lowest, step = weights[k], value[which, k], 0.04
        while step > 1e-9:
            tries = np.clip(here + step * rng.normal(size=(48, 3)), 0, None)
            tries /= tries.sum(axis=1, keepdims=True)
            found = distance_to_swept_disc(line, RADIUS, tries @ triangles[which])
            if found.min() < lowest:
                here, lowest = tries[int(found.argmin())], found.min()
            else:
                step *= 0.6
        best = min(best, float(lowest))
    return best


def random_triangles(rng: np.random.Generator) -> np.ndarray:
    """Small, middling and huge ones, about and through the tube; slivers and points among them."""
    count = int(rng.integers(1, 25))
    size = rng.choice([5.0, 40.0, 250.0])
    triangles = rng.uniform(-220, 220, (1, 1, 3)) + size * rng.normal(size=(count, 3, 3))
    if rng.random() < 0.2:
        triangles[0] = triangles[0, :1]
    if rng.random() < 0.2:
        triangles[-1, 2] = 0.5 * (triangles[-1, 0] + triangles[-1, 1])
    return triangles


def witnesses_agree(body: Body, at: float, point: np.ndarray, value: float) -> bool:
    """The two points that are shown reproduce the gap; in a crossing they are a depth apart."""
    skin = surface_point(body, at, point)
    return bool(abs(float(np.linalg.norm(skin - point)) - abs(value)) < 1e-9)


@pytest.mark.parametrize("count", CASES)
def test_triangles_against_dense_sampling(count: int) -> None:
    """The exact gap is never above the sampled one, and below it by no more than what the search leaves (0.01 mm)."""
    for seed in range(count):
        rng = np.random.default_rng(seed)
        line, triangles = random_line(rng), random_triangles(rng)
        body = tube_body(line, RADIUS)
        nearest = body_to_triangles(body, triangles)
        truth = truth_for_triangles(line, triangles, rng)
        assert nearest.value <= truth + 1e-6, seed
        assert nearest.value >= truth - 1e-2, seed
        own = distance_to_swept_disc(line, RADIUS, nearest.point[None])[0]
        assert own == pytest.approx(nearest.value, abs=1e-9), f"seed {seed}: the point found is that near"
        assert witnesses_agree(body, nearest.at, nearest.point, nearest.value), seed


@pytest.mark.parametrize("count", CASES)
def test_triangles_against_a_collision_library(count: int) -> None:
    """Distances between meshes may differ from the exact gap by the mesh's chord error, and the library's 1e-3."""
    for seed in range(1000, 1000 + count):
        rng = np.random.default_rng(seed)
        line, triangles = random_line(rng), random_triangles(rng)
        skin = outer_skin(line, RADIUS, 0.1)
        exact = max(body_to_triangles(tube_body(line, RADIUS), triangles).value, 0.0)
        one, other = CollisionManager(), CollisionManager()
        one.add_object("tube", trimesh.Trimesh(skin.mesh.vertices, skin.mesh.faces, process=False))
        corners = triangles.reshape(-1, 3)
        faces = np.arange(len(corners)).reshape(-1, 3)
        other.add_object("chassis", trimesh.Trimesh(corners, faces, process=False))
        found = max(one.min_distance_other(other), 0.0)
        if exact == 0.0 and distance_to_swept_disc(line, RADIUS, corners).max() < 0.0:
            continue  # wholly inside the tube: the library measures to the skin from within
        assert abs(found - exact) <= skin.chord_error + 1e-3, seed


def cylinder_distance(start: np.ndarray, end: np.ndarray, radius: float, points: np.ndarray) -> np.ndarray:
    axis = (end - start) / np.linalg.norm(end - start)
    x = (points - start) @ axis
    beside = np.linalg.norm(points - start - x[:, None] * axis, axis=1)
    length = float(np.linalg.norm(end - start))
    return np.hypot(np.maximum(np.maximum(-x, x - length), 0), np.maximum(beside - radius, 0))


def run_distance(corners: np.ndarray, radius: float, points: np.ndarray) -> np.ndarray:
    best = np.full(len(points), np.inf)
    for a, b in pairwise(corners):
        along = np.clip((points - a) @ (b - a) / ((b - a) @ (b - a)), 0, 1)
        best = np.minimum(best, np.linalg.norm(points - a - along[:, None] * (b - a), axis=1))
    return best - radius


def search_over_tube(line: Centreline, distance, rng: np.random.Generator) -> float:  # type: ignore[no-untyped-def]
    """Least distance from any point of the tube's solid, by sampling (length, radius, turn) and refining."""

    def points(at: np.ndarray, out: np.ndarray, turn: np.ndarray) -> np.ndarray:
        frames = [frame_at(line, float(s)) for s in at]
        centre, tangent, normal = (np.array([frame[k] for frame in frames]) for k in range(3))
        side = np.cross(tangent, normal)
        return centre + out[:, None] * (np.cos(turn)[:, None] * normal + np.sin(turn)[:, None] * side)

    count = 4000
    at, turn = rng.uniform(0, line.length, count), rng.uniform(0, 2 * math.pi, count)
    at[: count // 5] = rng.choice([0.0, line.length], count // 5)
    out = np.where(rng.random(count) < 0.7, RADIUS, rng.uniform(0, RADIUS, count))
    value = distance(points(at, out, turn))
    best = np.inf
    for k in np.argsort(value)[:3]:
        s, r, u, lowest, step = at[k], out[k], turn[k], value[k], 1.0
        while step > 1e-7:
            ds = np.clip(s + 20 * step * rng.normal(size=24), 0, line.length)
            dr = np.clip(r + 20 * step * rng.normal(size=24) * (rng.random(24) < 0.5), 0, RADIUS)
            du = u + step * rng.normal(size=24)
            found = distance(points(ds, dr, du))
            pick = int(found.argmin())
            if found[pick] < lowest:
                s, r, u, lowest = ds[pick], dr[pick], du[pick], found[pick]
            else:
                step *= 0.65
        best = min(best, float(lowest))
    return best


@pytest.mark.parametrize("count", [pytest.param(9, id="9"), pytest.param(60, id="60", marks=pytest.mark.slow)])
def test_tubes_cylinders_and_runs_against_a_search(count: int) -> None:
    """Where the two are apart. The search only finds upper bounds; it ends within 1e-3 mm of the least."""
    for seed in range(count):
        rng = np.random.default_rng(seed)
        line, body = (made := random_line(rng)), tube_body(made, RADIUS)
        if seed % 3 == 0:
            other_line, radius = random_line(rng), float(rng.uniform(5, 30))
            other = tube_body(other_line, radius)

            def distance(points, line=other_line, radius=radius):  # type: ignore[no-untyped-def]
                return distance_to_swept_disc(line, radius, points)

        elif seed % 3 == 1:
            start, end = rng.uniform(-220, 220, (2, 3))
            radius = float(rng.uniform(5, 60))
            other = cylinder_body(Cylinder(tuple(start), tuple(end), 2 * radius))

            def distance(points, start=start, end=end, radius=radius):  # type: ignore[no-untyped-def]
                return cylinder_distance(start, end, radius, points)

        else:
            corners = rng.uniform(-220, 220, (4, 3))
            other = run_body(TubeRun(tuple(map(tuple, corners)), 6.0))

            def distance(points, corners=corners):  # type: ignore[no-untyped-def]
                return run_distance(corners, 3.0, points)

        nearest, _ = body_to_body(body, other)
        if nearest.value <= 0:
            continue
        truth = search_over_tube(line, distance, rng)
        assert nearest.value <= truth + 1e-6, seed
        assert nearest.value >= truth - 1e-2, seed
        assert distance(nearest.point[None])[0] == pytest.approx(0, abs=1e-6), "the far point is on the other's skin"
        assert witnesses_agree(body, nearest.at, nearest.point, nearest.value), seed


def test_planes_against_dense_sampling() -> None:
    """The lowest of 200 000 points of the skin stands at most a chord of its grid (0.01 mm) above the exact height."""
    for seed in range(20):
        rng = np.random.default_rng(seed)
        line = random_line(rng)
        normal = rng.normal(size=3)
        normal /= np.linalg.norm(normal)
        plane = Plane(tuple(rng.uniform(-50, 50, 3)), tuple(normal))
        lowest = math.inf
        turns = np.linspace(0, 2 * math.pi, 361)
        for at in np.linspace(0, line.length, 600):
            centre, tangent, along = (np.array(v) for v in frame_at(line, float(at)))
            side = np.cross(tangent, along)
            ring = centre + RADIUS * (np.cos(turns)[:, None] * along + np.sin(turns)[:, None] * side)
            lowest = min(lowest, float(((ring - np.array(plane.origin)) @ normal).min()))
        value = body_to_plane(tube_body(line, RADIUS), plane).value
        assert lowest - 1e-2 <= value <= lowest + 1e-9, seed


def straight(length: float, origin: tuple[float, float, float] = (0.0, 0.0, 0.0)) -> Centreline:
    return trace(frame_from_normal(origin, (0.0, 0.0, 1.0), (1.0, 0.0, 0.0)), [Straight(length)])


def test_parallel_tubes() -> None:
    a, b = tube_body(straight(100), 20), tube_body(straight(100, (55, 0, 30)), 10)
    assert body_to_body(a, b)[0].value == pytest.approx(55 - 20 - 10, abs=1e-12)


def test_tubes_end_to_end() -> None:
    """Flat ends 7 mm apart on one axis, and 7 mm apart with 60 mm between axes: rim to rim."""
    a = tube_body(straight(100), 20)
    assert body_to_body(a, tube_body(straight(50, (0, 0, 107)), 20))[0].value == pytest.approx(7, abs=1e-9)
    beside = body_to_body(a, tube_body(straight(50, (60, 0, 107)), 20))[0].value
    assert beside == pytest.approx(math.hypot(7, 60 - 40), abs=1e-9)


def test_coaxial_bends() -> None:
    """Two quarter bends about one axis, R 60 and R 130: every place is as near as every other."""
    inner = trace(WORLD, [Bend(math.pi / 2, 60.0, 0.0)])
    outer = trace(
        frame_from_normal((-70.0, 0.0, 0.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0)), [Bend(math.pi / 2, 130.0, 0.0)]
    )
    found = body_to_body(tube_body(inner, 20), tube_body(outer, 15))[0].value
    assert found == pytest.approx(130 - 60 - 35, abs=1e-9)


@pytest.mark.parametrize("beside", [0.0, 12.0, 20.0, 32.0])
def test_a_wall_before_a_flat_end(beside: float) -> None:
    """A point 9 mm beyond the end plane: over the disc it is 9 mm away, beside it the rim counts."""
    point = np.full((1, 3, 3), [beside, 0.0, 109.0])
    value = body_to_triangles(tube_body(straight(100), 20), point).value
    assert value == pytest.approx(math.hypot(9, max(beside - 20, 0)), abs=1e-12)


def test_a_wall_behind_a_short_first_straight() -> None:
    """A wall 35 mm behind the start plane stays 35 mm away when a bend follows 3 mm after the start."""
    line = trace(
        frame_from_normal((0, 0, 35.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0)), [Straight(3.0), Bend(1.2, 63.5, 0.0)]
    )
    wall = np.array([[[-400, -400, 0], [400, -400, 0], [0, 700, 0]]], dtype=float)
    assert body_to_triangles(tube_body(line, RADIUS), wall).value == pytest.approx(35, abs=1e-12)


def test_a_wall_through_the_tube_is_as_deep_as_it_reaches() -> None:
    wall = np.array([[[8, -400, -50], [8, 400, -50], [8, 0, 600]]], dtype=float)
    assert body_to_triangles(tube_body(straight(100), 20), wall).value == pytest.approx(8 - 20, abs=1e-12)
