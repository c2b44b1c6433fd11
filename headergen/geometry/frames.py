"""Small vectors and right-handed frames as plain tuples; numpy only where a rotation is applied to many points."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from headergen.model import Frame, Vec

WORLD = Frame((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
PARALLEL = 1e-9  # sine of the angle below which two directions count as parallel


def vec(point: Iterable[float]) -> Vec:
    """Three numbers of any kind (an array too) as a plain tuple."""
    x, y, z = (float(value) for value in point)
    return (x, y, z)


def add(a: Vec, b: Vec, scale: float = 1.0) -> Vec:
    """a + scale · b."""
    return (a[0] + scale * b[0], a[1] + scale * b[1], a[2] + scale * b[2])


def subtract(a: Vec, b: Vec) -> Vec:
    """a − b."""
    return (a[0] - b[0], a[1] - b[1], a[2] - b[2])


def scaled(a: Vec, factor: float) -> Vec:
    """`factor` times `a`."""
    return (a[0] * factor, a[1] * factor, a[2] * factor)


def dot(a: Vec, b: Vec) -> float:
    """The scalar product a · b."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Vec, b: Vec) -> Vec:
    """The vector product a × b, right-handed."""
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def norm(a: Vec) -> float:
    """The length |a|."""
    return math.sqrt(dot(a, a))


def unit(a: Vec) -> Vec:
    """The unit vector along `a`. Raises ValueError when `a` has no length."""
    length = norm(a)
    if length < 1e-12:
        raise ValueError("a direction needs a length")
    return scaled(a, 1 / length)


def angle_between(a: Vec, b: Vec) -> float:
    """Angle between two directions in 0…π; 2·atan2(|u − v|, |u + v|) keeps its digits near 0 and π."""
    u, v = unit(a), unit(b)
    return 2 * math.atan2(norm(subtract(u, v)), norm(add(u, v)))


def rotated(v: Vec, axis: Vec, angle: float) -> Vec:
    """`v` turned about the unit `axis`, right-hand positive (Rodrigues' formula)."""
    c, s = math.cos(angle), math.sin(angle)
    along = dot(axis, v) * (1 - c)
    across = cross(axis, v)
    return (
        v[0] * c + across[0] * s + axis[0] * along,
        v[1] * c + across[1] * s + axis[1] * along,
        v[2] * c + across[2] * s + axis[2] * along,
    )


def any_normal(z: Vec) -> Vec:
    """A unit vector perpendicular to `z`: the world axis least along it, made perpendicular."""
    seed = min(((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)), key=lambda axis: abs(dot(axis, z)))
    return unit(add(seed, z, -dot(seed, z)))


def frame_from_normal(origin: Vec, normal: Vec, x: Vec | None = None) -> Frame:
    """A frame with z along `normal`, and x as near to the given `x` as being perpendicular to z allows.

    Raises ValueError when `normal` has no length or when `x` is parallel to it.
    """
    z = unit(normal)
    if x is None:
        x_axis = any_normal(z)
    else:
        square = add(unit(x), z, -dot(unit(x), z))
        if norm(square) < PARALLEL:
            raise ValueError("x runs along the normal")
        x_axis = unit(square)
    return Frame(origin, x_axis, cross(z, x_axis), z)


def tilted(frame: Frame, angle: float, toward: float) -> Frame:
    """`frame` tilted by `angle`, so that its z falls toward the angle `toward` from its x (x to y positive)."""
    axis = add(scaled(frame.x, -math.sin(toward)), frame.y, math.cos(toward))
    return Frame(frame.origin, *(rotated(v, axis, angle) for v in (frame.x, frame.y, frame.z)))


def point_in(frame: Frame, local: Vec) -> Vec:
    """The engine-axes place of a point given in the axes of `frame`."""
    return add(add(add(frame.origin, frame.x, local[0]), frame.y, local[1]), frame.z, local[2])


def determinant(frame: Frame) -> float:
    """+1 for a right-handed frame, −1 for a mirrored one."""
    return dot(cross(frame.x, frame.y), frame.z)


def axes_matrix(frame: Frame) -> NDArray[np.float64]:
    """(3, 3) matrix whose rows are the axes: points @ axes_matrix + origin takes local points to engine axes."""
    return np.array([frame.x, frame.y, frame.z])
