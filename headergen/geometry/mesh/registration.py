"""Placing a scan by points known both in it and on the engine: the best rigid transform, and its error.

The residuals at the points do not say how far off the scan is elsewhere: a rotation error grows with the distance from
the points' centre.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.frames import vec
from headergen.model import FitSpread, Frame

ON_A_LINE = 0.02  # of their largest spread: points that spread less sideways leave the turn about their line open
IN_A_PLANE = 0.02
TELLS = 3.0  # factor by which a mirrored fit must be worse before the points tell it from a true one
SHARE = 0.97  # of cases within the error stated as the 95 % error: its form is slightly approximate
SAID = 0.95  # share of a point's errors that are within its assumed accuracy


@dataclass(frozen=True)
class RigidFit:
    """The transform from one set of points onto another, and the signs that something is wrong with it.

    `residuals`: the distance left in each pair. `scale`: the factor by which the first set would fit best; `scaled_rms`
    and `mirrored_rms`: the residual if the first set were also scaled, or mirrored. `in_a_plane`: all points lie in one
    plane.
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
    """The frame for the axes of `moved` (n, 3) that brings these points nearest to `fixed` (n, 3) by least squares.

    Closed form by singular values (Kabsch 1976; scale by Umeyama 1991). Raises ValueError for fewer than three pairs
    and for points on a line.
    """
    if len(moved) < 3 or _spread(moved)[1] < ON_A_LINE or _spread(fixed)[1] < ON_A_LINE:
        raise ValueError("three points off a line are needed at least")
    middle, target = moved.mean(axis=0), fixed.mean(axis=0)
    p, q = moved - middle, fixed - target
    left, sizes, right = np.linalg.svd(p.T @ q)
    handed = 1.0 if np.linalg.det(left) * np.linalg.det(right) > 0 else -1.0
    turn = (left * np.array([1.0, 1.0, handed])) @ right  # rows: the axes of the moved set in those of the fixed one
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
    """(n,) mm within which a fitted set is placed at `points` (n, 3) in 95 of 100 cases.

    First order: the error is a shift of the points' centre and a turn about it, with covariance σ²/n and σ²(tr(M) −
    M)⁻¹, where M is the sum of p·pᵀ over the points. Its mean square is that of the target registration error of
    Fitzpatrick, West and Maurer (1998). σ² is estimated from the residuals, with 3n − 6 degrees of freedom, so that the
    squared error over it has an F distribution (Student's t where the error has one direction); the degrees of freedom
    of its three unequal directions are Satterthwaite's (1946). If an accuracy of each point was assumed, the error is
    at least the one that follows from it.
    """
    from scipy.special import chdtri, fdtri  # imported here: only a mesh placed by points needs it

    moments, away = np.array(spread.moments), points - np.array(spread.centre)
    turn = np.linalg.inv(np.trace(moments) * np.eye(3) - moments)
    arms = np.cross(np.eye(3)[None], away[:, None])  # rows: how a turn about each axis moves the point
    shift = np.eye(3) / spread.count + np.einsum("nki,kl,nlj->nij", arms, turn, arms)
    first, second = np.einsum("nii->n", shift), np.einsum("nij,nij->n", shift, shift)
    directions = first**2 / second
    measured = spread.variance * first * fdtri(directions, spread.freedom, SHARE)
    point = spread.assumed**2 / chdtri(3, 1 - SAID)
    assumed = point * first / directions * chdtri(directions, 1 - SHARE)
    return np.asarray(np.sqrt(np.maximum(measured, assumed)))


def _spread(points: Array) -> Array:
    """The spread of points in three perpendicular directions, as shares of the largest."""
    sizes = np.linalg.svd(points - points.mean(axis=0), compute_uv=False)
    sizes = np.r_[sizes, np.zeros(3 - len(sizes))]
    return np.asarray(sizes / sizes[0] if sizes[0] > 0 else np.zeros(3))


def _rms(off: Array) -> float:
    return float(np.sqrt((off * off).sum(axis=1).mean()))
