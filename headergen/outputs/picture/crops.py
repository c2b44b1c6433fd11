"""The parts of a picture that are drawn, if not all of it is wanted."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Crop = tuple[slice, slice]  # rows and columns of an image, with both ends
Mask = NDArray[np.bool_]

CELL = 16  # pixels; crops begin and end at multiples of it
MARGIN = 4  # pixels drawn beyond each side of a crop, for edges that are smoothed by what is beside them
FIXED = 100_000  # pixels that take as long to draw as a crop does besides its own


def crops_around(wanted: Mask) -> list[Crop]:
    """Disjoint crops of an image with every wanted pixel (height, width) in one of them.

    A box around wanted pixels is cut in two, from edge to edge, where that leaves least to draw, for as long as it
    leaves less.
    """
    if not wanted.any():
        return []
    starts = [np.arange(0, size, CELL) for size in wanted.shape]
    cells = np.logical_or.reduceat(np.logical_or.reduceat(wanted, starts[0], axis=0), starts[1], axis=1)
    pieces, crops = [_around(cells, (0, 0))], list[Crop]()
    while pieces:
        piece = pieces.pop()
        halves = min(_cuts(cells, piece), key=lambda pair: sum(map(_cost, pair)), default=())
        if halves and sum(map(_cost, halves)) < _cost(piece):
            pieces += halves
        else:
            rows, columns = (
                slice(part.start * CELL, min(part.stop * CELL, size))
                for part, size in zip(piece, wanted.shape, strict=True)
            )
            crops.append((rows, columns))
    return crops


def _cuts(cells: Mask, piece: Crop) -> list[tuple[Crop, Crop]]:
    """The boxes on both sides of each cut through a box of cells whose first and last rows and columns are not bare."""
    rows, columns = piece
    across = [((slice(rows.start, k), columns), (slice(k, rows.stop), columns)) for k in _between(rows)]
    down = [((rows, slice(columns.start, k)), (rows, slice(k, columns.stop))) for k in _between(columns)]
    tight = [[_around(cells[side], (side[0].start, side[1].start)) for side in pair] for pair in (*across, *down)]
    return [(one, other) for one, other in tight]


def _between(part: slice) -> range:
    return range(part.start + 1, part.stop)


def _around(cells: Mask, at: tuple[int, int]) -> Crop:
    """The box around the cells that are set, `at` added."""
    rows, columns = (np.flatnonzero(cells.any(axis=axis)) + start for axis, start in zip((1, 0), at, strict=True))
    return slice(int(rows[0]), int(rows[-1]) + 1), slice(int(columns[0]), int(columns[-1]) + 1)


def _cost(piece: Crop) -> int:
    """Pixels to draw for a box of cells."""
    rows, columns = piece
    height, width = (CELL * len(range(part.start, part.stop)) + 2 * MARGIN for part in (rows, columns))
    return FIXED + height * width
