"""A run as it is built: joint, piece, joint, piece; and the effect of each error of the hand, to first order.

The axes of a place along the run: z along the travel, x toward the inside of the last bend. An error is a small motion
of all that follows it: a turn ω about an axis and a shift v, which move a point q by v + ω × q. As a derivative that is
exact (the product of exponentials of a serial chain: Lynch and Park, Modern Robotics, chapters 4 and 5).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from headergen.geometry.arrays import Array, crossed
from headergen.model import CutPiece, Frame, HandSettings

# the errors of a link: first of the joint at its start, then of its piece
CLOCKING, TILT_X, TILT_Y, SHRINKAGE, ANGLE, RADIUS, LENGTH = range(7)
ERRORS = 7
OF_JOINT = (CLOCKING, TILT_X, TILT_Y, SHRINKAGE)


@dataclass(frozen=True)
class Link:
    """A piece with the joint at its start, turned there by `clocking`: straight, arc, straight. Rad and mm."""

    clocking: float
    legs: tuple[float, float]
    angle: float
    radius: float


@dataclass(frozen=True, eq=False)
class PieceChain:
    """The links of a run from the frame where its tube begins.

    `frames` (n + 1, 3, 3), with the axes as columns, and `origins` (n + 1, 3): the start of each piece, already turned
    into its bend, and the end of the last piece.
    """

    run: str
    links: tuple[Link, ...]
    frames: Array
    origins: Array

    @property
    def size(self) -> int:
        return len(self.links)


def chain_of(run: str, start: Frame, pieces: Sequence[CutPiece], turns: Sequence[float]) -> PieceChain:
    """The chain of a run from the frame where its tube begins; `turns` are those of its bends, in order (rad)."""
    bends = iter(turns)
    links = tuple(
        Link(next(bends) if piece.is_bend else 0.0, piece.legs, piece.angle, piece.radius) for piece in pieces
    )
    frame, origin = np.array([start.x, start.y, start.z]).T, np.array(start.origin)
    frames, origins = [], []
    for link in links:
        frame = frame @ about_z(link.clocking)
        frames.append(frame)
        origins.append(origin)
        origin = origin + frame @ shift_of(link)
        frame = frame @ about_y(link.angle)
    return PieceChain(run, links, np.array([*frames, frame]), np.array([*origins, origin]))


def about_z(angle: float | Array) -> Array:
    """(…, 3, 3) rotations about z, right-hand positive."""
    return _about(angle, (0, 1, 2))


def about_x(angle: float | Array) -> Array:
    return _about(angle, (1, 2, 0))


def about_y(angle: float | Array) -> Array:
    return _about(angle, (2, 0, 1))


def _about(angle: float | Array, axes: tuple[int, int, int]) -> Array:
    first, second, own = axes
    angle = np.asarray(angle, float)
    turned = np.zeros((*angle.shape, 3, 3))
    turned[..., own, own] = 1.0
    turned[..., first, first] = turned[..., second, second] = np.cos(angle)
    turned[..., second, first] = np.sin(angle)
    turned[..., first, second] = -np.sin(angle)
    return turned


def shift_of(link: Link, angle: float | Array = 0.0, radius: float | Array = 0.0, length: float | Array = 0.0) -> Array:
    """(…, 3) the vector from the start of a piece to its end, in the axes of its start.

    With errors of its angle (rad), of its radius (a share), and of the straight at its end (mm).
    """
    bent = link.angle + np.asarray(angle)
    across, along = arc_shift(link.radius * (1 + np.asarray(radius)), bent)
    last = link.legs[1] + np.asarray(length)
    x, z = across + last * np.sin(bent), link.legs[0] + along + last * np.cos(bent)
    x, z = np.broadcast_arrays(x, z)
    return np.stack([x, np.zeros_like(x), z], axis=-1)


def arc_shift(radius: float | Array, angle: float | Array) -> tuple[Array, Array]:
    """Along an arc: the components toward its centre, and along the tangent at its start (mm)."""
    return radius * 2 * np.sin(np.asarray(angle) / 2) ** 2, radius * np.sin(angle)


def spreads_of(chain: PieceChain, hand: HandSettings, saddles: bool = False) -> Array:
    """(n, 7) the standard deviation of each error.

    At the first joint, in the flange, nothing shrinks along the tube. A straight has no bend, and no bend plane to
    turn.
    """
    clocking, square = (hand.saddle, hand.saddle) if saddles else (hand.clocking, hand.square)
    rows = []
    for k, link in enumerate(chain.links):
        bent = float(link.angle > 0)
        shrinkage = hand.shrinkage if k else 0.0
        rows.append([clocking * bent, square, square, shrinkage, hand.bend * bent, hand.radius * bent, hand.length])
    return np.array(rows)


def motions(chain: PieceChain) -> Array:
    """(n, 7, 6) the motion of all that follows for one unit of each error: turn ω, then shift v, in world axes."""
    made = np.zeros((chain.size, ERRORS, 6))
    for k, link in enumerate(chain.links):
        frame, origin = chain.frames[k], chain.origins[k]
        before = frame @ about_z(-link.clocking)  # a tilt is that of the face before it is turned into the bend
        bent = frame @ about_y(link.angle)
        centre = origin + frame @ np.array([link.radius, 0.0, link.legs[0]])
        across, along = arc_shift(link.radius, link.angle)
        made[k, CLOCKING] = _turn(frame[:, 2], origin)
        made[k, TILT_X] = _turn(before[:, 0], origin)
        made[k, TILT_Y] = _turn(before[:, 1], origin)
        made[k, SHRINKAGE, 3:] = frame[:, 2]
        made[k, ANGLE] = _turn(frame[:, 1], centre)
        made[k, RADIUS, 3:] = frame @ np.array([float(across), 0.0, float(along)])
        made[k, LENGTH, 3:] = bent[:, 2]
    return made


def _turn(axis: Array, through: Array) -> Array:
    return np.concatenate([axis, crossed(through, axis)])


def moved(motion: Array, point: Array) -> Array:
    """(…, 6) → (…, 6) turn and displacement of a point under motions."""
    turn = motion[..., :3]
    return np.concatenate([turn, motion[..., 3:] + crossed(turn, point)], axis=-1)
