"""Curves of bodies in rows, so that many places along many of them are found in one go."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from headergen.geometry.body import Array, Curve, Mask, Rows, points_on


@dataclass(frozen=True, eq=False)
class Curves:
    """n lines and arcs, each with what Curve says of it. `turning`: 1/R, 0 for a line.

    `middle` and `reach` are a ball round each.
    """

    start: Array  # (n,)
    length: Array  # (n,)
    origin: Array  # (n, 3)
    u: Array  # (n, 3)
    v: Array  # (n, 3)
    radius: Array  # (n,)
    turning: Array  # (n,)
    half: Array  # (n, 2) cosine and sine of half the angle; 1 and 0 for a line
    middle: Array  # (n, 3)
    reach: Array  # (n,)

    def __getitem__(self, rows: Rows | Mask) -> Curves:
        return Curves(*(getattr(self, name)[rows] for name in NAMES))


def in_rows(curves: Sequence[Curve]) -> Curves:
    """The curves packed; at least one."""
    start, length, radius, angle = np.array([(c.start, c.length, c.radius, c.angle) for c in curves]).T
    origin, u, v = np.array([(c.origin, c.u, c.v) for c in curves]).transpose(1, 0, 2)
    turning = np.divide(1.0, radius, out=np.zeros_like(radius), where=radius > 0)
    middle = np.array([points_on(c, np.array([c.length / 2.0]))[0] for c in curves])
    # from the middle of an arc its ends are farthest, up to a full turn
    reach = np.where(radius > 0, 2.0 * radius * np.sin(np.minimum(angle, 2.0 * np.pi) / 4.0), length / 2.0)
    half = np.column_stack([np.cos(angle / 2.0), np.sin(angle / 2.0)])
    return Curves(start, length, origin, u, v, radius, turning, half, middle, reach)


def places(curves: Curves, into: Array) -> Array:
    """(n, k, 3) points at lengths (n, k) into each curve."""
    radius, turn = curves.radius[:, None], into * curves.turning[:, None]
    ahead = np.where(radius > 0.0, radius * np.sin(turn), into)
    outward = (radius * np.cos(turn))[:, :, None] * curves.u[:, None]
    return np.asarray(curves.origin[:, None] + outward + ahead[:, :, None] * curves.v[:, None])


def tangents(curves: Curves, into: Array) -> Array:
    """(n, k, 3) directions of travel at lengths (n, k) into each curve."""
    turn = into * curves.turning[:, None]
    return np.asarray(np.cos(turn)[:, :, None] * curves.v[:, None] - np.sin(turn)[:, :, None] * curves.u[:, None])


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
    axis, other = np.cross(a.u, a.v), np.cross(b.u, b.v)
    leaning, aside = np.cross(axis, other), np.cross(b.origin - a.origin, axis)
    same = (dots(leaning, leaning) < within**2) & (dots(aside, aside) < within**2)
    return np.asarray((a.radius > 0) & (b.radius > 0) & same)


NAMES = tuple(each.name for each in fields(Curves))
