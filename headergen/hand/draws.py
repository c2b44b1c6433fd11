"""Builds of a run with random errors for every joint and piece: the reference for first-order spreads."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from headergen.geometry.arrays import Array
from headergen.hand.chain import (
    ANGLE,
    CLOCKING,
    ERRORS,
    LENGTH,
    RADIUS,
    SHRINKAGE,
    TILT_X,
    TILT_Y,
    PieceChain,
    about_x,
    about_y,
    about_z,
    shift_of,
)

Poses = tuple[Array, Array]  # (d, 3, 3) with the axes as columns, (d, 3)


def draw(spreads: Array, count: int, seed: int) -> Array:
    """(count, n, 7) normally distributed errors of `count` builds."""
    return np.random.default_rng(seed).standard_normal((count, *spreads.shape[:1], ERRORS)) * spreads


def over_joint(chain: PieceChain, k: int, errors: Array) -> Poses:
    """From the end of the piece before link `k` to the start of its own piece, turned into its bend."""
    e = errors[:, k]
    turn = about_x(e[:, TILT_X]) @ about_y(e[:, TILT_Y]) @ about_z(chain.links[k].clocking + e[:, CLOCKING])
    shift = np.zeros((len(e), 3))
    shift[:, 2] = e[:, SHRINKAGE]
    return turn, shift


def over_piece(chain: PieceChain, k: int, errors: Array) -> Poses:
    """From the start of a piece to its end."""
    link, e = chain.links[k], errors[:, k]
    return about_y(link.angle + e[:, ANGLE]), shift_of(link, e[:, ANGLE], e[:, RADIUS], e[:, LENGTH])


def place_after(start: Poses, chain: PieceChain, k: int, errors: Array, into: float, count: int) -> Array:
    """(count, 3) the centre of the tube at a place in a piece, in the first `count` builds, from the piece's start.

    The error of its angle is at the end of its arc.
    """
    link, e = chain.links[k], errors[:count, k]
    arc = min(max(into - link.legs[0], 0.0), link.angle * link.radius)
    last = max(into - link.legs[0] - link.angle * link.radius, 0.0)
    part = replace(link, legs=(min(into, link.legs[0]), last), angle=arc / link.radius if link.angle > 0 else 0.0)
    shift = shift_of(part, e[:, ANGLE] * float(last > 0), e[:, RADIUS])
    found: Array = start[1][:count] + np.einsum("dij,dj->di", start[0][:count], shift)
    return found


def after(first: Poses, second: Poses) -> Poses:
    """One motion and then another, each in the axes that the motion before leads to."""
    return first[0] @ second[0], first[1] + np.einsum("dij,dj->di", first[0], second[1])


def undone(pose: Poses) -> Poses:
    back = np.swapaxes(pose[0], 1, 2)
    return back, -np.einsum("dij,dj->di", back, pose[1])


def from_flange(chain: PieceChain, errors: Array) -> tuple[list[Poses], list[Poses]]:
    """Start and end of every piece, built from the first piece on."""
    count = len(errors)
    before = np.broadcast_to(chain.frames[0] @ about_z(-chain.links[0].clocking), (count, 3, 3))
    pose: Poses = (before, np.broadcast_to(chain.origins[0], (count, 3)))
    starts, ends = [], []
    for k in range(chain.size):
        starts.append(after(pose, over_joint(chain, k, errors)))
        pose = after(starts[-1], over_piece(chain, k, errors))
        ends.append(pose)
    return starts, ends


def from_bore(chain: PieceChain, errors: Array) -> tuple[list[Poses], list[Poses]]:
    """Start and end of every piece, built backward from the last piece, whose end is in its bore."""
    count = len(errors)
    pose: Poses = (np.broadcast_to(chain.frames[-1], (count, 3, 3)), np.broadcast_to(chain.origins[-1], (count, 3)))
    starts, ends = [], []
    for k in reversed(range(chain.size)):
        ends.append(pose)
        starts.append(after(pose, undone(over_piece(chain, k, errors))))
        pose = after(starts[-1], undone(over_joint(chain, k, errors)))
    return starts[::-1], ends[::-1]
