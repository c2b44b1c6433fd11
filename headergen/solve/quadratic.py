"""The minimum of a small quadratic in a box and along linear equations, by an active set."""

from __future__ import annotations

import numpy as np

from headergen.geometry.arrays import Array, Mask

DEPENDENT = 1e-10  # share of the largest singular value below which rows count as dependent
FLAT = 1e-12  # share of the largest curvature below which a direction counts as flat
LET_GO = 1e-9  # share of the largest slope that must pull at a bound before it is released


def least_in_box(hessian: Array, gradient: Array, rows: Array, low: Array, high: Array) -> Array:
    """The p (n,) of least ½·pᵀHp + gᵀp with rows @ p = 0 and low ≤ p ≤ high, for a box around 0.

    `hessian` (n, n) must not be negative along `rows` (m, n); along flat directions the shortest move is taken. Goes
    from 0 to the minimum on the current face of the box, adds the bounds it meets, and releases those that hold it
    back.
    """
    n = len(gradient)
    p, free, can_move = np.zeros(n), np.ones(n, dtype=bool), high > low
    for _ in range(4 * n + 8):
        move = _move_on_face(hessian, gradient + hessian @ p, rows, free)
        share, blocker = _share_to_bound(p, move, low, high)
        p = np.clip(p + share * move, low, high)
        if blocker >= 0:
            p[blocker] = low[blocker] if move[blocker] < 0 else high[blocker]
            free[blocker] = False
            continue
        pull = bound_pull(gradient + hessian @ p, rows, free)
        held_back = np.where(~free & can_move, np.where(p <= low, -pull, pull), 0.0)
        worst = int(np.argmax(held_back))
        if held_back[worst] <= LET_GO * np.abs(gradient).max(initial=0.0):
            break
        free[worst] = True
    return p


def bound_pull(slope: Array, rows: Array, free: Mask) -> Array:
    """(n,) the part of a slope not balanced by the equations; multipliers by least squares over `free`."""
    if not len(rows) or not free.any():
        return slope
    return np.asarray(slope - multipliers(slope, rows, free) @ rows)


def multipliers(slope: Array, rows: Array, free: Mask) -> Array:
    """(m,) the weights of the rows that come nearest to the slope over the free values."""
    return np.asarray(np.linalg.lstsq(rows[:, free].T, slope[free], rcond=DEPENDENT)[0])


def null_space(rows: Array) -> Array:
    """(n, k) orthonormal directions along which no row changes."""
    if not len(rows):
        return np.eye(rows.shape[1])
    _, sizes, directions = np.linalg.svd(rows)
    rank = int(np.sum(sizes > DEPENDENT * sizes.max(initial=0.0)))
    return np.asarray(directions[rank:].T)


def convex_along(hessian: Array, rows: Array, floor: float) -> Array:
    """The same quadratic made convex along the rows, with a curvature of at least `floor` wherever it was negative."""
    basis = null_space(rows)
    sizes, axes = np.linalg.eigh(basis.T @ hessian @ basis)
    turned = basis @ axes
    return np.asarray(hessian + (turned * (np.maximum(np.abs(sizes), floor) - sizes)) @ turned.T)


def _move_on_face(hessian: Array, slope: Array, rows: Array, free: Mask) -> Array:
    """The move from where the slope was taken to the minimum on the face; values that are not free stay."""
    move = np.zeros(len(slope))
    basis = null_space(rows[:, free])
    if basis.shape[1]:
        curved = basis.T @ hessian[np.ix_(free, free)] @ basis
        move[free] = -basis @ (np.linalg.pinv(curved, rcond=FLAT, hermitian=True) @ (basis.T @ slope[free]))
    return move


def _share_to_bound(p: Array, move: Array, low: Array, high: Array) -> tuple[float, int]:
    """The share of a move that stays in the box, at most 1, and the value that stops it (−1 for none)."""
    room = np.where(move < 0, low - p, high - p)
    shares = np.divide(room, move, out=np.full(len(p), np.inf), where=move != 0)
    blocker = int(np.argmin(shares)) if len(p) else -1
    if blocker < 0 or shares[blocker] >= 1.0:
        return 1.0, -1
    return max(float(shares[blocker]), 0.0), blocker
