"""Closing a run between its two ends: pieces from the flange, pieces from the bore, and one joint where they meet.

The collector is held in plates. The end piece, with the pieces on it, may turn about its bore's axis and slide along it
until it is tacked. Where the two sides meet, excess length is cut off. So a closing joint has three freedoms of place.
Two of tilt are missing: they remain as a kink, cut into the faces of the joint.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.arrays import Array, crossed
from headergen.hand.chain import OF_JOINT, PieceChain, about_z, moved
from headergen.hand.draws import Poses
from headergen.model import HandSettings

Flags = NDArray[np.bool_]

ROUNDS = 3  # of turning and sliding; each leaves a thousandth of the error
TRIES = 8  # rounds in which a build that does not close so is brought within its limits
INSIDE = 0.99  # share of a limit that is aimed at then
FAINT = 1e-3  # weight of turn and slide themselves, so that neither is used where it has no effect


@dataclass(frozen=True, eq=False)
class Meeting:
    """A closing joint, as planned.

    `axes`: (3, 3), across and along the tube as columns; `bore`: a point on the axis about which the end piece turns,
    and its direction. `moves`: (4, 2), the effect of a turn and a slide on the two steps and the two kinks across;
    `lengthens`: (2,), their effect on the length that is missing there. `answer`: (2, 4), the turn and slide that
    minimise such steps and kinks. `slides`: the least and the most that the end piece may slide, positive into its
    bore; `missing`: the length that may be missing at the joint, which is the spare that can be left on there (mm).
    """

    joint: int  # the number of the piece before
    axes: Array
    point: Array
    bore: tuple[Array, Array]
    moves: Array
    lengthens: Array
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
    swept, swung = crossed(along, point - end), crossed(along, z)
    moves = np.array([[x @ swept, x @ along], [y @ swept, y @ along], [x @ swung, 0.0], [y @ swung, 0.0]])
    step, kink = max(hand.spring, hand.step, FAINT), max(hand.kink / 2, FAINT)
    scale = np.array([step, step, kink, kink])
    faint = np.diag([FAINT / max(hand.turn, FAINT) ** 2, FAINT / max(hand.spare, FAINT) ** 2])
    weighed = moves / scale[:, None]
    answer = -np.linalg.solve(weighed.T @ weighed + faint, weighed.T) / scale
    lengthens = np.array([z @ swept, z @ along])
    return Meeting(joint, axes, point, (end, along), moves, lengthens, answer, scale, slides, missing)


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

    If one of the two is at its limit, the other does what it can. A build whose step, kink or missing length is then
    too large is turned and slid on until all are within their limits, if there is such a place. `ends`: of the pieces
    before the joint, `starts`: of those after it.
    """
    turn, slide = np.zeros(len(ends[1])), np.zeros(len(ends[1]))
    for _ in range(ROUNDS):
        off = _off(meeting, ends, starts, turn, slide)[0]
        step = off @ meeting.answer.T
        turn, slide = turn + step[:, 0], slide + step[:, 1]
    sides = (ends, starts)
    turn, slide = _within(meeting, sides, (turn, slide), hand)
    closed = _closed_by(meeting, sides, turn, slide)
    left = np.flatnonzero(~is_closed(closed, meeting, hand))
    if len(left):
        some = ((ends[0][left], ends[1][left]), (starts[0][left], starts[1][left]))
        more = _closed_by(meeting, some, *_brought_within(meeting, some, (turn[left], slide[left]), hand))
        met = is_closed(more, meeting, hand)
        turn[left[met]], slide[left[met]] = more.turn[met], more.slide[met]
        closed = _closed_by(meeting, sides, turn, slide)
    return closed


def _closed_by(meeting: Meeting, sides: tuple[Poses, Poses], turn: Array, slide: Array) -> Closed:
    off, missing = _off(meeting, *sides, turn, slide)
    return Closed(turn, slide, np.hypot(off[:, 0], off[:, 1]), np.hypot(off[:, 2], off[:, 3]), missing)


def _brought_within(
    meeting: Meeting, sides: tuple[Poses, Poses], found: tuple[Array, Array], hand: HandSettings
) -> tuple[Array, Array]:
    """Turn and slide changed the least, limit by limit in turn, until none is exceeded.

    Step, kink and missing length are convex functions of the two, so that such projections lead to a place within all
    limits if there is one (Bauschke and Borwein, On Projection Algorithms for Solving Convex Feasibility Problems).
    """
    turn, slide = found
    wide = np.array([max(hand.turn, FAINT), max(hand.spare, FAINT)]) ** 2
    limits = (hand.spring + hand.step, hand.kink)
    for _ in range(TRIES):
        off, missing = _off(meeting, *sides, turn, slide)
        values = [np.hypot(off[:, 0], off[:, 1]), np.hypot(off[:, 2], off[:, 3])]
        rows = zip(values, limits, (off[:, :2], off[:, 2:]), (meeting.moves[:2], meeting.moves[2:]), strict=True)
        over = [(v - INSIDE * most, ways @ moves / np.maximum(v, FAINT)[:, None]) for v, most, ways, moves in rows]
        over.append((missing - INSIDE * meeting.missing, np.broadcast_to(meeting.lengthens, (len(turn), 2))))
        worst = np.zeros((len(turn), 2))
        for by, slope in over:
            steep = np.maximum((slope**2 * wide).sum(axis=1), FAINT**4)
            change = -np.where(by > 0, by / steep, 0.0)[:, None] * slope * wide
            larger = (change**2 / wide).sum(axis=1) > (worst**2 / wide).sum(axis=1)
            worst = np.where(larger[:, None], change, worst)
        turn = np.clip(turn + worst[:, 0], -hand.turn, hand.turn)
        slide = np.clip(slide + worst[:, 1], *meeting.slides)
    return turn, slide


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
    made: Array = vectors * c + crossed(axis, vectors) * s + np.outer(vectors @ axis, axis) * (1 - c)
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
    swung = crossed(flat[:, :3], z)
    return np.stack([flat[:, 3:] @ x, flat[:, 3:] @ y, swung @ x, swung @ y], axis=1)
