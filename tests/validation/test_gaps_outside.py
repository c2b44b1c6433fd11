"""Exact gaps against independent truths: searches over dense samples, witnesses, a collision library.

The truth here is written from the definition of a swept disc and shares no distance code with the project. A search
can only find places that are near, so it bounds a gap from above; from below it is bounded by its two witness points,
which are shown to lie on the two bodies, that far apart.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest
import trimesh
from scipy.optimize import nnls
from trimesh.collision import CollisionManager

from headergen.geometry.curves.body import Body, cylinder_body, run_body, surface_point, tube_body
from headergen.geometry.curves.centreline import trace
from headergen.geometry.distance.distance_bodies import body_to_body, body_to_plane
from headergen.geometry.distance.distance_triangles import body_to_triangles
from headergen.geometry.frames import WORLD, frame_from_normal
from headergen.geometry.mesh.tube import outer_skin
from headergen.model import Bend, Centreline, Cylinder, Line, Plane, Step, Straight, TubeRun
from tests.lots import in_lots

RADIUS = 21.2
EDGE = 1e-11  # mm or rad by which rounding may put a point beyond the segment it belongs to
SEARCHED = 1e-6  # mm; the searches end with steps of 1e-7 mm and less
ROUNDING = 1e-9  # mm, of sizes up to about 1000 mm

Distance = Callable[[np.ndarray], np.ndarray]  # signed, of points (n, 3); negative inside
Near = Callable[[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray]]


def cases(default: int, all: int) -> pytest.MarkDecorator:
    """The first seeds by default; the others of all are slow, in ten lots."""
    others = in_lots(range(default, all), (all - default) // 10)
    return pytest.mark.parametrize("seeds", [pytest.param(range(default), id=str(default)), *others])


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


def random_triangles(rng: np.random.Generator, line: Centreline) -> np.ndarray:
    """Small, middling and huge ones: about and through the tube, before its flat end; slivers and points among them."""
    count = int(rng.integers(1, 25))
    size = rng.choice([5.0, 40.0, 250.0])
    triangles = rng.uniform(-220, 220, (1, 1, 3)) + size * rng.normal(size=(count, 3, 3))
    if rng.random() < 0.25:  # beyond the end, and a little before it
        end, ahead = ends_of(line)[1]
        triangles = end + ahead * rng.uniform(-5, 40) + min(size, 40.0) * rng.normal(size=(count, 3, 3))
    if rng.random() < 0.2:
        triangles[0] = triangles[0, :1]
    if rng.random() < 0.2:
        triangles[-1, 2] = 0.5 * (triangles[-1, 0] + triangles[-1, 1])
    if rng.random() < 0.2:
        triangles[:, 2] = triangles[:, 1] + 1e-6 * rng.normal(size=(count, 3))
    return triangles


def points_of_tube(line: Centreline, at: np.ndarray, out: np.ndarray, turn: np.ndarray) -> np.ndarray:
    """(n, 3) points of the solid: `at` along the tube, `out` from its centreline, `turn` about it."""
    starts = np.r_[0.0, np.cumsum([segment.length for segment in line.segments])]
    index = np.clip(np.searchsorted(starts, at, side="right") - 1, 0, len(line.segments) - 1)
    points = np.empty((len(at), 3))
    for k, segment in enumerate(line.segments):
        mine = index == k
        into, t, n = at[mine, None] - starts[k], np.array(segment.tangent), np.array(segment.normal)
        if isinstance(segment, Line):
            centre, facing = into * t, np.broadcast_to(n, (mine.sum(), 3))
        else:
            c, s = np.cos(into / segment.radius), np.sin(into / segment.radius)
            centre, facing = segment.radius * (s * t + (1 - c) * n), c * n - s * t
        side = np.cos(turn[mine, None]) * facing + np.sin(turn[mine, None]) * np.cross(t, n)
        points[mine] = np.array(segment.start) + centre + out[mine, None] * side
    return points


def ends_of(line: Centreline) -> list[tuple[np.ndarray, np.ndarray]]:
    """Centre and outward direction of both flat ends."""
    first, last = line.segments[0], line.segments[-1]
    turn = 0.0 if isinstance(last, Line) else last.angle
    ahead = math.cos(turn) * np.array(last.tangent) + math.sin(turn) * np.array(last.normal)
    end = points_of_tube(line, np.array([line.length]), np.zeros(1), np.zeros(1))[0]
    return [(np.array(first.start), -np.array(first.tangent)), (end, ahead)]


def distance_to_swept_disc(line: Centreline, radius: float, points: np.ndarray) -> np.ndarray:
    """Signed distance of points (n, 3) from what a disc sweeps along a line, from the definition alone.

    On each segment, in its own axes: a box of revolution for a straight, a torus sector for a bend. Outside all of
    them the nearest point is on the skin of one, or on an end disc.
    """
    best = np.full(len(points), np.inf)
    for segment in line.segments:
        t, n = np.array(segment.tangent), np.array(segment.normal)
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
    for centre, outward in ends_of(line):
        w = points - centre
        axial = w @ outward
        beside = np.linalg.norm(w - axial[:, None] * outward, axis=1)
        reach = np.hypot(axial, np.maximum(beside - radius, 0))
        best = np.minimum(best, np.where(axial > 0, reach, np.inf))
    return best


def searched(here: np.ndarray, values: np.ndarray, near: Near) -> float:
    """The best of several shrinking searches from places `here`, side by side; each ends below 1e-9 of a range.

    `near(here, steps)` gives places about each of them, (searches, tries, ...), and their values.
    """
    steps, each = np.full(len(here), 0.05), np.arange(len(here))
    for _ in range(100):  # in the valley of a sliver a search creeps; it remains a bound
        places, found = near(here, steps)
        lowest = found.argmin(axis=1)
        better = found[each, lowest] < values
        here = np.where(better[:, None], places[each, lowest], here)
        values = np.where(better, found[each, lowest], values)
        steps = np.where(better, steps, 0.6 * steps)
        if steps.max() < 1e-9:
            break
    return float(values.min())


def truth_for_triangles(line: Centreline, triangles: np.ndarray, rng: np.random.Generator) -> float:
    """The least distance that a search from the three best of 861 samples a triangle finds: an upper bound."""
    i, j = np.meshgrid(np.linspace(0, 1, 41), np.linspace(0, 1, 41))
    keep = i + j <= 1 + 1e-12
    weights = np.stack([1 - i[keep] - j[keep], i[keep], j[keep]], axis=1)
    points = np.einsum("kp,npx->nkx", weights, triangles)
    value = distance_to_swept_disc(line, RADIUS, points.reshape(-1, 3)).reshape(len(triangles), -1)
    which, k = np.unravel_index(np.argsort(value, axis=None)[:3], value.shape)

    def near(here: np.ndarray, steps: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        tries = np.clip(here[:, None] + steps[:, None, None] * rng.normal(size=(3, 32, 3)), 0, None)
        tries /= tries.sum(axis=2, keepdims=True)
        return tries, distance_to_swept_disc(line, RADIUS, (tries @ triangles[which]).reshape(-1, 3)).reshape(3, 32)

    return searched(weights[k], value[which, k], near)


def is_on_triangle(point: np.ndarray, corners: np.ndarray) -> bool:
    """Whether weights ≥ 0 that add up to one make the point of the corners (non-negative least squares)."""
    system = np.vstack([corners.T, np.full(3, 1000.0)])
    return bool(nnls(system, np.r_[point, 1000.0])[1] < 1e-8)


def is_apart(body: Body, at: float, point: np.ndarray, value: float) -> bool:
    """The two points that are shown reproduce the gap; in a crossing they are a depth apart."""
    return bool(abs(np.linalg.norm(surface_point(body, at, point, value) - point) - abs(value)) < ROUNDING)


@pytest.mark.slow
@cases(100, 600)
def test_triangles_against_dense_sampling(seeds: range) -> None:
    """No search finds a nearer place, and the place found is that near: together, it is the least distance."""
    kinds: Counter[str] = Counter()
    for seed in seeds:
        rng = np.random.default_rng(seed)
        line = random_line(rng)
        triangles, body = random_triangles(rng, line), tube_body(line, RADIUS)
        nearest = body_to_triangles(body, triangles)
        assert nearest.value <= truth_for_triangles(line, triangles, rng) + SEARCHED, seed
        assert is_on_triangle(nearest.point, triangles[nearest.triangle]), seed
        own = distance_to_swept_disc(line, RADIUS, nearest.point[None])[0]
        assert own == pytest.approx(nearest.value, abs=ROUNDING), seed
        assert is_apart(body, nearest.at, nearest.point, nearest.value), seed
        kinds["crosses" if nearest.value < 0 else "apart"] += 1
        kinds["end"] += nearest.at in (0.0, body.span[1])
        kinds["within"] += 0.0 < nearest.at < body.span[1]
        kinds["sliver"] += bool((np.linalg.norm(triangles[:, 2] - triangles[:, 1], axis=1) < 1e-4).any())
    assert min(kinds.values()) > len(seeds) / 12, f"every kind of case is among them: {kinds}"


@pytest.mark.slow
def test_single_points_are_as_far_as_they_are() -> None:
    """A point has nothing to search: exact but for rounding. Some stand on the end planes and axes of whole numbers."""
    for seed in range(100):
        rng = np.random.default_rng(seed)
        line = random_line(rng) if seed % 4 else trace(WORLD, [Straight(100.0)])
        points = rng.uniform(-220, 220, (10, 3)) if seed % 4 else 20.0 * rng.integers(-6, 9, (10, 3))
        wanted = distance_to_swept_disc(line, RADIUS, points)
        body = tube_body(line, RADIUS)
        for point, distance in zip(points, wanted, strict=True):
            found = body_to_triangles(body, np.broadcast_to(point, (1, 3, 3)).copy())
            assert found.value == pytest.approx(distance, abs=ROUNDING), (seed, point)


@pytest.mark.slow
@cases(60, 600)
def test_triangles_against_a_collision_library(seeds: range) -> None:
    """Distances between meshes may differ from the exact gap by the chordal deviation, and the library's 1e-3."""
    compared = 0
    for seed in seeds:
        rng = np.random.default_rng(1000 + seed)
        line = random_line(rng)
        triangles = random_triangles(rng, line)
        skin = outer_skin(line, RADIUS, 0.1)
        exact = max(body_to_triangles(tube_body(line, RADIUS), triangles).value, 0.0)
        corners = triangles.reshape(-1, 3)
        if exact == 0.0 and distance_to_swept_disc(line, RADIUS, corners).max() < 0.0:
            continue  # wholly inside the tube: the library measures to the skin from within
        one, other = CollisionManager(), CollisionManager()
        one.add_object("tube", trimesh.Trimesh(skin.mesh.vertices, skin.mesh.faces, process=False))
        other.add_object("chassis", trimesh.Trimesh(corners, np.arange(len(corners)).reshape(-1, 3), process=False))
        assert abs(max(one.min_distance_other(other), 0.0) - exact) <= skin.chord_error + 1e-3, seed
        compared += 1
    assert compared > 0.9 * len(seeds)


def distance_to_cylinder(start: np.ndarray, end: np.ndarray, radius: float, points: np.ndarray) -> np.ndarray:
    """Zero inside: only what is apart is compared by it."""
    length = float(np.linalg.norm(end - start))
    axis = (end - start) / length
    x = (points - start) @ axis
    beside = np.linalg.norm(points - start - x[:, None] * axis, axis=1)
    return np.hypot(np.maximum(np.maximum(-x, x - length), 0), np.maximum(beside - radius, 0))


def distance_to_run(corners: np.ndarray, radius: float, points: np.ndarray) -> np.ndarray:
    best = np.full(len(points), np.inf)
    for a, b in pairwise(corners):
        along = np.clip((points - a) @ (b - a) / ((b - a) @ (b - a)), 0, 1)
        best = np.minimum(best, np.linalg.norm(points - a - along[:, None] * (b - a), axis=1))
    return best - radius


def random_other(rng: np.random.Generator, kind: int) -> tuple[Body, Distance]:
    """Another tube, a cylinder or a run, and how far points are from it."""
    if kind == 0:
        line, radius = random_line(rng), float(rng.uniform(5, 30))
        return tube_body(line, radius), lambda points: distance_to_swept_disc(line, radius, points)
    if kind == 1:
        (start, end), radius = rng.uniform(-220, 220, (2, 3)), float(rng.uniform(5, 60))
        body = cylinder_body(Cylinder(tuple(start), tuple(end), 2 * radius))
        return body, lambda points: distance_to_cylinder(start, end, radius, points)
    corners = rng.uniform(-220, 220, (4, 3))
    return run_body(TubeRun(tuple(map(tuple, corners)), 6.0)), lambda points: distance_to_run(corners, 3.0, points)


def truth_for_body(line: Centreline, distance: Distance, rng: np.random.Generator) -> float:
    """The least distance from any point of the tube's solid that a search from the best samples finds."""
    low, high = np.array([0.0, 0.0, -math.inf]), np.array([line.length, RADIUS, math.inf])
    ranges = np.array([line.length, RADIUS, 2 * math.pi])
    sample = rng.random((4000, 3)) * ranges
    sample[:800, 0] = rng.choice([0.0, line.length], 800)
    sample[1200:, 1] = RADIUS
    value = distance(points_of_tube(line, *sample.T))
    best = np.argsort(value)[:3]

    def near(here: np.ndarray, steps: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        moves = rng.normal(size=(3, 32, 3)) * (rng.random((3, 32, 3)) < 0.7)
        tries = np.clip(here[:, None] + steps[:, None, None] * ranges * moves, low, high)
        return tries, distance(points_of_tube(line, *tries.reshape(-1, 3).T)).reshape(3, 32)

    return searched(sample[best], value[best], near)


@pytest.mark.slow
@cases(60, 600)
def test_tubes_cylinders_and_runs_against_a_search(seeds: range) -> None:
    """As for triangles where the two are apart; where they cross, the search finds a place in both."""
    kinds: Counter[str] = Counter()
    for seed in seeds:
        rng = np.random.default_rng(seed)
        line = random_line(rng)
        body, (other, distance) = tube_body(line, RADIUS), random_other(rng, seed % 3)
        nearest, _ = body_to_body(body, other)
        truth = truth_for_body(line, distance, rng)
        back, _ = body_to_body(other, body)
        assert back.value == pytest.approx(nearest.value, abs=SEARCHED), f"seed {seed}: seen from the other side"
        kinds["apart" if nearest.value > SEARCHED else "cross"] += 1
        if nearest.value <= SEARCHED:
            assert truth <= SEARCHED, seed
            continue
        assert nearest.value <= truth + SEARCHED, seed
        skin = nearest.skin
        assert distance(nearest.point[None])[0] <= SEARCHED, f"seed {seed}: a point of the other"
        assert distance_to_swept_disc(line, RADIUS, skin[None])[0] <= SEARCHED, f"seed {seed}: a point of the tube"
        assert is_apart(body, nearest.at, nearest.point, nearest.value), seed
    assert min(kinds.values()) > len(seeds) / 12, kinds


def heights_over(plane: Plane, line: Centreline, at: np.ndarray, out: float, turn: float) -> np.ndarray:
    points = points_of_tube(line, at, np.full(len(at), out), np.full(len(at), turn))
    heights: np.ndarray = (points - np.array(plane.origin)) @ np.array(plane.normal)
    return heights


@cases(20, 200)
def test_planes_against_dense_sampling(seeds: range) -> None:
    """The lowest sample of the skin stands above the exact height by at most two sagittas.

    That of half a step along a bend of 180° cut into 400, R + r = 84.7, and of half a step of 360 about the tube:
    84.7·(1 − cos(π/800)) + 21.2·(1 − cos(π/360)) < 1.5e-3 mm.
    """
    turns = np.linspace(0, 2 * math.pi, 361)
    for seed in seeds:
        rng = np.random.default_rng(seed)
        line, normal = random_line(rng), rng.normal(size=3)
        normal /= np.linalg.norm(normal)
        plane = Plane(tuple(rng.uniform(-50, 50, 3)), tuple(normal))
        starts = np.r_[0.0, np.cumsum([segment.length for segment in line.segments])]
        lengths = np.concatenate([np.linspace(a, b, 401) for a, b in pairwise(starts)])
        # the circle about a place is c·cos + s·sin of two of its points, and so are the heights of its points
        middle = heights_over(plane, line, lengths, 0.0, 0.0)
        up, aside = (heights_over(plane, line, lengths, RADIUS, turn) - middle for turn in (0.0, math.pi / 2))
        heights = middle[:, None] + up[:, None] * np.cos(turns) + aside[:, None] * np.sin(turns)
        nearest = body_to_plane(tube_body(line, RADIUS), plane)
        assert heights.min() - 1.5e-3 <= nearest.value <= heights.min() + ROUNDING, seed
        assert (nearest.point - np.array(plane.origin)) @ normal == pytest.approx(0, abs=ROUNDING), "on the plane"
