"""A run of pieces that need not meet square: its frames, and how its end moves with each value of a piece.

Axes as in hand/chain.py: z along the travel, x toward the inside of the last bend. At the start of a piece the tube
first leans about an axis across it, in the axes of the piece before, and then turns into the bend of the piece.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from headergen.geometry.arrays import Array
from headergen.hand.chain import about_y, about_z, arc_shift

TILT_X, TILT_Y, TURN, FIRST, ANGLE, LAST, BEFORE = range(7)
VALUES = 7
NAMES = ("tilt_x", "tilt_y", "turn", "first", "angle", "last", "before")
Pose = tuple[Array, Array]  # (3, 3) with the axes as columns, (3,)


@dataclass(frozen=True)
class BuiltPiece:
    """A piece with the joint at its start: straight, arc, straight; mm and rad. A straight is all `first`.

    `before`: by which the piece before is longer than its values say. `jump`: where its end really is, in the axes of
    the end that its values give; None if there.
    """

    turn: float
    first: float
    angle: float
    radius: float
    last: float
    tilt_x: float = 0.0
    tilt_y: float = 0.0
    before: float = 0.0
    jump: tuple[tuple[float, ...], tuple[float, ...]] | None = None  # nine of a rotation, row by row, and a shift

    def changed(self, values: Sequence[float] | Array) -> BuiltPiece:
        """The piece with its values changed by these."""
        return replace(self, **{name: getattr(self, name) + float(by) for name, by in zip(NAMES, values, strict=True)})


def over(pose: Pose, piece: BuiltPiece) -> Pose:
    """The pose at the end of a piece, from the end of the one before."""
    axes, origin = turned_into(pose, piece)
    across, along = arc_shift(piece.radius, piece.angle)
    sine, cosine = np.sin(piece.angle), np.cos(piece.angle)
    shift = np.array([across + piece.last * sine, 0.0, piece.first + along + piece.last * cosine], float)
    end = origin + axes @ shift
    axes = axes @ about_y(piece.angle)
    if piece.jump is not None:
        turned, moved = np.reshape(piece.jump[0], (3, 3)), np.array(piece.jump[1])
        return axes @ turned, end + axes @ moved
    return axes, end


def poses(start: Pose, pieces: Sequence[BuiltPiece]) -> list[Pose]:
    """The start, and the end of every piece."""
    found = [start]
    for piece in pieces:
        found.append(over(found[-1], piece))
    return found


def turned_into(pose: Pose, piece: BuiltPiece) -> Pose:
    """The start of a piece, leaning and turned into its bend."""
    return pose[0] @ leaning(piece) @ about_z(piece.turn), pose[1] + piece.before * pose[0][:, 2]


def leaning(piece: BuiltPiece) -> Array:
    """(3, 3) the rotation by which a piece leans: about the vector (tilt_x, tilt_y, 0), by its length."""
    return turned_by(np.array([piece.tilt_x, piece.tilt_y, 0.0]))


def motions_of(pose: Pose, piece: BuiltPiece) -> Array:
    """(7, 6) for a unit of each value, the motion of all that follows: turn ω, then shift v of the world's origin.

    Those of a lean are right to its first order, so that an answer is reached in a few more rounds.
    """
    made = np.zeros((VALUES, 6))
    axes, origin = turned_into(pose, piece)
    leans = np.array([piece.tilt_x, piece.tilt_y, 0.0])
    for value, across in ((TILT_X, np.array([1.0, 0, 0])), (TILT_Y, np.array([0, 1.0, 0]))):
        made[value] = _turn(pose[0] @ (across + np.cross(leans, across) / 2), origin)
    centre = origin + axes @ np.array([piece.radius, 0.0, piece.first])
    made[TURN] = _turn(axes[:, 2], origin)
    made[FIRST, 3:] = axes[:, 2]
    made[ANGLE] = _turn(axes[:, 1], centre)
    made[LAST, 3:] = axes @ about_y(piece.angle)[:, 2]
    made[BEFORE, 3:] = pose[0][:, 2]
    return made


def _turn(axis: Array, through: Array) -> Array:
    return np.concatenate([axis, np.cross(through, axis)])


def inverse_over(pose: Pose, piece: BuiltPiece) -> Pose:
    """The end of the piece before, from the end of a piece."""
    axes, end = over((np.eye(3), np.zeros(3)), piece)
    back = pose[0] @ axes.T
    return back, pose[1] - back @ end


def jump_between(here: Pose, there: Pose) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """The second pose in the axes of the first."""
    turned = here[0].T @ there[0]
    moved = here[0].T @ (there[1] - here[1])
    return tuple(float(each) for each in turned.ravel()), tuple(float(each) for each in moved)


def rotation_vector(matrix: Array) -> Array:
    """(3,) axis times angle of a rotation by less than half a turn."""
    skew = np.array([matrix[2, 1] - matrix[1, 2], matrix[0, 2] - matrix[2, 0], matrix[1, 0] - matrix[0, 1]]) / 2
    sine = float(np.linalg.norm(skew))
    if sine < 1e-12:
        return skew
    found: Array = skew / sine * np.arctan2(sine, (np.trace(matrix) - 1) / 2)
    return found


def turned_by(vector: Array) -> Array:
    """(3, 3) the rotation about a vector by its length (Rodrigues' formula)."""
    angle = float(np.linalg.norm(vector))
    if angle < 1e-15:
        return np.eye(3)
    x, y, z = vector / angle
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    found: Array = np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * cross @ cross
    return found
