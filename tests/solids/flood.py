"""A flood of the air in and round a mesh, on a grid of points: which of them are joined without crossing the skin."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

Array = NDArray[np.float64]


class Flood:
    """Neighbouring points of the grid are joined if the straight line between them crosses no triangle.

    `triangles`: (n, 3, 3). The grid goes round all of them, `pitch` apart; it is shifted so that it meets no corner.
    """

    def __init__(self, triangles: Array, pitch: float) -> None:
        low, high = triangles.min((0, 1)) - 2.35 * pitch, triangles.max((0, 1)) + 2.71 * pitch
        self.low, self.pitch = low, pitch
        shape = np.ceil((high - low) / pitch).astype(int) + 1
        cells = np.zeros(2 * shape - 1, dtype=bool)
        cells[::2, ::2, ::2] = True
        for axis in range(3):
            joined = ~self._crossed(triangles, axis, shape)
            at = [slice(None, None, 2)] * 3
            at[axis] = slice(1, None, 2)
            cells[tuple(at)] = joined
        self.labels = ndimage.label(cells)[0][::2, ::2, ::2]

    def _crossed(self, triangles: Array, axis: int, shape: NDArray[np.int64]) -> NDArray[np.bool_]:
        """For every step of the grid along an axis: whether a triangle is crossed."""
        u, v = (axis + 1) % 3, (axis + 2) % 3
        grid = (triangles - self.low) / self.pitch
        flat = grid[:, :, [u, v]]
        first = np.ceil(flat.min(1)).astype(int)
        count = np.maximum(np.floor(flat.max(1)).astype(int) - first + 1, 0)
        total = count[:, 0] * count[:, 1]
        each = np.repeat(np.arange(len(grid)), total)
        number = np.arange(len(each)) - np.repeat(np.cumsum(total) - total, total)
        i, j = first[each, 0] + number // count[each, 1], first[each, 1] + number % count[each, 1]
        a, b, c = (flat[each, k] for k in range(3))
        place = np.column_stack([i, j])
        whole = _turn(a, b, c)
        shares = [_turn(b, c, place), _turn(c, a, place), _turn(a, b, place)]
        with np.errstate(divide="ignore", invalid="ignore"):
            shares = [share / whole for share in shares]
            height = sum(share * grid[each, k, axis] for k, share in enumerate(shares))
        inside = (np.min(shares, axis=0) >= -1e-12) & (np.abs(whole) > 1e-15)
        size = shape.copy()
        size[axis] -= 1
        crossed = np.zeros(size, dtype=bool)
        at = np.empty((3, int(inside.sum())), dtype=int)
        at[u], at[v] = i[inside], j[inside]
        at[axis] = np.floor(np.asarray(height)[inside]).astype(int)
        crossed[tuple(at)] = True
        return crossed

    def at(self, place: Array) -> int:
        """The label of the point of the grid nearest to a place."""
        return int(self.labels[tuple(np.round((place - self.low) / self.pitch).astype(int))])

    @property
    def outside(self) -> int:
        return int(self.labels[0, 0, 0])


def _turn(a: Array, b: Array, c: Array) -> Array:
    return np.asarray((b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0]))


def disc(middle: Array, way: Array, radius: float, sides: int = 72) -> Array:
    """(sides, 3, 3) triangles of a disc across a direction."""
    across = np.cross(way, [0.31, 0.87, 0.39])
    across /= np.linalg.norm(across)
    other = np.cross(way, across)
    angles = np.linspace(0, 2 * np.pi, sides + 1)
    rim = middle + radius * (np.outer(np.cos(angles), across) + np.outer(np.sin(angles), other))
    return np.stack([np.broadcast_to(middle, (sides, 3)), rim[:-1], rim[1:]], axis=1)
