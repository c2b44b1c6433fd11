"""The circle through points on the rim of a tube: its centre, its plane, its radius."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from headergen.geometry.arrays import Array

ROUNDS, STILL = 50, 1e-12


@dataclass(frozen=True, eq=False)
class Circle:
    """`off`: (n,) how far each point is from it (mm), in its plane; `out`: (n,) out of its plane."""

    centre: Array
    normal: Array
    radius: float
    off: Array
    out: Array


def circle_of(points: Array) -> Circle:
    """The least-squares plane of points (n, 3), and in it the circle with the least squares of distances.

    Gauss-Newton from the algebraic circle (Gander, Golub, Strebel, BIT 34, 1994). Raises ValueError for fewer than
    three points, or points in a line.
    """
    middle = points.mean(axis=0)
    _, sizes, ways = np.linalg.svd(points - middle)
    if len(points) < 3 or sizes[1] <= 1e-9 * max(sizes[0], 1e-9):
        raise ValueError("points in a line lie on no circle")
    x, y, normal = ways
    flat = (points - middle) @ np.array([x, y]).T
    algebraic = np.column_stack([2 * flat, np.ones(len(flat))])
    a, b, c = np.linalg.lstsq(algebraic, (flat**2).sum(axis=1), rcond=None)[0]
    values = np.array([a, b, np.sqrt(c + a * a + b * b)])
    for _ in range(ROUNDS):
        from_centre = flat - values[:2]
        reach = np.linalg.norm(from_centre, axis=1)
        slope = np.column_stack([-from_centre / reach[:, None], -np.ones(len(flat))])
        step = np.linalg.lstsq(slope, values[2] - reach, rcond=None)[0]
        values = values + step
        if np.abs(step).max() < STILL:
            break
    off = np.linalg.norm(flat - values[:2], axis=1) - values[2]
    centre = middle + values[0] * x + values[1] * y
    return Circle(centre, normal, float(values[2]), off, (points - middle) @ normal)
