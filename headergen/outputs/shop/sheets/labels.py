"""Where the numbers of a tube's pieces stand in a view: on the piece where it shows, else beside it with a leader.

All in mm of the paper. A piece is a row of places along its centreline; one is hidden where another piece is in front.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from headergen.geometry.arrays import Array

LABEL = 2.6  # radius of a number's circle
APART = 0.6  # between circles, and between a circle and a leader
BESIDE = 1.0  # from the edge of a tube to the circle of a number beside it
LONGEST = 40.0  # of a leader, before the edge of a tube counts
ANCHORS = (0.5, 0.35, 0.65, 0.2, 0.8)  # shares of a piece that shows, to which a leader may go
DIRECTIONS = 24
OFF = 8.0  # what a number beside its tube costs, in mm from the middle of the piece
OVER = 3.0  # what each place of another piece costs that a leader passes over
Point = tuple[float, float]


@dataclass(frozen=True, eq=False)
class ShownPiece:
    """`places` (n, 2) along a piece, of which the middle one is best; `shows` (n,): not behind another piece."""

    places: Array
    shows: Array


@dataclass(frozen=True)
class PieceLabel:
    """A number at `at`; its leader goes to `to`, and has no length where the number stands on its piece."""

    at: Point
    to: Point


def labels(pieces: Sequence[ShownPiece], half: float, room: Point) -> tuple[PieceLabel, ...]:
    """A place for the number of each piece, no two of which overlap, within `room` from (0, 0).

    `half`: half of the width of the tube. Where there is no free place, the number stands on the middle of its piece.
    """
    found: dict[int, PieceLabel] = {}
    on = {k: _on_piece(pieces, k) for k in range(len(pieces))}
    for k in sorted(on, key=lambda k: len(on[k])):
        at = next((at for at in on[k] if _is_free(PieceLabel(at, at), found.values())), None)
        if at is not None:
            found[k] = PieceLabel(at, at)
    for k, piece in enumerate(pieces):
        if k not in found:
            beside = _beside(pieces, k, half, room)
            middle = _point(piece.places[len(piece.places) // 2])
            found[k] = next((each for each in beside if _is_free(each, found.values())), PieceLabel(middle, middle))
    return tuple(found[k] for k in range(len(pieces)))


def _point(place: Array) -> Point:
    return float(place[0]), float(place[1])


def _others(pieces: Sequence[ShownPiece], k: int) -> Array:
    """Where all other pieces show, and all of those that show nowhere, since their leaders end there."""
    shown = [_seen(each) for number, each in enumerate(pieces) if number != k]
    return np.concatenate(shown) if shown else np.zeros((0, 2))


def _seen(piece: ShownPiece) -> Array:
    return piece.places[piece.shows] if piece.shows.any() else piece.places


def _on_piece(pieces: Sequence[ShownPiece], k: int) -> list[Point]:
    """Places on a piece where its number covers no other piece, the middle first."""
    piece, others = pieces[k], _others(pieces, k)
    middle = len(piece.places) // 2
    free = [
        (abs(number - middle), number)
        for number in np.flatnonzero(piece.shows).tolist()
        if not len(others) or np.hypot(*(others - piece.places[number]).T).min() > LABEL + APART
    ]
    return [_point(piece.places[number]) for _, number in sorted(free)]


def _beside(pieces: Sequence[ShownPiece], k: int, half: float, room: Point) -> list[PieceLabel]:
    """Labels beside all tubes with a leader to a piece, the best first."""
    piece, others = pieces[k], _others(pieces, k)
    own = _seen(piece)
    everything = np.concatenate([each.places for each in pieces])
    priced: list[tuple[float, PieceLabel]] = []
    for share in ANCHORS:
        to = own[round(share * (len(own) - 1))]
        for turn in range(DIRECTIONS):
            way = np.array([math.cos(math.tau * turn / DIRECTIONS), math.sin(math.tau * turn / DIRECTIONS)])
            for far in np.arange(half + BESIDE + LABEL, half + LONGEST, 1.5):
                at = to + far * way
                inside = LABEL <= at[0] <= room[0] - LABEL and LABEL <= at[1] <= room[1] - LABEL
                if not inside or np.hypot(*(everything - at).T).min() < half + BESIDE + LABEL - 1e-9:
                    continue
                over = sum(_distances(others, to, at) < half / 2) if len(others) else 0
                label = PieceLabel(_point(at), _point(to))
                priced.append((OFF * abs(share - 0.5) + float(far) + OVER * float(over), label))
                break
    return [label for _, label in sorted(priced, key=lambda each: each[0])]


def _distances(points: Array, start: Array, end: Array) -> Array:
    """Of points (n, 2) from the line between two others."""
    along = end - start
    share = np.clip((points - start) @ along / max(float(along @ along), 1e-12), 0.0, 1.0)
    distances: Array = np.hypot(*(points - start - share[:, None] * along).T)
    return distances


def _is_free(label: PieceLabel, taken: Iterable[PieceLabel]) -> bool:
    """Whether neither circles nor leaders meet."""
    return all(_are_apart(label, other) for other in taken)


def _are_apart(one: PieceLabel, other: PieceLabel) -> bool:
    if math.dist(one.at, other.at) < 2 * LABEL + APART:
        return False
    for label, leader in ((one, other), (other, one)):
        ends = np.array(leader.at), np.array(leader.to)
        if leader.at != leader.to and _distances(np.array([label.at]), *ends)[0] < LABEL + APART:
            return False
    return not _cross(one, other)


def _cross(one: PieceLabel, other: PieceLabel) -> bool:
    """Whether their leaders cross."""

    def side(start: Point, end: Point, place: Point) -> float:
        return (end[0] - start[0]) * (place[1] - start[1]) - (end[1] - start[1]) * (place[0] - start[0])

    first = side(one.at, one.to, other.at) * side(one.at, one.to, other.to) < 0
    return first and side(other.at, other.to, one.at) * side(other.at, other.to, one.to) < 0
