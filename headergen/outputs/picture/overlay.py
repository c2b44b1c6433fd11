"""Drawing on a finished photograph: outlines, lines, plates and letters.

Images are (height, width, 3) in 0…1, first row on top; places in them are (column, row) in pixels. The `draw_…`
functions draw into the given image.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.mesh.triangles import Points
from headergen.model import Vec
from headergen.outputs.picture import stage
from headergen.outputs.picture.crops import crops_around
from headergen.outputs.picture.stage import LINE as LINE
from headergen.outputs.picture.stage import Coverage, Image, Owners, lettering
from headergen.outputs.picture.view import View

PAPER: Vec = (1.0, 1.0, 1.0)
RED: Vec = (0.72, 0.07, 0.09)
GHOST = 0.6  # opacity of a tube behind the chassis
TITLE_SIZE, NAME_SIZE, FIGURES_SIZE = 0.0165, 0.026, 0.023  # letter heights as shares of the width
OUTLINE = 0.55  # darkness of the line round each tube


def halved(mask: NDArray[np.bool_]) -> Coverage:
    """Each two by two pixels as one: the share of them that is set."""
    one, two, three, four = (mask[i::2, j::2].astype(np.uint8) for i in (0, 1) for j in (0, 1))
    return (one + two + three + four) / np.float32(4)


def seen_through(whole: Image, bare: Image, hidden: NDArray[np.bool_]) -> Image:
    """The picture of everything, with the header showing through where `hidden` (twice the size) is set."""
    share = GHOST * halved(hidden)[..., None]
    seen = share[..., 0] > 0
    image = whole.copy()
    image[seen] = whole[seen] * (1 - share[seen]) + bare[seen] * share[seen]
    return image


def photographed(
    steel: Sequence[Any], dark: Sequence[Any], view: View, size: tuple[int, int], rooms: stage.Rooms
) -> tuple[Image, Owners]:
    """The lit picture of a header (polydata) in its chassis, outlined, and the steel body's number at each pixel."""
    fine = (2 * size[0], 2 * size[1])
    [own] = stage.owners(steel, [view], fine, rooms)
    [every] = stage.owners([*steel, *dark], [view], fine, rooms) if dark else [own]
    hidden = (own > 0) & (every > len(steel))
    crops = crops_around(halved(hidden) > 0)
    image, bare = stage.photographs(steel, dark, view, size, rooms, crops)
    for crop, without in zip(crops, bare, strict=True):
        fine_crop = tuple(slice(2 * part.start, 2 * part.stop) for part in crop)
        image[crop] = seen_through(image[crop], without, hidden[fine_crop])
    draw_outlines(image, own)
    return image, own[::2, ::2]


def draw_outlines(image: Image, owners: Owners) -> None:
    """Draw a thin line where one tube passes another or meets the background; `owners` is twice the size."""
    change = np.zeros(owners.shape, bool)
    for axis in (0, 1):
        before, after = ((slice(None),) * axis + (part,) for part in (slice(None, -1), slice(1, None)))
        step = owners[before] != owners[after]
        change[before] |= step
        change[after] |= step
    _paint(image, OUTLINE * halved(change), LINE)


def first_in_sight(places: Points, owners: Owners, number: int) -> Points:
    height, width = owners.shape
    inside = np.all((places >= 0) & (places < (width, height)), axis=1)
    for index in np.flatnonzero(inside):
        column, row = places[index].astype(int)
        if owners[row, column] == number:
            return np.asarray(places[index])
    return np.asarray(places[0])


def draw_plate(image: Image, text: str, size: int, row: float, colours: tuple[Vec, Vec]) -> None:
    """Text on a rounded plate at the left edge, centred on `row`; a text that is too long ends in an ellipsis."""
    ground, ink = colours
    margin = 0.02 * image.shape[1]
    room = image.shape[1] - 2 * margin - 2 * size
    letters = fitted_letters(text, size, room)
    start, end = (np.array([margin + size + x, row]) for x in (0, letters.shape[1]))
    draw_capsule(image, start, end, size, ground)
    draw_letters(image, letters, (start + end) / 2, ink)


def fitted_letters(text: str, size: int, room: float) -> Coverage:
    """Coverage of the letters of a text; if wider than the room, it ends in an ellipsis."""
    letters = lettering(text, size)
    while letters.shape[1] > room and len(text) > 1:
        text = text.removesuffix("…")[:-1] + "…"
        letters = lettering(text, size)
    return letters


def draw_capsule(image: Image, start: Points, end: Points, radius: float, colour: Vec) -> None:
    """Paint all pixels within `radius` of the line from `start` to `end`, with a smoothed edge."""
    low = np.floor(np.minimum(start, end) - radius - 1).astype(int).clip(0)
    high = np.ceil(np.maximum(start, end) + radius + 1).astype(int).clip(0)
    part = image[low[1] : high[1], low[0] : high[0]]
    rows, columns = np.mgrid[0 : part.shape[0], 0 : part.shape[1]] + 0.5
    x, y = columns + low[0] - start[0], rows + low[1] - start[1]
    along = end - start
    share = np.clip((x * along[0] + y * along[1]) / max(float(along @ along), 1e-12), 0, 1)
    distance = np.hypot(x - share * along[0], y - share * along[1])
    _paint(part, np.clip(0.5 + radius - distance, 0, 1), colour)


def draw_letters(image: Image, letters: Coverage, middle: Points, colour: Vec) -> None:
    """Letters centred at `middle`, clipped to the picture."""
    top, left = (round(at - n / 2) for at, n in zip(middle[::-1], letters.shape, strict=True))
    part = image[max(top, 0) : max(top + letters.shape[0], 0), max(left, 0) : max(left + letters.shape[1], 0)]
    inside = letters[max(-top, 0) :, max(-left, 0) :][: part.shape[0], : part.shape[1]]
    _paint(part, inside, colour)


def _paint(image: Image, cover: Coverage, colour: Vec) -> None:
    covered = cover > 0
    image[covered] += cover[covered][:, None] * (np.array(colour) - image[covered])
