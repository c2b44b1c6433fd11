"""Where words find room on a plate: in metal, clear of every edge and of each other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Spot = tuple[float, float]
Array = NDArray[np.float64]

AT_ONCE = 256  # places looked at together


@dataclass(frozen=True)
class Hand:
    """How words are written: heights in mm, the tallest first; a letter's width by its height; mm clear of edges."""

    heights: tuple[float, ...]
    width: float
    clear: float


@dataclass(frozen=True)
class Words:
    """Words with room: the lower left of them, their height and width."""

    text: str
    spot: Spot
    height: float
    width: float

    @property
    def middle(self) -> Spot:
        return (self.spot[0] + self.width / 2, self.spot[1] + self.height / 2)


def with_room(wanted: Sequence[tuple[str, Spot]], edge: Array, holes: Sequence[Array], hand: Hand) -> Iterator[Words]:
    """Each of the words in metal, the tallest letters first and of those places the nearest to where it is wanted.

    `edge` and `holes`: (n, 2) places along the outlines, a millimetre apart or less. What finds no room is left out.
    """
    taken: list[Array] = []
    for text, near in wanted:
        found = _found(text, near, (edge, [*holes, *taken]), hand)
        if found is not None:
            taken.append(_border(found))
            yield found


def _found(text: str, near: Spot, around: tuple[Array, list[Array]], hand: Hand) -> Words | None:
    edge, holes = around
    axes = [np.arange(edge[:, k].min() + hand.clear, edge[:, k].max() - hand.clear, 1.0) for k in (0, 1)]
    grid = np.stack(np.meshgrid(*axes), axis=-1).reshape(-1, 2)
    edges = np.concatenate([edge, *holes])
    for height in hand.heights:
        size = np.array([hand.width * height * len(text), height])
        order = np.argsort(np.linalg.norm(grid + size / 2 - near, axis=1), kind="stable")
        for first in range(0, len(order), AT_ONCE):
            spots = grid[order[first : first + AT_ONCE]]
            low, high = spots - hand.clear, spots + size + hand.clear
            crossed = ((edges > low[:, None]) & (edges < high[:, None])).all(axis=2).any(axis=1)
            for spot in spots[~crossed]:
                if _inside(edge, spot) and not any(_inside(hole, spot) for hole in holes):
                    return Words(text, (float(spot[0]), float(spot[1])), height, float(size[0]))
    return None


def _border(words: Words) -> Array:
    """(n, 2) places round words, for what is written next to keep off."""
    (x, y), right, top = words.spot, words.spot[0] + words.width, words.spot[1] + words.height
    across = np.linspace(x, right, max(2, int(words.width) + 2))
    level = [np.column_stack([across, np.full(len(across), at)]) for at in (y, top)]
    return np.concatenate([level[0], level[1][::-1]])


def _inside(outline: Array, spot: Array) -> bool:
    """Even-odd rule."""
    a, b = outline, np.roll(outline, -1, axis=0)
    spans = (a[:, 1] > spot[1]) != (b[:, 1] > spot[1])
    a, b = a[spans], b[spans]
    at = a[:, 0] + (spot[1] - a[:, 1]) * (b[:, 0] - a[:, 0]) / (b[:, 1] - a[:, 1])
    return bool((spot[0] < at).sum() % 2 == 1)
