"""The curves of many bodies in arrays, so that many places along many curves are computed in one call.

The components of vectors are on the first axis, (3, n) or (3, n, k): numpy is fast along the last axis, and slow where
that axis has only three entries.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np

from headergen.geometry.arrays import Array, Mask
from headergen.geometry.curves.body import Curve, Rows


@dataclass(frozen=True, eq=False)
class Curves:
    """n lines and arcs. Each is one column of `packed` (19, n), the fields of Curve, so that one index picks all."""

    packed: Array

    def __getitem__(self, rows: Rows | Mask) -> Curves:
        return Curves(self.packed.take(np.flatnonzero(rows) if rows.dtype == bool else rows, axis=1))

    @property
    def start(self) -> Array:
        return cast(Array, self.packed[0])

    @property
    def length(self) -> Array:
        return cast(Array, self.packed[1])

    @property
    def radius(self) -> Array:
        """(n,), 0 for a line."""
        return cast(Array, self.packed[2])

    @property
    def turning(self) -> Array:
        """(n,) 1/R, 0 for a line."""
        return cast(Array, self.packed[3])

    @property
    def half(self) -> Array:
        """(2, n) cosine and sine of half the angle; 1 and 0 for a line."""
        return self.packed[4:6]

    @property
    def origin(self) -> Array:
        return self.packed[6:9]

    @property
    def u(self) -> Array:
        return self.packed[9:12]

    @property
    def v(self) -> Array:
        return self.packed[12:15]

    @property
    def middle(self) -> Array:
        """(3, n) the middle of each curve, which is also the centre of a ball round it."""
        return self.packed[15:18]

    @property
    def reach(self) -> Array:
        """(n,) radius of that ball."""
        return cast(Array, self.packed[18])


def in_rows(curves: Sequence[Curve]) -> Curves:
    """The curves packed; at least one."""
    length, radius, angle = np.array([(c.length, c.radius, c.angle) for c in curves]).T
    packed = np.zeros((19, len(curves)))
    packed[:3] = [c.start for c in curves], length, radius
    packed[6:15] = np.concatenate([vector for c in curves for vector in (c.origin, c.u, c.v)]).reshape(-1, 9).T
    np.divide(1.0, radius, out=packed[3], where=radius > 0)
    packed[4], packed[5] = np.cos(angle / 2.0), np.sin(angle / 2.0)
    packed[15:18] = places(Curves(packed), length[:, None] / 2.0)[0][..., 0]
    # the points of an arc farthest from its middle are its ends, up to a full turn
    packed[18] = np.where(radius > 0, 2.0 * radius * np.sin(np.minimum(angle, 2.0 * np.pi) / 4.0), length / 2.0)
    return Curves(packed)


def places(curves: Curves, into: Array) -> tuple[Array, Array]:
    """(3, n, k) points at lengths (n, k) into each curve, and the unit tangents there."""
    radius, turn = curves.radius[:, None], into * curves.turning[:, None]
    sine, cosine = np.sin(turn), np.cos(turn)
    u, v = curves.u[..., None], curves.v[..., None]
    points = curves.origin[..., None] + (radius * cosine) * u + np.where(radius > 0.0, radius * sine, into) * v
    return points, cosine * v - sine * u


def nearest_on(curves: Curves, points: Array) -> tuple[Array, Array]:
    """(3, n, k) places on each curve nearest to its points (3, n, k), and the unit tangents there; exact.

    Measured from the middle of the arc's angle, the two ends differ in sign only, so that no angle is computed.
    """
    u, v = curves.u[..., None], curves.v[..., None]
    w = points - curves.origin[..., None]
    x, y = dots(w, u), dots(w, v)
    radius, (cosine, sine) = curves.radius[:, None], curves.half[..., None]
    ahead, beside = x * cosine + y * sine, y * cosine - x * sine
    rho = np.sqrt(ahead * ahead + beside * beside)
    within = (ahead >= rho * cosine) & (rho > 0.0)
    rho[~within] = 1.0
    along = np.where(within, ahead / rho, cosine)
    across = np.where(within, beside / rho, np.copysign(sine, beside))
    turned_u, turned_v = along * cosine - across * sine, along * sine + across * cosine
    is_line = radius == 0.0
    onto_v = np.where(is_line, np.minimum(np.maximum(y, 0.0), curves.length[:, None]), radius * turned_v)
    travel = np.where(is_line, 1.0, turned_u) * v - turned_v * u
    return curves.origin[..., None] + (radius * turned_u) * u + onto_v * v, travel


def nearest_into(curves: Curves, points: Array) -> Array:
    """(n, k) lengths into each curve of the places nearest to its points (3, n, k); exact."""
    w = points - curves.origin[..., None]
    ahead = dots(w, curves.v[..., None])
    half = (curves.length * curves.turning / 2.0)[:, None]
    turn = np.arctan2(ahead, dots(w, curves.u[..., None]))
    # the angle is wrapped about the middle of the arc, so that clipping picks the nearer end
    turn = (turn - half + np.pi) % (2.0 * np.pi) - np.pi + half
    radius = curves.radius[:, None]
    onto = np.where(radius > 0.0, turn * radius, ahead)
    return np.asarray(np.minimum(np.maximum(onto, 0.0), curves.length[:, None]))


def dots(a: Array, b: Array) -> Array:
    """(…) dot products of vectors (3, …)."""
    return np.asarray(a[0] * b[0] + a[1] * b[1] + a[2] * b[2])


def lengths(a: Array) -> Array:
    """(…) lengths of vectors (3, …)."""
    return np.asarray(np.sqrt(dots(a, a)))


def crosses(a: Array, b: Array) -> Array:
    """(3, …) cross products of vectors (3, …)."""
    return np.stack([a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]])


def about_one_axis(a: Curves, b: Curves, within: float) -> Mask:
    """Which rows are two arcs about the same axis, within `within` as a sine and as a distance."""
    same = (a.radius > 0.0) & (b.radius > 0.0)
    arcs = np.flatnonzero(same)
    a, b = a[arcs], b[arcs]
    axis = crosses(a.u, a.v)
    leaning, aside = crosses(axis, crosses(b.u, b.v)), crosses(b.origin - a.origin, axis)
    same[arcs] = (dots(leaning, leaning) < within**2) & (dots(aside, aside) < within**2)
    return np.asarray(same)
