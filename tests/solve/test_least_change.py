"""The two solvers under the closing: small quadratics by their optimality conditions, equations in closed form."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import lsq_linear

from headergen.solve.least_change import (
    Goal,
    LeastChange,
    active_bounds,
    descend,
    least_from,
    restarts,
    solve_equations,
)
from headergen.solve.quadratic import convex_along, least_in_box, null_space

SEEDS = range(60)


def random_quadratic(seed: int) -> tuple[np.ndarray, ...]:
    chance = np.random.default_rng(seed)
    n = int(chance.integers(2, 13))
    m = int(chance.integers(0, n))
    root = chance.standard_normal((n, n))
    low, high = -chance.uniform(0, 1, n), chance.uniform(0, 1, n)
    low[chance.random(n) < 0.2] = 0.0  # values that stand on a bound from the start
    return root.T @ root, 3 * chance.standard_normal(n), chance.standard_normal((m, n)), low, high


@pytest.mark.parametrize("seed", SEEDS)
def test_least_in_box_meets_the_optimality_conditions(seed: int) -> None:
    """Karush–Kuhn–Tucker, necessary and sufficient here: slope = rows' + pulls of the right sign at bounds alone."""
    hessian, gradient, rows, low, high = random_quadratic(seed)
    p = least_in_box(hessian, gradient, rows, low, high)
    assert np.all((p >= low) & (p <= high))
    assert rows @ p == pytest.approx(np.zeros(len(rows)), abs=1e-9)
    slope = gradient + hessian @ p
    at_low, at_high = p - low < 1e-12, high - p < 1e-12
    inward = np.column_stack([rows.T, np.eye(len(p))[:, at_low], -np.eye(len(p))[:, at_high]])
    signs = np.r_[np.full(len(rows), -np.inf), np.zeros(inward.shape[1] - len(rows))]
    left = lsq_linear(inward, slope, bounds=(signs, np.inf), tol=1e-14).fun if inward.size else slope
    assert np.abs(left).max() < 1e-6 * np.abs(gradient).max()


@pytest.mark.parametrize("seed", SEEDS)
def test_least_squares_in_a_box_against_scipy(seed: int) -> None:
    """Flat quadratics (fewer rows than unknowns) included, as for equations with more values than they need."""
    chance = np.random.default_rng(seed)
    m, n = int(chance.integers(1, 8)), int(chance.integers(1, 13))
    matrix, wanted = chance.standard_normal((m, n)), 2 * chance.standard_normal(m)
    low, high = -chance.uniform(0.1, 1, n), chance.uniform(0.1, 1, n)
    p = least_in_box(matrix.T @ matrix, -matrix.T @ wanted, np.zeros((0, n)), low, high)
    theirs = lsq_linear(matrix, wanted, bounds=(low, high), method="bvls", tol=1e-14)
    assert np.linalg.norm(matrix @ p - wanted) == pytest.approx(np.linalg.norm(theirs.fun), abs=1e-6)


def test_null_space_and_convexity_along_it() -> None:
    rows = np.array([[1.0, 1.0, 0.0, 0.0], [2.0, 2.0, 0.0, 0.0]])  # the second says the same
    basis = null_space(rows)
    assert basis.shape == (4, 3)
    assert np.abs(rows @ basis).max() < 1e-12
    bent_down = np.diag([1.0, 1.0, -2.0, 3.0])
    mended = convex_along(bent_down, rows, 1e-9)
    assert np.linalg.eigvalsh(basis.T @ mended @ basis) == pytest.approx([1.0, 2.0, 3.0])


def circle(radius: float, low: tuple[float, float] = (-9, -9), high: tuple[float, float] = (9, 9)) -> LeastChange:
    """x² + y² = radius², as (x² + y² − radius²) / 2 = 0."""
    return LeastChange(
        equations=lambda x: (np.array([(x @ x - radius**2) / 2]), x[None, :].copy()),
        curvature=lambda x, weights: weights[0] * np.eye(2),
        low=np.array(low, dtype=float),
        high=np.array(high, dtype=float),
    )


def nearest_to(x: float, y: float) -> Goal:
    return Goal(np.eye(2), np.array([x, y]))


@pytest.mark.parametrize("turn", np.linspace(0.1, 6.2, 9))
@pytest.mark.parametrize("away", [0.2, 0.9, 3.0])
def test_nearest_point_of_a_circle(turn: float, away: float) -> None:
    """The foot on the ray through the point, whether it lies within the circle or without."""
    aim = 2.0 * away * np.array([math.cos(turn), math.sin(turn)])
    found = least_from(circle(2.0), nearest_to(*aim), np.array([1.7, 0.4]))
    assert found.x == pytest.approx(2.0 * aim / np.linalg.norm(aim), abs=1e-8)


def test_a_bound_cuts_the_circle() -> None:
    """Nearest to (3, 0) with x ≤ 1: the corner (1, √3), reached from the upper half; and x presses on its bound."""
    problem, goal = circle(2.0, high=(1.0, 9.0)), nearest_to(3.0, 0.0)
    found = least_from(problem, goal, np.array([0.0, 1.0]))
    assert found.x == pytest.approx([1.0, math.sqrt(3.0)], abs=1e-9)
    assert active_bounds(problem, goal.slope(found.x), found.slopes, found.x).tolist() == [True, False]


def test_a_bound_stood_on_that_does_not_press() -> None:
    """Least x + 2y... of a line: y stands on its bound by chance, moving it outward would gain nothing."""
    problem = LeastChange(
        equations=lambda x: (np.array([x[0] - 1.0]), np.array([[1.0, 0.0]])),
        curvature=lambda x, weights: np.zeros((2, 2)),
        low=np.array([-5.0, 0.0]),
        high=np.array([5.0, 5.0]),
    )
    goal = nearest_to(0.0, 0.0)
    found = least_from(problem, goal, np.array([0.0, 3.0]))
    assert found.x == pytest.approx([1.0, 0.0], abs=1e-12)
    assert not active_bounds(problem, goal.slope(found.x), found.slopes, found.x).any()


def test_where_nothing_solves_the_miss_is_least() -> None:
    """The box [3, 9] × [−9, 9] lies outside the circle of 2: it comes nearest at (3, 0)."""
    problem = circle(2.0, low=(3.0, -9.0))
    found = solve_equations(problem, np.array([5.0, 4.0]))
    assert not found.is_solution
    assert found.x == pytest.approx([3.0, 0.0], abs=1e-3)
    assert active_bounds(problem, found.slopes.T @ found.c, np.zeros((0, 2)), found.x).tolist() == [True, False]


def test_descent_never_leaves_the_equations_or_climbs() -> None:
    """From the far side of the circle, where the curvature along it is negative, to the near one."""
    problem, goal = circle(2.0), nearest_to(3.0, 0.0)
    start = solve_equations(problem, 2.0 * np.array([math.cos(3.1), math.sin(3.1)]))
    found = descend(problem, goal, start)
    assert found.is_solution and found.x == pytest.approx([2.0, 0.0], abs=1e-8)


def test_restarts_are_the_same_each_time_and_within_the_box() -> None:
    problem = circle(2.0, low=(-1.0, -1.0), high=(1.0, 1.0))
    first, again = (restarts(problem, np.zeros(2), 9) for _ in range(2))
    assert all((a == b).all() for a, b in zip(first, again, strict=True))
    assert all((np.abs(a) <= 1.0).all() for a in first)
