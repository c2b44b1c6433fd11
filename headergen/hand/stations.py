"""How far a place along a run moves for each error of the hand, to first order, in three ways of building it."""

from __future__ import annotations

import math

import numpy as np

from headergen.geometry.arrays import Array, crossed
from headergen.hand.chain import ANGLE, ERRORS, LENGTH, OF_JOINT, RADIUS, PieceChain, arc_shift, moved
from headergen.hand.closing import Meeting, answers

ONE_IN_TEN = 1.2815515655446004  # standard deviations above which one of ten is
RIDGE = 1e-12  # share of the held end's variance added to it, so that an end without play can be solved for


def piece_of(chain: PieceChain, begins: float, at: float) -> tuple[int, float]:
    """The piece at a place, counted from 0, and how far into it; `begins`: where the first piece begins (mm)."""
    left = max(at - begins, 0.0)
    for k, link in enumerate(chain.links):
        length = sum(link.legs) + link.angle * link.radius
        if left <= length or k == chain.size - 1:
            return k, min(left, length)
        left -= length
    raise AssertionError("a chain has pieces")


def place_in(chain: PieceChain, k: int, into: float) -> Array:
    """The centre of the tube at a place in a piece, as planned."""
    link = chain.links[k]
    along = min(into, link.legs[0])
    arc = min(max(into - link.legs[0], 0.0), link.angle * link.radius)
    angle = arc / link.radius if link.angle > 0 else 0.0
    across, forward = arc_shift(link.radius, angle)
    last = max(into - link.legs[0] - link.angle * link.radius, 0.0)
    local = np.array([float(across) + last * math.sin(angle), 0.0, along + float(forward) + last * math.cos(angle)])
    placed: Array = chain.origins[k] + chain.frames[k] @ local
    return placed


def open_moves(chain: PieceChain, made: Array, k: int, into: float) -> Array:
    """(7 n, 3) how far a place moves in a run that is built from the flange on and left open."""
    link, moves = chain.links[k], moved(made, place_in(chain, k, into))[..., 3:]
    moves[k + 1 :] = 0.0
    arc = min(max(into - link.legs[0], 0.0), link.angle * link.radius)
    if link.angle > 0 and arc < link.angle * link.radius:
        moves[k, ANGLE] = 0.0  # its error is at the end of the arc
        across, along = arc_shift(link.radius, arc / link.radius)
        moves[k, RADIUS] = chain.frames[k] @ np.array([float(across), 0.0, float(along)])
    moves[k, LENGTH] = 0.0  # a piece's error shows at its end
    flat: Array = moves.reshape(-1, 3)
    return flat


def closed_moves(chain: PieceChain, made: Array, meeting: Meeting, k: int, into: float) -> Array:
    """(7 n, 3) how far a place moves in a run that is closed at a joint.

    The part on the flange moves by the errors before it. The part in the bore moves by the errors after it, and by the
    turn and the slide that close the joint.
    """
    moves = open_moves(chain, made, k, into)
    if k < meeting.joint:
        return moves
    place, (end, along) = place_in(chain, k, into), meeting.bore
    moves = moves - moved(made, place)[..., 3:].reshape(-1, 3)
    found = answers(chain, meeting, made)
    moves += np.outer(found[:, 0], crossed(along, place - end)) + np.outer(found[:, 1], along)
    own = meeting.joint * ERRORS + np.array(OF_JOINT)
    moves[own] = 0.0
    return moves


def held_conditions(chain: PieceChain, made: Array) -> Array:
    """(7 n, 4) how far each error takes the open end off its bore, in two directions across and two of tilt."""
    at_end = moved(made, chain.origins[-1]).reshape(-1, 6)
    x, y, _ = chain.frames[-1].T
    turn, shift = at_end[:, :3], at_end[:, 3:]
    return np.stack([shift @ x, shift @ y, turn @ x, turn @ y], axis=1)


def covariance_of(moves: Array, spreads: Array) -> Array:
    """(3, 3) covariance of moves (7 n, 3), or (6, 6) of six columns."""
    scaled = moves * spreads.reshape(-1, 1)
    found: Array = scaled.T @ scaled
    return found


def held_covariance(moves: Array, conditions: Array, spreads: Array) -> Array:
    """(3, 3) covariance of moves, given that the conditions are zero.

    The conditional covariance of a normal distribution (Anderson, An Introduction to Multivariate Statistical Analysis,
    theorem 2.5.1).
    """
    both = np.concatenate([moves, conditions], axis=1) * spreads.reshape(-1, 1)
    whole = both.T @ both
    n = moves.shape[1]
    held = whole[n:, n:]
    held = held + RIDGE * np.diag(np.diag(held) + RIDGE)
    found: Array = whole[:n, :n] - whole[:n, n:] @ np.linalg.solve(held, whole[n:, :n])
    return found


def spread_along(covariance: Array, direction: Array) -> float:
    """Standard deviation along a unit direction."""
    return math.sqrt(max(float(direction @ covariance @ direction), 0.0))
