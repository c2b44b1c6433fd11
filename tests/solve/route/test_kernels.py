"""The compiled model against closed forms, numpy, and central differences of itself."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from wanted import job

from headergen.geometry.curves.centreline import trace
from headergen.solve.route.kernels.descend import residuals
from headergen.solve.route.kernels.distance import grid_distance, solid_distance
from headergen.solve.route.kernels.terms import KINDS, TUBES, beside_terms
from headergen.solve.route.layout import seen, steps_of_tube, tubes_of
from headergen.solve.route.obstacles import BOX, CAPSULE, CONE, CYLINDER, HALF_SPACE, sampled_triangles
from headergen.solve.route.problem import problem_of
from headergen.solve.route.starts import random_layout

AXES = [1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0]


def row(kind: int, *sizes: float) -> np.ndarray:
    return np.array([kind, 0.0, 0.0, 0.0, *AXES, *sizes, 0.0, 1.0, 0.0, -1, 0.0])


def nearest_in_box(p: np.ndarray) -> np.ndarray:
    return np.clip(p, [-30, -20, -10], [30, 20, 10])


def nearest_in_cylinder(p: np.ndarray) -> np.ndarray:
    across = np.linalg.norm(p[:, :2], axis=1, keepdims=True)
    return np.concatenate([p[:, :2] * np.minimum(1.0, 20.0 / across), np.clip(p[:, 2:], -35, 35)], axis=1)


def nearest_in_capsule(p: np.ndarray) -> np.ndarray:
    core = np.clip(p, [0, 0, -30], [0, 0, 30])
    away = np.linalg.norm(p - core, axis=1, keepdims=True)
    return core + (p - core) * np.minimum(1.0, 15.0 / away)


SOLIDS = [
    (row(BOX, 30.0, 20.0, 10.0), nearest_in_box),
    (row(CYLINDER, 20.0, 0.0, 35.0), nearest_in_cylinder),
    (row(CAPSULE, 15.0, 0.0, 30.0), nearest_in_capsule),
]


@pytest.mark.parametrize("solid, nearest", SOLIDS, ids=["box", "cylinder", "capsule"])
def test_distance_to_solids_is_that_to_their_nearest_point(
    solid: np.ndarray, nearest: Callable[[np.ndarray], np.ndarray]
) -> None:
    points = np.random.default_rng(3).uniform(-70, 70, (400, 3))
    slope = np.empty(3)
    mine = np.array([solid_distance(solid, point, slope) for point in points])
    theirs = np.linalg.norm(points - nearest(points), axis=1)
    outside = theirs > 1e-9
    assert mine[outside] == pytest.approx(theirs[outside], abs=1e-9)
    assert (~outside).sum() > 0 and (mine[~outside] <= 0).all()


@pytest.mark.parametrize("solid", [s for s, _ in SOLIDS] + [row(CONE, 40.0, 20.0, 30.0), row(HALF_SPACE, 0, 0, 0)])
def test_slope_of_distance(solid: np.ndarray) -> None:
    slope, spare = np.empty(3), np.empty(3)
    for point in np.random.default_rng(4).uniform(-80, 80, (60, 3)):
        solid_distance(solid, point, slope)
        shifts = 1e-5 * np.eye(3)
        differences = [
            (solid_distance(solid, point + s, spare) - solid_distance(solid, point - s, spare)) / 2e-5 for s in shifts
        ]
        assert slope == pytest.approx(differences, abs=1e-4)


def test_grid_of_a_linear_field_is_exact() -> None:
    x, y, z = np.meshgrid(*[np.arange(5) * 8.0] * 3, indexing="ij")
    slope = np.empty(3)
    value = grid_distance(2 * x - y + 3 * z, np.zeros(3), 8.0, np.array([11.0, 5.0, 20.0]), slope)
    assert value == pytest.approx(2 * 11 - 5 + 3 * 20)
    assert slope == pytest.approx([2, -1, 3])


def test_samples_lie_on_the_triangle_and_near_each_other() -> None:
    triangle = np.array([[[0.0, 0.0, 5.0], [400.0, 0.0, 5.0], [20.0, 12.0, 5.0]]])
    points = sampled_triangles(triangle, 5.0)
    assert len(points) < 400
    inside = np.random.default_rng(1).dirichlet((1, 1, 1), 200) @ triangle[0]
    nearest = np.linalg.norm(points[None] - inside[:, None], axis=2).min(axis=1)
    assert nearest.max() < 5.0  # where rows end on a slanting edge, a step; elsewhere 5/√2
    assert points[:, 2] == pytest.approx(5.0)


def test_the_model_and_the_exact_path_are_the_same_tube(tmp_path: Path) -> None:
    _, draft, meshes = job(tmp_path)
    problem = problem_of(draft, meshes)
    chance, found = np.random.default_rng(5), 0
    while found < 10:
        layout = random_layout(problem, chance)
        for k, run in enumerate(layout.runs):
            _, straights, _, length = seen(problem, k, run)
            if straights.min() < 1.0:
                continue
            found += 1
            port = problem.runs[k].port.frame
            line = trace(port, steps_of_tube(problem, k, run))
            assert line.length == pytest.approx(length, abs=1e-6)
            end = line.segments[-1]
            assert np.array(end.start) + end.length * np.array(end.tangent) == pytest.approx(
                problem.bores[run.bore, :3], abs=1e-6
            )


def test_gradient_of_all_residuals_together(tmp_path: Path) -> None:
    _, draft, meshes = job(tmp_path)
    problem = problem_of(draft, meshes)
    layout = random_layout(problem, np.random.default_rng(8))
    tubes = tubes_of(problem, layout.runs, range(2))
    X = np.concatenate([*(run.x for run in layout.runs), [layout.length]])
    want = problem.want._replace(weight=1.0)
    system, missing, none = np.zeros((len(X), len(X) + 1)), np.zeros(KINDS), np.zeros((0, 1))
    weights = np.ones((2, 5))
    f = residuals(X, tubes, problem.space, want, weights, 50, system, missing)
    assert f > 0
    for j in range(len(X)):
        step = 1e-4 * np.eye(len(X))[j]
        high, low = (
            residuals(X + s, tubes, problem.space, want, weights, 50, none, missing.copy()) for s in (step, -step)
        )
        assert system[j, -1] == pytest.approx((high - low) / 2e-4, rel=2e-3, abs=0.5)


@pytest.mark.parametrize("shorter", [0, 1])
def test_of_two_straights_side_by_side_the_shorter_is_drawn_in(tmp_path: Path, shorter: int) -> None:
    """Bores closer than the gap asked farther off, a millimetre less asked in them, growing from 80 to 100 mm on."""
    _, draft, meshes = job(tmp_path)
    want = problem_of(draft, meshes).want._replace(
        radius=20.0, gap=6.0, margin=0.0, may_miss=1.0, ramp_start=80.0, ramp_end=100.0
    )
    lasts = [np.array([170.0, 0.5, -2.0, 1.0]), np.array([170.0, 1.0, 0.25, 3.0])]
    lasts[shorter][0] = 130.0
    system, missing = np.zeros((6, 7)), np.zeros(KINDS)
    at = np.arange(6)

    f = beside_terms(lasts[0], lasts[1], 44.0, at, 3, want, system, missing)
    assert f > 0.0 and missing[TUBES] == 0.0  # a wish
    mine = slice(0, 3) if shorter == 0 else slice(3, 6)
    others = np.delete(np.arange(6), np.arange(6)[mine])
    step = -system[mine, 6]  # of steepest descent
    assert step @ lasts[shorter][1:] < 0.0 and not system[others, 6].any()
    assert np.cross(step, lasts[shorter][1:]) == pytest.approx(np.zeros(3))
    # from 130 mm to where what the bores leave is still enough: a third of the way from 3 to 6 mm, half from 4; never
    # for bores 46 mm apart
    lengths = [50.0 - 20.0 / 3, 40.0]
    values = [f, beside_terms(lasts[0], lasts[1], 45.0, at, 3, want, system, missing)]
    assert values[0] / values[1] == pytest.approx((lengths[0] / lengths[1]) ** 2)
    assert beside_terms(lasts[0], lasts[1], 46.0, at, 3, want, system, missing) == 0.0
    lasts[shorter][0] = 79.0
    assert beside_terms(lasts[0], lasts[1], 44.0, at, 3, want, system, missing) == 0.0
