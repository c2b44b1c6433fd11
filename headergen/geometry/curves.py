"""Curves of bodies in rows, so that many places along many of them are found in one go."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from headergen.geometry.body import Array, Curve, Mask, Rows


@dataclass(frozen=True, eq=False)
class Curves:
    """n lines and arcs, each with what Curve says of it, a row of `packed` (n, 19): so one pick takes all of it."""

    packed: Array

    def __getitem__(self, rows: Rows | Mask) -> Curves:
        return Curves(self.packed[rows])

    @property
    def start(self) -> Array:
        return self.packed[:, 0]

    @property
    def length(self) -> Array:
        return self.packed[:, 1]

    @property
    def radius(self) -> Array:
        """(n,), 0 for a line."""
        return self.packed[:, 2]

    @property
    def turning(self) -> Array:
        """(n,) 1/R, 0 for a line."""
        return self.packed[:, 3]

    @property
    def half(self) -> Array:
        """(n, 2) cosine and sine of half the angle; 1 and 0 for a line."""
        return self.packed[:, 4:6]

    @property
    def origin(self) -> Array:
        return self.packed[:, 6:9]

    @property
    def u(self) -> Array:
        return self.packed[:, 9:12]

    @property
    def v(self) -> Array:
        return self.packed[:, 12:15]

    @property
    def middle(self) -> Array:
        """(n, 3) middle of the curve and of a ball round it."""
        return self.packed[:, 15:18]

    @property
    def reach(self) -> Array:
        """(n,) radius of that ball."""
        return self.packed[:, 18]


def in_rows(curves: Sequence[Curve]) -> Curves:
    """The curves packed; at least one."""
    plain = np.array([(c.start, c.length, c.radius, c.angle, *c.origin, *c.u, *c.v) for c in curves])
    packed = np.zeros((len(curves), 19))
    packed[:, :3], packed[:, 6:15] = plain[:, :3], plain[:, 4:]
    length, radius, angle = plain[:, 1], plain[:, 2], plain[:, 3]
    np.divide(1.0, radius, out=packed[:, 3], where=radius > 0)
    packed[:, 4], packed[:, 5] = np.cos(angle / 2.0), np.sin(angle / 2.0)
    packed[:, 15:18] = places(Curves(packed), length[:, None] / 2.0)[0][:, 0]
    # from the middle of an arc its ends are farthest, up to a full turn
    packed[:, 18] = np.where(radius > 0, 2.0 * radius * np.sin(np.minimum(angle, 2.0 * np.pi) / 4.0), length / 2.0)
    return Curves(packed)


def places(curves: Curves, into: Array) -> tuple[Array, Array]:
    """(n, k, 3) points at lengths (n, k) into each curve, and the directions of travel there."""
    radius, turn = curves.radius[:, None], into * curves.turning[:, None]
    sine, cosine = np.sin(turn)[..., None], np.cos(turn)[..., None]
    u, v = curves.u[:, None], curves.v[:, None]
    ahead = np.where(radius > 0.0, radius * sine[..., 0], into)
    points = curves.origin[:, None] + (radius[..., None] * cosine) * u + ahead[..., None] * v
    return points, cosine * v - sine * u


def nearest_on(curves: Curves, points: Array) -> tuple[Array, Array]:
    """(n, k, 3) places on each curve nearest to its points (n, k, 3), and the directions of travel there; exact.

    Seen from the middle of an arc's angle its ends are one but for their sign, so that no angle is needed.
    """
    w = points - curves.origin[:, None]
    x, y = np.einsum("nkj,nj->nk", w, curves.u), np.einsum("nkj,nj->nk", w, curves.v)
    radius, cosine, sine = curves.radius[:, None], curves.half[:, :1], curves.half[:, 1:]
    ahead, beside = x * cosine + y * sine, y * cosine - x * sine
    rho = np.sqrt(ahead * ahead + beside * beside)
    within = (ahead >= rho * cosine) & (rho > 0.0)
    rho[~within] = 1.0
    along = np.where(within, ahead / rho, cosine)
    across = np.where(within, beside / rho, np.copysign(sine, beside))
    turned_u, turned_v = along * cosine - across * sine, along * sine + across * cosine
    is_line = radius == 0.0
    onto_v = np.where(is_line, np.minimum(np.maximum(y, 0.0), curves.length[:, None]), radius * turned_v)
    places_there = (radius * turned_u)[..., None] * curves.u[:, None] + onto_v[..., None] * curves.v[:, None]
    travel_v = np.where(is_line, 1.0, turned_u)
    travel = travel_v[..., None] * curves.v[:, None] - turned_v[..., None] * curves.u[:, None]
    return curves.origin[:, None] + places_there, travel


def nearest_into(curves: Curves, points: Array) -> Array:
    """(n, k) lengths into each curve of the places nearest to its points (n, k, 3); exact."""
    w = points - curves.origin[:, None]
    ahead = np.einsum("nkj,nj->nk", w, curves.v)
    half = (curves.length * curves.turning / 2.0)[:, None]
    turn = np.arctan2(ahead, np.einsum("nkj,nj->nk", w, curves.u))
    # wrapped about the middle of the arc, so that clipping picks the nearer end
    turn = (turn - half + np.pi) % (2.0 * np.pi) - np.pi + half
    radius = curves.radius[:, None]
    return np.asarray(np.clip(np.where(radius > 0.0, turn * radius, ahead), 0.0, curves.length[:, None]))


def dots(a: Array, b: Array) -> Array:
    """(…) products of vectors (…, 3)."""
    return np.asarray(np.einsum("...j,...j->...", a, b))


def about_one_axis(a: Curves, b: Curves, within: float) -> Mask:
    """Which rows are two arcs about the same axis, within a sine and a distance."""
    same = (a.radius > 0.0) & (b.radius > 0.0)
    arcs = np.flatnonzero(same)
    a, b = a[arcs], b[arcs]
    axis = np.cross(a.u, a.v)
    leaning, aside = np.cross(axis, np.cross(b.u, b.v)), np.cross(b.origin - a.origin, axis)
    same[arcs] = (dots(leaning, leaning) < within**2) & (dots(aside, aside) < within**2)
    return np.asarray(same)
