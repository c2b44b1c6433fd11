"""Where a scan lies, from points known both in it and on the engine: the rigid move that fits best."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from headergen.geometry.body import Array
from headergen.model import Frame, Vec

ON_A_LINE = 0.02  # of their largest spread; points that spread less sideways leave a turn about their line open
IN_A_PLANE = 0.02


@dataclass(frozen=True)
class RigidFit:
    """The move from one set of points onto another, and what speaks against it.

    `residuals`: what is left between each pair. `scale`: by how much the first set would have to grow to fit best;
    `scaled_rms` and `mirrored_rms`: what would be left if it were also grown, or mirrored. `in_a_plane`: the points
    cannot tell a set from its mirror image.
    """

    frame: Frame
    residuals: tuple[float, ...]
    scale: float
    rms: float
    scaled_rms: float
    mirrored_rms: float
    in_a_plane: bool


def fit_rigid(moved: Array, fixed: Array) -> RigidFit:
    """The frame of the `moved` points' axes that brings them (n, 3) nearest to `fixed` (n, 3) by least squares.

    Closed form by singular values (Kabsch 1976; scale by Umeyama 1991). Raises ValueError for fewer than three pairs
    and for points on a line.
    """
    if len(moved) < 3 or _spread(moved)[1] < ON_A_LINE or _spread(fixed)[1] < ON_A_LINE:
        raise ValueError("three points off a line are needed at least")
    middle, target = moved.mean(axis=0), fixed.mean(axis=0)
    p, q = moved - middle, fixed - target
    left, sizes, right = np.linalg.svd(p.T @ q)
    handed = 1.0 if np.linalg.det(left) * np.linalg.det(right) > 0 else -1.0
    turn = (left * np.array([1.0, 1.0, handed])) @ right  # rows: the moved set's axes as seen by the fixed one
    mirror = (left * np.array([1.0, 1.0, -handed])) @ right
    scale = float(sizes @ np.array([1.0, 1.0, handed]) / (p * p).sum())
    residuals = np.sqrt(((p @ turn - q) ** 2).sum(axis=1))
    x, y, z = (_vec(axis) for axis in turn)
    return RigidFit(
        frame=Frame(_vec(target - middle @ turn), x, y, z),
        residuals=tuple(residuals.tolist()),
        scale=scale,
        rms=_rms(p @ turn - q),
        scaled_rms=_rms(scale * (p @ turn) - q),
        mirrored_rms=_rms(p @ mirror - q),
        in_a_plane=bool(_spread(fixed)[2] < IN_A_PLANE),
    )


def _spread(points: Array) -> Array:
    """How far points spread in three directions square to each other, as shares of the farthest."""
    sizes = np.linalg.svd(points - points.mean(axis=0), compute_uv=False)
    sizes = np.r_[sizes, np.zeros(3 - len(sizes))]
    return np.asarray(sizes / sizes[0] if sizes[0] > 0 else np.zeros(3))


def _rms(off: Array) -> float:
    return float(np.sqrt((off * off).sum(axis=1).mean()))


def _vec(point: Array) -> Vec:
    x, y, z = point.tolist()
    return (x, y, z)
