"""Closing a run between its two ends: pieces from the flange, pieces from the bore, and one joint where they meet.

The collector is held in plates. The end piece, with the pieces on it, may turn about its bore's axis and slide along it
until it is tacked. Where the two sides meet, excess length is cut off. So a closing joint has three freedoms of place.
Two of tilt are missing: they remain as a kink, cut into the faces of the joint.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.arrays import Array
from headergen.hand.chain import OF_JOINT, PieceChain, about_z, moved
from headergen.hand.draws import Poses
from headergen.model import HandSettings

Flags = NDArray[np.bool_]

ROUNDS = 3  # of turning and sliding; each leaves a thousandth of the error
FAINT = 1e-3  # weight of turn and slide themselves, so that neither is used where it has no effect


@dataclass(frozen=True, eq=False)
class Meeting:
    """A closing joint, as planned.

    `axes`: (3, 3), across and along the tube as columns; `bore`: a point on the axis about which the end piece turns,
    and its direction. `moves`: (4, 2), the effect of a turn and a slide on the two steps and the two kinks across;
    `answer`: (2, 4), the turn and slide that minimise such steps and kinks. `slides`: the least and the most that the
    end piece may slide, positive into its bore; `missing`: the length that may be missing at the joint, which is the
    spare that can be left on there (mm).
    """

    joint: int  # the number of the piece before
    axes: Array
    point: Array
    bore: tuple[Array, Array]
    moves: Array
    answer: Array
    scale: Array
    slides: tuple[float, float]
    missing: float


def meeting_at(
    chain: PieceChain, joint: int, hand: HandSettings, slides: tuple[float, float], missing: float
) -> Meeting:
    """A step is weighed by how far a tube may be sprung, a kink by half its limit, so that most builds close."""
    axes = chain.frames[joint] @ about_z(-chain.links[joint].clocking)
    point, along, end = chain.origins[joint], chain.frames[-1][:, 2], chain.origins[-1]
    x, y, z = axes.T
    swept, swung = np.cross(along, point - end), np.cross(along, z)
    moves = np.array([[x @ swept, x @ along], [y @ swept, y @ along], [x @ swung, 0.0], [y @ swung, 0.0]])
    step, kink = max(hand.spring, hand.step, FAINT), max(hand.kink / 2, FAINT)
    scale = np.array([step, step, kink, kink])
    faint = np.diag([FAINT / max(hand.turn, FAINT) ** 2, FAINT / max(hand.spare, FAINT) ** 2])
    weighed = moves / scale[:, None]
    answer = -np.linalg.solve(weighed.T @ weighed + faint, weighed.T) / scale
    return Meeting(joint, axes, point, (end, along), moves, answer, scale, slides, missing)


@dataclass(frozen=True, eq=False)
class Closed:
    """How builds close, (d,) each: turn (rad) and slide (mm) of the end piece, step (mm) and kink (rad) at the joint.

    `missing`: the length missing there along the tube (mm; negative: excess that is cut off).
    """

    turn: Array
    slide: Array
    step: Array
    kink: Array
    missing: Array


def close_builds(meeting: Meeting, ends: Poses, starts: Poses, hand: HandSettings) -> Closed:
    """Turn and slide until the tubes line up, within the limits.

    If one of the two is at its limit, the other does what it can. `ends`: of the pieces before the joint, `starts`: of
    those after it.
    """
    turn, slide = np.zeros(len(ends[1])), np.zeros(len(ends[1]))
    for _ in range(ROUNDS):
        off = _off(meeting, ends, starts, turn, slide)[0]
        step = off @ meeting.answer.T
        turn, slide = turn + step[:, 0], slide + step[:, 1]
    turn, slide = _within(meeting, (ends, starts), (turn, slide), hand)
    off, missing = _off(meeting, ends, starts, turn, slide)
    return Closed(turn, slide, np.hypot(off[:, 0], off[:, 1]), np.hypot(off[:, 2], off[:, 3]), missing)


def _within(
    meeting: Meeting, sides: tuple[Poses, Poses], found: tuple[Array, Array], hand: HandSettings
) -> tuple[Array, Array]:
    turn, slide = found
    low, high = meeting.slides
    is_over = np.abs(turn) > hand.turn
    turn = np.clip(turn, -hand.turn, hand.turn)
    slide = np.where(is_over, slide + _alone(meeting, 1, _off(meeting, *sides, turn, slide)[0]), slide)
    is_over = (slide < low) | (slide > high)
    slide = np.clip(slide, low, high)
    more = _alone(meeting, 0, _off(meeting, *sides, turn, slide)[0])
    return np.clip(np.where(is_over, turn + more, turn), -hand.turn, hand.turn), slide


def _alone(meeting: Meeting, which: int, off: Array) -> Array:
    """The change of one of the two freedoms that best removes the mismatch, with the other at its limit."""
    column = meeting.moves[:, which] / meeting.scale
    found: Array = -(off / meeting.scale) @ column / max(float(column @ column), FAINT**2)
    return found


def _off(meeting: Meeting, ends: Poses, starts: Poses, turn: Array, slide: Array) -> tuple[Array, Array]:
    """(d, 4) two steps and two kinks across; (d,) the length missing along the tube."""
    end, along = meeting.bore
    before, after = ends[0][:, :, 2], turned(starts[0][:, :, 2], along, turn)
    place = end + turned(starts[1] - end, along, turn) + slide[:, None] * along
    middle = before + after
    middle /= np.linalg.norm(middle, axis=1)[:, None]
    between = place - ends[1]
    missing = np.einsum("di,di->d", between, middle)
    across = (between - missing[:, None] * middle) @ meeting.axes[:, :2]
    return np.concatenate([across, (after - before) @ meeting.axes[:, :2]], axis=1), missing


def turned(vectors: Array, axis: Array, angle: Array) -> Array:
    """(d, 3) vectors rotated about one axis, each by its own angle (Rodrigues' formula)."""
    c, s = np.cos(angle)[:, None], np.sin(angle)[:, None]
    made: Array = vectors * c + np.cross(axis, vectors) * s + np.outer(vectors @ axis, axis) * (1 - c)
    return made


def is_closed(closed: Closed, meeting: Meeting, hand: HandSettings) -> Flags:
    """(d,) whether each build closes, with tubes sprung as far as allowed."""
    met = (np.maximum(closed.step - hand.spring, 0.0) <= hand.step) & (closed.kink <= hand.kink)
    found: Flags = met & (closed.missing <= meeting.missing)
    return found


def answers(chain: PieceChain, meeting: Meeting, made: Array) -> Array:
    """(m, 2) the turn and the slide that close out each error, to first order and without limits.

    The errors are given as motions `made` (n, 7, 6).
    """
    off = _mismatch(chain, meeting, made)
    found: Array = off @ meeting.answer.T
    return found


def _mismatch(chain: PieceChain, meeting: Meeting, made: Array) -> Array:
    """(m, 4) steps and kinks from the errors.

    Errors before the joint move its first side; those after it move the second side the other way, because that side
    hangs on the bore. The joint itself has no error: it is made to fit.
    """
    at = moved(made, meeting.point)
    at[: meeting.joint] *= -1.0
    at[meeting.joint, list(OF_JOINT)] = 0.0
    at[meeting.joint :] *= -1.0
    flat = at.reshape(-1, 6)
    x, y, z = meeting.axes.T
    swung = np.cross(flat[:, :3], z)
    return np.stack([flat[:, 3:] @ x, flat[:, 3:] @ y, swung @ x, swung @ y], axis=1)
