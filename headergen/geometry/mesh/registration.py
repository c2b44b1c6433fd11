"""Where a scan lies, from points known both in it and on the engine: the rigid move that fits best, and its error.

What is left between the points is not how far off the scan is elsewhere: an error of its turn grows with the distance
from their middle.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.frames import vec
from headergen.model import FitSpread, Frame

ON_A_LINE = 0.02  # of their largest spread; points that spread less sideways leave a turn about their line open
IN_A_PLANE = 0.02
TELLS = 3.0  # times what is left, that a mirrored set must leave before points are said to tell it from a true one
SHARE = 0.97  # of cases inside the error that is given as that of 95 in 100: its form is a little approximate
SAID = 0.95  # share of errors of a point that are within the accuracy assumed for it


@dataclass(frozen=True)
class RigidFit:
    """The move from one set of points onto another, and what speaks against it.

    `residuals`: what is left between each pair. `scale`: by how much the first set would have to grow to fit best;
    `scaled_rms` and `mirrored_rms`: what would be left if it were also grown, or mirrored. `in_a_plane`: all points lie
    in one.
    """

    frame: Frame
    residuals: tuple[float, ...]
    scale: float
    rms: float
    scaled_rms: float
    mirrored_rms: float
    in_a_plane: bool
    spread: FitSpread

    @property
    def tells_mirror(self) -> bool:
        """Whether the points can tell a set from its mirror image."""
        return not self.in_a_plane and self.mirrored_rms > TELLS * self.rms


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
    x, y, z = (vec(axis) for axis in turn)
    return RigidFit(
        frame=Frame(vec(target - middle @ turn), x, y, z),
        residuals=tuple(residuals.tolist()),
        scale=scale,
        rms=_rms(p @ turn - q),
        scaled_rms=_rms(scale * (p @ turn) - q),
        mirrored_rms=_rms(p @ mirror - q),
        in_a_plane=bool(_spread(fixed)[2] < IN_A_PLANE),
        spread=_spread_of(fixed, residuals),
    )


def _spread_of(fixed: Array, residuals: Array) -> FitSpread:
    middle, freedom = fixed.mean(axis=0), 3 * len(fixed) - 6
    away = fixed - middle
    x, y, z = (vec(row) for row in away.T @ away)
    return FitSpread(vec(middle), (x, y, z), len(fixed), float((residuals**2).sum()) / freedom, freedom)


def expected_error(spread: FitSpread, points: Array) -> Array:
    """(n,) mm that a fitted set is off by at `points` (n, 3), or less, in 95 of 100 cases.

    First order: a shift of the points' middle and a turn about it, of covariance σ²/n and σ²(tr(M) − M)⁻¹ with M the
    sum of p·pᵀ over the points; its mean square is that of the target registration error of Fitzpatrick, West and
    Maurer (1998). σ² is told from what is left, with 3n − 6 degrees of freedom, so that the squared error over it is
    distributed as F (Student's t where it has one direction); the degrees of freedom of its three unequal directions
    are Satterthwaite's (1946). Where an accuracy of each point was assumed the error is not less than that brings.
    """
    from scipy.special import chdtri, fdtri  # only a mesh that is placed by points pays for the import

    moments, away = np.array(spread.moments), points - np.array(spread.centre)
    turn = np.linalg.inv(np.trace(moments) * np.eye(3) - moments)
    arms = np.cross(np.eye(3)[None], away[:, None])  # rows: what a turn about each axis moves
    shift = np.eye(3) / spread.count + np.einsum("nki,kl,nlj->nij", arms, turn, arms)
    first, second = np.einsum("nii->n", shift), np.einsum("nij,nij->n", shift, shift)
    directions = first**2 / second
    measured = spread.variance * first * fdtri(directions, spread.freedom, SHARE)
    point = spread.assumed**2 / chdtri(3, 1 - SAID)
    assumed = point * first / directions * chdtri(directions, 1 - SHARE)
    return np.asarray(np.sqrt(np.maximum(measured, assumed)))


def _spread(points: Array) -> Array:
    """How far points spread in three directions square to each other, as shares of the farthest."""
    sizes = np.linalg.svd(points - points.mean(axis=0), compute_uv=False)
    sizes = np.r_[sizes, np.zeros(3 - len(sizes))]
    return np.asarray(sizes / sizes[0] if sizes[0] > 0 else np.zeros(3))


def _rms(off: Array) -> float:
    return float(np.sqrt((off * off).sum(axis=1).mean()))
