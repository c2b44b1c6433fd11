"""The flange plate as DXF for a laser or waterjet: contours on one layer, marks on another, at true size in mm.

Contours are closed, one for each edge of metal, and show the finished size: the width of the jet is the cutter's to
allow for. The plate is seen from outside the head, its gasket face away.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.outline import Outline, is_circle, points_on
from headergen.geometry.plate import Plate, plate_of
from headergen.model import Draft
from headergen.outputs.dxf.document import CUT, MARK, new_document, text_of

LETTERS = (5.0, 4.0, 3.0, 2.5)  # mm; the tallest that finds room is taken
LETTER_WIDTH = 0.9  # of a letter's height, as most shops' fonts have them
CLEAR = 2.0  # mm between a mark and any edge

Spot = tuple[float, float]


def write_flange_dxf(path: Path, draft: Draft) -> None:
    """Writes the flange of a draft; the same bytes for the same draft and library.

    Raises DrawingError when the library's audit finds anything wrong, OSError when the file cannot be written.
    """
    job, flange = draft.job, draft.flange
    name = f"{job.title} {job.revision} flange {draft.tube.material} {flange.thickness:g}"
    text = drawing(plate_of(flange, draft.tube), name, {port.number: f"{port.number}" for port in flange.ports})
    path.write_text(text, encoding="utf-8", newline="\n")


def drawing(plate: Plate, name: str, ports: dict[int, str]) -> str:
    """The text of a DXF (R2010): contours, the name as a mark, and each port's number beside its hole."""
    document = new_document()
    space = document.modelspace()
    for outline in (plate.outline, *(hole.outline for hole in plate.holes)):
        _add_contour(space, outline)
    places = points_on(plate.outline, 1.0), [points_on(hole.outline, 1.0) for hole in plate.holes]
    for words, spot, height in _marks(plate, places, name, ports):
        space.add_text(words, height=height, dxfattribs={"layer": MARK}).set_placement(spot)
    return text_of(document)


def _add_contour(space: Any, outline: Outline) -> None:
    if is_circle(outline):
        space.add_circle(outline[0].centre, outline[0].radius, dxfattribs={"layer": CUT})
        return
    # a bulge is the tangent of a quarter of the angle that the arc turns
    corners = [(*edge.start, math.tan(edge.sweep / 4)) for edge in outline]
    space.add_lwpolyline(corners, format="xyb", close=True, dxfattribs={"layer": CUT})


def _marks(
    plate: Plate, places: tuple[NDArray[np.float64], list[NDArray[np.float64]]], name: str, ports: dict[int, str]
) -> Iterator[tuple[str, Spot, float]]:
    """Words, the lower left of them, and their height, wherever there is room; what finds none is left out."""
    edge, holes = places
    wanted = [(name, edge.mean(axis=0))]
    wanted += [(words, hole.mean(axis=0)) for words, hole in zip(ports.values(), holes, strict=False)]
    taken: list[NDArray[np.float64]] = []
    for words, near in wanted:
        found = next(_spots(words, near, (edge, [*holes, *taken])), None)
        if found is not None:
            spot, height = found
            taken.append(_frame_of(words, height, np.array([spot]))[0])
            yield words, spot, height


def _spots(
    words: str, near: NDArray[np.float64], around: tuple[NDArray[np.float64], list[NDArray[np.float64]]]
) -> Iterator[tuple[Spot, float]]:
    """Where the words fit, the tallest letters first, and of those the place nearest to `near`."""
    edge, holes = around
    low, high = edge.min(axis=0), edge.max(axis=0)
    axes = [np.arange(low[k] + CLEAR, high[k] - CLEAR, 1.0) for k in (0, 1)]
    grid = np.stack(np.meshgrid(*axes), axis=-1).reshape(-1, 2)
    solid = np.concatenate([edge, *holes])
    for height in LETTERS:
        frames = _frame_of(words, height, grid)
        middles = frames.mean(axis=1)
        for k in np.argsort(np.linalg.norm(middles - near, axis=1), kind="stable"):
            frame = frames[k]
            box_low, box_high = frame.min(axis=0) - CLEAR, frame.max(axis=0) + CLEAR
            crossed = ((solid > box_low) & (solid < box_high)).all(axis=1).any()
            if not crossed and _is_in_metal(frame[0], edge, holes):
                yield (float(grid[k][0]), float(grid[k][1])), height
                break


def _frame_of(words: str, height: float, spots: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n, 4, 2) corners round words set at each spot, and places between for what is drawn next to keep off."""
    width = LETTER_WIDTH * height * len(words)
    corners = np.array([(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)])
    around: NDArray[np.float64] = spots[:, None, :] + corners
    return around


def _is_in_metal(spot: NDArray[np.float64], edge: NDArray[np.float64], holes: list[NDArray[np.float64]]) -> bool:
    return _inside(edge, spot) and not any(_inside(hole, spot) for hole in holes)


def _inside(outline: NDArray[np.float64], spot: NDArray[np.float64]) -> bool:
    """Even-odd rule."""
    a, b = outline, np.roll(outline, -1, axis=0)
    spans = (a[:, 1] > spot[1]) != (b[:, 1] > spot[1])
    a, b = a[spans], b[spans]
    at = a[:, 0] + (spot[1] - a[:, 1]) * (b[:, 0] - a[:, 0]) / (b[:, 1] - a[:, 1])
    return bool((spot[0] < at).sum() % 2 == 1)
