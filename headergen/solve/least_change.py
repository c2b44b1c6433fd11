"""The minimum of |Ax − b|² over the x in a box that solve smooth equations c(x) = 0.

There are two loops. `solve_equations` lowers |c| by Gauss–Newton steps in a trust region; if no x solves the equations,
it ends where |c| is least. `descend` starts from a solution and lowers |Ax − b|: it steps along the equations with the
exact curvature of the Lagrangian (Nocedal and Wright, Numerical Optimization, 2006, ch. 18), then returns to the
equations. Bounds are kept by the active set of each step.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from headergen.geometry.arrays import Array, Mask
from headergen.solve.quadratic import bound_pull, convex_along, least_in_box, multipliers

SOLVED = 1e-8  # |c| below which the equations count as solved
EXACT = 1e-10  # |c| at which no further improvement is tried
SETTLED = 1e-9  # size of a step along the equations below which the minimum counts as found
ON_BOUND = 1e-9  # distance from a bound within which a value counts as on it
TRUST = 20.0  # the largest first step; beyond it the equations are too nonlinear
ROUNDS = 50
NO_PROGRESS = 1e-8  # share of |c|² that a step must promise
LEAST_CURVATURE = 1e-9
HIDDEN = 1e-13  # share of the goal below which rounding hides the gain of a step
SEED = 20260314
SPREAD = 8.0  # of the first restart; the k-th start is k times as far away


@dataclass(frozen=True, eq=False)
class LeastChange:
    """Equations in a box: x (n,) ↦ c (m,) and its Jacobian (m, n); (x, λ) ↦ Σ λᵢ·∇²cᵢ (n, n)."""

    equations: Callable[[Array], tuple[Array, Array]]
    curvature: Callable[[Array, Array], Array]
    low: Array
    high: Array


@dataclass(frozen=True, eq=False)
class Goal:
    """The quantity to minimise: |matrix @ x − aim|, with matrix (k, n) and aim (k,)."""

    matrix: Array
    aim: Array

    def value(self, x: Array) -> float:
        """½ |matrix·x − aim|²."""
        return 0.5 * float(np.sum((self.matrix @ x - self.aim) ** 2))

    def slope(self, x: Array) -> Array:
        """Its gradient (n,)."""
        return np.asarray(self.matrix.T @ (self.matrix @ x - self.aim))


@dataclass(frozen=True, eq=False)
class Point:
    """An x with its equations and their Jacobian."""

    x: Array
    c: Array
    slopes: Array

    @property
    def size(self) -> float:
        return float(np.linalg.norm(self.c))

    @property
    def is_solution(self) -> bool:
        return self.size <= SOLVED


def least_from(problem: LeastChange, goal: Goal, start: Array) -> Point:
    """The solution of least goal near `start`; if none is found, the point of least |c|."""
    point = solve_equations(problem, start)
    return descend(problem, goal, point) if point.is_solution else point


def best_of(points: list[Point], goal: Goal) -> Point:
    """The best point: solutions first, by their goal; then others, by |c|; the earlier of equal ones."""
    return min(points, key=lambda p: (not p.is_solution, goal.value(p.x) if p.is_solution else p.size))


def restarts(problem: LeastChange, start: Array, count: int) -> list[Array]:
    """Random starts around the first one, farther each time; the same ones in every run."""
    random = np.random.default_rng(SEED)
    strewn = random.standard_normal((count, len(start)))
    return [np.clip(start + SPREAD * (k + 1) * row, problem.low, problem.high) for k, row in enumerate(strewn)]


def solve_equations(problem: LeastChange, start: Array) -> Point:
    """The solution reached by Gauss–Newton steps from `start`, or the point where |c| stops falling in the box."""
    point = _point(problem, np.clip(start, problem.low, problem.high))
    none, trust = np.zeros((0, len(start))), TRUST
    for _ in range(ROUNDS):
        before = point.size**2
        if point.size <= EXACT:
            break
        hessian, gradient = point.slopes.T @ point.slopes, point.slopes.T @ point.c
        step = least_in_box(hessian, gradient, none, *_room(problem, point.x, trust))
        promised = before - float(np.sum((point.c + point.slopes @ step) ** 2))
        if promised <= NO_PROGRESS * before:
            break
        trial = _point(problem, np.clip(point.x + step, problem.low, problem.high))
        gained = before - trial.size**2
        reach = float(np.abs(step).max())
        if gained > 0.75 * promised:
            trust = max(trust, 2 * reach)
        elif gained < 0.25 * promised:
            trust = reach / 4
        if gained > 1e-4 * promised:
            point = trial
    return point


def descend(problem: LeastChange, goal: Goal, point: Point) -> Point:
    """From a solution, the solution of least goal that lies downhill."""
    trust = TRUST
    for _ in range(ROUNDS):
        gradient = goal.slope(point.x)
        hessian = _lagrangian_curvature(problem, goal, point)
        step = least_in_box(hessian, gradient, point.slopes, *_room(problem, point.x, trust))
        reach = float(np.abs(step).max(initial=0.0))
        if reach <= SETTLED:
            break
        promised = -float(gradient @ step + 0.5 * step @ hessian @ step)
        trial = solve_equations(problem, point.x + step)
        if promised <= HIDDEN * (1.0 + goal.value(point.x)):
            return trial if trial.is_solution else point
        gained = goal.value(point.x) - goal.value(trial.x)
        if not trial.is_solution or gained < 0.25 * promised:
            trust = reach / 4
        elif gained > 0.75 * promised:
            trust = max(trust, 2 * reach)
        if trial.is_solution and gained > 1e-4 * promised:
            point = trial
    return point


def active_bounds(problem: LeastChange, slope: Array, rows: Array, x: Array) -> Mask:
    """(n,) which values are on a bound beyond which a function with this slope would be lower, along `rows`."""
    at_low, at_high = x <= problem.low + ON_BOUND, x >= problem.high - ON_BOUND
    pull = bound_pull(slope, rows, ~(at_low | at_high))
    least = 1e-6 * float(np.abs(slope).max(initial=0.0))
    return np.asarray((at_low & (pull > least)) | (at_high & (pull < -least)))


def _point(problem: LeastChange, x: Array) -> Point:
    return Point(x, *problem.equations(x))


def _room(problem: LeastChange, x: Array, trust: float) -> tuple[Array, Array]:
    """The bounds of a step: the box, and the trust region."""
    return np.maximum(problem.low - x, -trust), np.minimum(problem.high - x, trust)


def _lagrangian_curvature(problem: LeastChange, goal: Goal, point: Point) -> Array:
    """∇²(½|Ax − b|² − λᵀc), made convex along the equations, with λ from the values off their bounds."""
    free = (point.x > problem.low + ON_BOUND) & (point.x < problem.high - ON_BOUND)
    weights = multipliers(goal.slope(point.x), point.slopes, free) if free.any() else np.zeros(len(point.c))
    curved = goal.matrix.T @ goal.matrix - problem.curvature(point.x, weights)
    return convex_along(curved, point.slopes, LEAST_CURVATURE)
