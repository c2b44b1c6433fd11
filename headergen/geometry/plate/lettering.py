"""Room for text on a plate: in metal, clear of every edge and of other text."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.arrays import Array, Mask
from headergen.model import Vec2


@dataclass(frozen=True)
class Hand:
    """Text sizes: heights in mm, the tallest first; the ratio of a letter's width to its height; mm clear of edges."""

    heights: tuple[float, ...]
    width: float
    clear: float


@dataclass(frozen=True)
class Words:
    """A text with room: its lower left corner, its height and width."""

    text: str
    spot: Vec2
    height: float
    width: float

    @property
    def middle(self) -> Vec2:
        return (self.spot[0] + self.width / 2, self.spot[1] + self.height / 2)


def with_room(texts: Sequence[tuple[str, Vec2]], edge: Array, holes: Sequence[Array], hand: Hand) -> Iterator[Words]:
    """Each text placed in metal: with the tallest letters that fit, then nearest to where it belongs.

    `edge` and `holes`: (n, 2) points along the outlines, at most a millimetre apart. A text without room is left out.
    """
    x, y = (np.arange(edge[:, k].min() + hand.clear, edge[:, k].max() - hand.clear, 1.0) for k in (0, 1))
    room = _Room(x, y, _inside(edge, x, y), np.concatenate([edge, *holes]))
    for hole in holes:
        room.in_metal[_inside(hole, x, y)] = False
    for text, near in texts:
        placed = _found(text, near, room, hand)
        if placed is not None:
            room.taken.append(_border(placed))
            room.in_metal[_inside(room.taken[-1], x, y)] = False
            yield placed


@dataclass(frozen=True, eq=False)
class _Room:
    """The grid of a plate: the places along both axes where a text may start, and (Y, X) whether each is free metal.

    `edges` are the points along all outlines, `taken` those round texts already placed, and `crossed` holds, for each
    height and width of a text, where it would cross an outline.
    """

    x: Array
    y: Array
    in_metal: Mask
    edges: Array
    taken: list[Array] = field(default_factory=list)
    crossed: dict[tuple[float, float], Mask] = field(default_factory=dict)


def _found(text: str, near: Vec2, room: _Room, hand: Hand) -> Words | None:
    x, y = room.x, room.y
    if not room.in_metal.size:
        return None
    for height in hand.heights:
        width = hand.width * height * len(text)
        if (height, width) not in room.crossed:
            room.crossed[height, width] = _crosses(room.edges, room, (width, height), hand.clear)
        away = np.sqrt((x + width / 2 - near[0]) ** 2 + ((y + height / 2 - near[1]) ** 2)[:, None])
        away[~room.in_metal | room.crossed[height, width]] = np.inf
        for border in room.taken:
            away[_crosses(border, room, (width, height), hand.clear)] = np.inf
        row, column = np.unravel_index(int(np.argmin(away)), away.shape)
        if away[row, column] < np.inf:
            return Words(text, (float(x[column]), float(y[row])), height, width)
    return None


def _crosses(places: Array, room: _Room, size: tuple[float, float], clear: float) -> Mask:
    """(Y, X): whether a box of this width and height contains any of the points.

    The starts whose box contains a point are a rectangle of the grid: +1 and −1 at its corners, summed along both axes,
    count the points in each box.
    """
    left, right = _around(places[:, 0], room.x, size[0], clear)
    low, high = _around(places[:, 1], room.y, size[1], clear)
    count = np.zeros((len(room.y) + 1, len(room.x) + 1), np.int32)
    some = (left < right) & (low < high)
    for rows, columns, sign in ((low, left, 1), (high, right, 1), (low, right, -1), (high, left, -1)):
        np.add.at(count, (rows[some], columns[some]), sign)
    return np.asarray(count.cumsum(axis=0).cumsum(axis=1)[:-1, :-1] > 0)


def _around(places: Array, starts: Array, length: float, clear: float) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """For each place, the first start whose length contains it, with `clear` at both ends, and the first beyond it."""
    first = np.searchsorted(starts + length + clear, places, side="right")
    return first, np.searchsorted(starts - clear, places, side="left")


def _border(words: Words) -> Array:
    """(n, 2) points round a text, for the next texts to stay clear of."""
    (x, y), right, top = words.spot, words.spot[0] + words.width, words.spot[1] + words.height
    across = np.linspace(x, right, max(2, int(words.width) + 2))
    level = [np.column_stack([across, np.full(len(across), at)]) for at in (y, top)]
    return np.concatenate([level[0], level[1][::-1]])


def _inside(outline: Array, x: Array, y: Array) -> Mask:
    """(Y, X): which points of a grid are inside; even-odd rule, row by row."""
    a, b = outline, np.roll(outline, -1, axis=0)
    inside = np.zeros((len(y), len(x)), dtype=bool)
    for row, level in enumerate(y):
        spans = (a[:, 1] > level) != (b[:, 1] > level)
        c, d = a[spans], b[spans]
        at = np.sort(c[:, 0] + (level - c[:, 1]) * (d[:, 0] - c[:, 0]) / (d[:, 1] - c[:, 1]))
        inside[row] = (len(at) - np.searchsorted(at, x, side="right")) % 2 == 1
    return inside
