"""Small nonlinear least squares within limits: Levenberg–Marquardt whose every step respects the box.

Damping follows Nielsen (1999). Each step is a bounded linear least-squares problem, solved by taking out the values
that stand on a limit and would be pushed beyond it.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Function = Callable[[Array], tuple[Array, Array]]  # values (n,) → residuals (m,) and their derivatives (m, n)

ROUNDS = 60
ENOUGH = 1e-12  # step, relative to the values, at which nothing more is gained


def least_squares_in_box(function: Function, start: Array, low: Array, high: Array) -> Array:
    """Values (n,) within low…high at which the sum of squared residuals has a local minimum."""
    values = np.clip(start, low, high)
    residuals, slopes = function(values)
    cost, damping, growth = float(residuals @ residuals), 1e-8, 2.0
    for _ in range(ROUNDS):
        step = _bounded_step(slopes, residuals, damping, (low - values, high - values))
        if np.abs(step).max(initial=0.0) <= ENOUGH * (1.0 + np.abs(values).max(initial=0.0)):
            break
        tried = np.clip(values + step, low, high)
        new_residuals, new_slopes = function(tried)
        new_cost = float(new_residuals @ new_residuals)
        expected = cost - float(np.sum((residuals + slopes @ step) ** 2))
        if new_cost < cost:
            ratio = min((cost - new_cost) / max(expected, 1e-300), 2.0)
            damping, growth = max(damping * max(1 / 3, 1 - (2 * ratio - 1) ** 3), 1e-15), 2.0
            values, residuals, slopes, cost = tried, new_residuals, new_slopes, new_cost
        else:
            damping, growth = damping * growth, 2 * growth
            if damping > 1e12:
                break
    return values


def _bounded_step(slopes: Array, residuals: Array, damping: float, room: tuple[Array, Array]) -> Array:
    """The damped Gauss–Newton step within `room`: a value that would leave it is set on its limit, the rest solved on.

    Values held on a limit are let go again when the slope there points inward.
    """
    count = slopes.shape[1]
    scale = np.sqrt(np.maximum(np.einsum("ij,ij->j", slopes, slopes), 1e-12))
    matrix = np.vstack([slopes, np.diag(np.sqrt(damping) * scale)])
    wanted = np.r_[-residuals, np.zeros(count)]
    step, held = np.zeros(count), np.zeros(count, dtype=bool)
    for _ in range(3 * count + 3):
        free = ~held
        goal = step.copy()
        if free.any():
            goal[free] = np.linalg.lstsq(matrix[:, free], wanted - matrix[:, held] @ step[held], rcond=1e-13)[0]
        share, blocking = _largest_share(step, goal, room, free)
        step = step + share * (goal - step)
        if blocking is not None:
            step[blocking] = np.clip(step[blocking], room[0][blocking], room[1][blocking])
            held[blocking] = True
            continue
        pull = matrix.T @ (wanted - matrix @ step)
        at_low, at_high = step <= room[0], step >= room[1]
        inward = held & ((at_low & (pull > 1e-12)) | (at_high & (pull < -1e-12))) & (room[0] < room[1])
        if not inward.any():
            break
        held[int(np.argmax(np.where(inward, np.abs(pull) / scale, 0.0)))] = False
    return step


def _largest_share(
    step: Array, goal: Array, room: tuple[Array, Array], free: NDArray[np.bool_]
) -> tuple[float, int | None]:
    """How far from `step` to `goal` the box lets one go, and which value stops it (None: all the way)."""
    move = goal - step
    with np.errstate(divide="ignore", invalid="ignore"):
        shares = np.where(move > 0, (room[1] - step) / move, np.where(move < 0, (room[0] - step) / move, np.inf))
    shares = np.where(free, np.maximum(shares, 0.0), np.inf)
    least = int(np.argmin(shares)) if len(shares) else 0
    if not len(shares) or shares[least] >= 1.0:
        return 1.0, None
    return float(shares[least]), least
