"""The index answers what every triangle would have answered, whatever it leaves out."""

from __future__ import annotations

import math
import tracemalloc
from dataclasses import replace

import numpy as np
import pytest

from headergen.geometry.curves.body import distance_to_body, points_along, tube_body
from headergen.geometry.distance.distance_triangles import body_to_triangles, nearest_on_triangles
from headergen.geometry.frames import WORLD, axes_matrix, frame_from_normal
from headergen.geometry.mesh.index import (
    BRANCH,
    LEAF,
    TriangleIndex,
    body_to_index,
    build_index,
    distance_to_index,
    index_of,
    near_body,
    near_point,
    placed,
    profile_to_index,
)
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.model import Straight
from tests.benchmarks.made_scan import scan
from tests.lots import in_lots
from tests.validation.test_gaps_outside import RADIUS, random_line

ROUNDING = 1e-9


def random_soup(rng: np.random.Generator) -> np.ndarray:
    """A sheet, a ball of slivers or a cloud of points, from one triangle to some thousands."""
    count = int(rng.choice([1, LEAF - 1, LEAF + 1, 700, LEAF * BRANCH + 5, 4000]))
    kind = rng.integers(3)
    if kind == 0:
        sheet = scan(max(count, 500), int(rng.integers(1000)), below=float(rng.uniform(-150, 250)))[:count]
        return sheet * np.float32(rng.choice([0.1, 0.4, 1.0]))
    middle = rng.normal(size=(count, 1, 3)) * rng.uniform(20, 400) + rng.uniform(-150, 150, 3)
    size = 0.0 if kind == 1 else rng.choice([0.5, 8.0, 120.0])
    return middle + size * rng.normal(size=(count, 3, 3))


def brute(index: TriangleIndex, rows: np.ndarray | slice = slice(None)) -> np.ndarray:
    return index.triangles(rows)


@pytest.mark.parametrize("seeds", [range(120), *in_lots(range(120, 1200), 108)], ids=len)
def test_gaps_are_those_of_all_triangles(seeds: range) -> None:
    for seed in seeds:
        rng = np.random.default_rng(seed)
        raw, body = random_soup(rng), tube_body(random_line(rng), RADIUS)
        index = build_index(raw)
        found, wanted = body_to_index(body, index), body_to_triangles(body, raw.astype(float))
        assert found.value == pytest.approx(wanted.value, abs=ROUNDING), seed
        assert found.triangle == wanted.triangle or found.value == pytest.approx(wanted.value, abs=1e-12), seed
        on_it = nearest_on_triangles(raw[found.triangle].astype(float)[None], found.point[None])[0]
        assert np.linalg.norm(on_it - found.point) < ROUNDING, "the triangle named is the one that holds the point"


def test_an_index_is_made_in_little_more_room_than_it_takes() -> None:
    """Of the largest scan the triangles are half a gigabyte: nothing so large may stand beside the index."""
    raw = scan(400_000).astype(float)
    tracemalloc.start()
    try:
        build_index(raw)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < 1.5 * raw.nbytes, peak / raw.nbytes


def test_a_placed_index_is_the_index_of_placed_triangles() -> None:
    for seed in range(60):
        rng = np.random.default_rng(seed)
        raw, scale = random_soup(rng), float(rng.choice([1.0, 25.4, 1000.0]))
        frame = frame_from_normal(tuple(rng.uniform(-300, 300, 3)), tuple(rng.normal(size=3)))
        body = tube_body(random_line(rng), RADIUS)
        index = placed(build_index((raw / scale).astype(raw.dtype)), scale, frame)
        there = (raw / scale).astype(raw.dtype).astype(float) * scale @ axes_matrix(frame) + np.array(frame.origin)
        assert body_to_index(body, index).value == pytest.approx(body_to_triangles(body, there).value, abs=1e-8), seed
        order = np.argsort(index.order)
        assert np.allclose(index.triangles(order), there, atol=1e-9)


@pytest.mark.slow
def test_distances_of_points_are_those_of_all_triangles() -> None:
    for seed in range(60):
        rng = np.random.default_rng(seed)
        raw = random_soup(rng)
        points = rng.uniform(-400, 400, (25, 3))
        wanted = [
            np.linalg.norm(nearest_on_triangles(raw.astype(float), np.tile(p, (len(raw), 1))) - p, axis=1).min()
            for p in points
        ]
        assert distance_to_index(points, build_index(raw)) == pytest.approx(wanted, abs=ROUNDING), seed
        cap = float(np.median(wanted))
        assert distance_to_index(points, build_index(raw), cap) == pytest.approx(np.minimum(wanted, cap), abs=ROUNDING)


def test_what_is_near_is_never_left_out() -> None:
    """All that is left out is at least as far as asked: one measure of the whole of it."""
    taken = left = 0
    for seed in range(40):
        rng = np.random.default_rng(seed)
        raw, body = random_soup(rng), tube_body(random_line(rng), RADIUS)
        index, point, reach = build_index(raw), rng.uniform(-200, 200, 3), float(rng.uniform(0, 200))
        beside = left_out(raw, index, near_body(body, index, reach))
        assert not len(beside) or body_to_triangles(body, beside).value >= reach - ROUNDING, seed
        beyond = left_out(raw, index, near_point(index, point, reach))
        foot = nearest_on_triangles(beyond, np.tile(point, (len(beyond), 1)))
        assert (np.linalg.norm(foot - point, axis=1) >= reach - ROUNDING).all(), seed
        taken, left = taken + len(raw) - len(beside), left + len(beside)
    assert taken > 1000 and left > 1000, "both are seen"


def left_out(raw: np.ndarray, index: TriangleIndex, taken: np.ndarray) -> np.ndarray:
    """(n, 3, 3) the triangles of the file that are not among the rows taken."""
    rows = np.setdiff1d(np.arange(len(raw)), taken)
    return np.asarray(raw[index.order[rows]], float)


@pytest.mark.slow
def test_the_profile_is_one_lipschitz_and_true_below_its_reach() -> None:
    rng = np.random.default_rng(3)
    for seed in range(20):
        body = tube_body(random_line(np.random.default_rng(seed)), RADIUS)
        raw = random_soup(rng)
        at = np.linspace(*body.span, 90)
        gaps = profile_to_index(body, build_index(raw), 60.0)(at)
        points = points_along(body, at)
        true = np.array([body_to_triangles_of_a_ball(point, raw) for point in points])
        assert gaps == pytest.approx(np.minimum(true, 60.0), abs=ROUNDING)
        assert (np.abs(np.diff(gaps)) <= np.diff(at) + ROUNDING).all()


def body_to_triangles_of_a_ball(point: np.ndarray, raw: np.ndarray) -> float:
    foot = nearest_on_triangles(raw.astype(float), np.tile(point, (len(raw), 1)))
    return float(np.linalg.norm(foot - point, axis=1).min()) - RADIUS


def test_a_plane_of_many_triangles_is_a_plane() -> None:
    """Closed form: a straight tube 80 mm above a flat sheet of 20 000 triangles, and tilted by a known angle."""
    x, y = np.meshgrid(np.linspace(-500, 500, 101), np.linspace(-500, 500, 101), indexing="ij")
    points = np.stack([x, y, np.zeros_like(x)], axis=-1).reshape(-1, 3)
    i, j = (k.ravel() for k in np.meshgrid(np.arange(100), np.arange(100), indexing="ij"))
    a = i * 101 + j
    faces = np.concatenate([np.column_stack([a, a + 101, a + 1]), np.column_stack([a + 1, a + 101, a + 102])])
    index = index_of(TriangleMesh(points, faces, closed=False))
    from headergen.geometry.curves.centreline import trace

    level = tube_body(trace(frame_from_normal((0.0, 0.0, 80.0), (1.0, 0.0, 0.0)), [Straight(200.0)]), RADIUS)
    assert body_to_index(level, index).value == pytest.approx(80 - RADIUS, abs=ROUNDING)
    lean = math.radians(20)
    start = frame_from_normal((0.0, 0.0, 200.0), (math.cos(lean), 0.0, -math.sin(lean)))
    leaning = tube_body(trace(start, [Straight(300.0)]), RADIUS)
    wanted = 200 - 300 * math.sin(lean) - RADIUS * math.cos(lean)  # the low edge of its flat end
    assert body_to_index(leaning, index).value == pytest.approx(wanted, abs=ROUNDING)


def test_on_a_scan_no_sample_is_nearer() -> None:
    """10 000 noisy, holed triangles: every corner and every middle of an edge is at least as far as the gap says."""
    raw = scan(10_000).astype(float)
    index = build_index(raw)
    samples = np.concatenate([raw.reshape(-1, 3), ((raw + np.roll(raw, 1, axis=1)) / 2).reshape(-1, 3)])
    for seed in range(25):
        rng = np.random.default_rng(seed)
        body = tube_body(random_line(rng), RADIUS)
        found = body_to_index(body, index)
        values = distance_to_body(body, samples)[0]
        assert found.value <= values.min() + ROUNDING
        assert distance_to_body(body, found.point[None])[0][0] == pytest.approx(found.value, abs=ROUNDING)


def test_equal_gaps_go_to_the_lowest_triangle_of_the_file() -> None:
    line = random_line(np.random.default_rng(0))
    one = np.random.default_rng(1).normal(size=(1, 3, 3)) * 30 + 200
    raw = np.repeat(one, 300, axis=0)
    assert body_to_index(tube_body(line, RADIUS), build_index(raw)).triangle == 0


def test_the_bounds_hold_the_mesh() -> None:
    raw = random_soup(np.random.default_rng(5)).astype(float)
    low, high = placed(build_index(raw), 2.0, replace(WORLD, origin=(5.0, 6.0, 7.0))).bounds
    there = raw.reshape(-1, 3) * 2 + (5.0, 6.0, 7.0)
    assert (there >= low - ROUNDING).all() and (there <= high + ROUNDING).all()


def test_no_triangles_are_refused() -> None:
    with pytest.raises(ValueError, match="no triangles"):
        build_index(np.zeros((0, 3, 3)))
