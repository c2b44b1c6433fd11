"""The sheet of a picture: the photograph in the middle, and strips round it for all words and numbers.

Places are (column, row) in pixels of the sheet, from its top left.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from headergen.geometry.mesh.triangles import Points
from headergen.outputs.picture.overlay import (
    LINE,
    NAME_SIZE,
    PAPER,
    RED,
    TITLE_SIZE,
    draw_capsule,
    draw_letters,
    draw_plate,
    fitted_letters,
)
from headergen.outputs.picture.stage import Coverage, Image, lettering

Colour = tuple[float, float, float]

SIDE, TOP, FOOT = 0.045, 0.075, 0.055  # widths of the strips, as shares of the picture's width
BESIDE = 0.25  # the same for the strip with the places of errors
RADIUS = 0.0135  # of a number's disc, as a share of the width
APART = 2.4  # from disc to disc, in radii
NAMES = 0.1  # width of the strips for names of parts, as a share of the width
NAME = 0.0105  # largest height of such a name, as a share of the width
WORDS = 0.0118  # height of the text about an error, as a share of the width


@dataclass(frozen=True)
class PictureSheet:
    """The size of a picture and of the strips round its photograph, in pixels. `beside` is the strip for errors."""

    size: tuple[int, int]
    side: int
    top: int
    foot: int
    beside: int = 0

    @property
    def photograph(self) -> tuple[int, int]:
        """Width and height of the photograph."""
        return self.size[0] - 2 * self.side - self.beside, self.size[1] - self.top - self.foot

    @property
    def corner(self) -> Points:
        """The top left corner of the photograph."""
        return np.array([self.side, self.top], float)


@dataclass(frozen=True)
class Pointer:
    """A number, and the place in the photograph that it points to."""

    label: str
    place: tuple[float, float]


@dataclass(frozen=True)
class Marked:
    """The text about an error, in lines, and its place in the photograph; None if it is outside."""

    lines: tuple[str, ...]
    place: tuple[float, float] | None


def sheet_of(size: tuple[int, int], *, banner: bool, errors: bool) -> PictureSheet:
    """The strips of a picture: one at the top for a `banner`, one at the right for `errors`."""
    width = size[0]
    top = round((TOP if banner else SIDE / 2) * width)
    return PictureSheet(size, round(SIDE * width), top, round(FOOT * width), round(BESIDE * width) if errors else 0)


def names_sheet(size: tuple[int, int], *, banner: bool) -> PictureSheet:
    """The strips of a picture with part names on both sides."""
    width = size[0]
    top = round((TOP if banner else SIDE / 2) * width)
    return PictureSheet(size, round(NAMES * width), top, round(FOOT * width))


def laid_out(photograph: Image, sheet: PictureSheet) -> Image:
    """The sheet with its photograph and empty strips."""
    width, height = sheet.size
    image = np.ones((height, width, 3), np.float32)
    image[sheet.top : height - sheet.foot, sheet.side : sheet.side + photograph.shape[1]] = photograph
    return image


def draw_banner(image: Image, sheet: PictureSheet, text: str, colours: tuple[Colour, Colour]) -> None:
    """Text in the strip at the top."""
    draw_plate(image, text, round(NAME_SIZE * sheet.size[0]), sheet.top / 2, colours)


def draw_foot(image: Image, sheet: PictureSheet, text: str, size: float = TITLE_SIZE) -> None:
    """Text in the strip at the foot; its height is `size` times the width of the sheet."""
    draw_plate(image, text, round(size * sheet.size[0]), sheet.size[1] - sheet.foot / 2, (PAPER, LINE))


def draw_pointers(image: Image, sheet: PictureSheet, pointers: Sequence[Pointer]) -> None:
    """Each number on a disc in the strip at the nearer side, with a leader to its place; leaders there do not cross.

    A disc widens for a longer label, as far as the strip is wide.
    """
    radius = RADIUS * sheet.size[0]
    for side, here in enumerate(_by_side(sheet, pointers)):
        column = sheet.side / 2 + side * (sheet.side + sheet.photograph[0])
        rows = spread([each.place[1] + sheet.top for each in here], APART * radius, _between(sheet, radius))
        for each, row in zip(here, rows, strict=True):
            disc, place = np.array([column, row]), np.array(each.place) + sheet.corner
            letters = _whole_letters(each.label, round(1.25 * radius), max(1.7 * radius, sheet.side - 0.5 * radius))
            half = np.array([max(letters.shape[1] / 2 - 0.85 * radius, 0.0), 0.0])
            draw_capsule(image, place, disc, 1.1, LINE)
            draw_capsule(image, place, place, 4.0, LINE)
            draw_capsule(image, disc - half, disc + half, radius + 1.5, LINE)
            draw_capsule(image, disc - half, disc + half, radius, PAPER)
            draw_letters(image, letters, disc, LINE)


def _whole_letters(text: str, size: int, room: float) -> Coverage:
    """The letters of a short text, smaller if they are too wide, down to half the size; then they are cut."""
    sizes = range(size, size // 2, -1)
    return next(
        (letters for each in sizes if (letters := lettering(text, each)).shape[1] <= room),
        fitted_letters(text, sizes[-1], room),
    )


def draw_names(image: Image, sheet: PictureSheet, names: Sequence[Pointer]) -> None:
    """Each name in the left or right strip, half of them in each, with a leader to its place."""
    for side, here in enumerate(_halves(names)):
        size = name_size(sheet, len(here))
        between = _between(sheet, size)
        rows = spread([each.place[1] + sheet.top for each in here], 2.1 * size, between)
        edge = sheet.side - 0.5 * size if side == 0 else sheet.side + sheet.photograph[0] + 0.5 * size
        for each, row in zip(here, rows, strict=True):
            place = np.array(each.place) + sheet.corner
            draw_capsule(image, place, np.array([edge, row]), 0.8, LINE)
            draw_capsule(image, place, place, 3.2, PAPER)
            draw_capsule(image, place, place, 2.2, LINE)
            letters = fitted_letters(each.label, size, sheet.side - 1.5 * size)
            half = (letters.shape[1] / 2 + 0.4 * size) * (-1 if side == 0 else 1)
            draw_letters(image, letters, np.array([edge + half, row]), LINE)


def name_size(sheet: PictureSheet, count: int) -> int:
    """Height of letters, pixels, at which `count` names fit in one strip without touching."""
    low, high = _between(sheet, 0.0)
    return max(1, min(round(NAME * sheet.size[0]), int((high - low) / (2.1 * max(count, 1)))))


def _halves(names: Sequence[Pointer]) -> tuple[list[Pointer], list[Pointer]]:
    """The left half and the right half, each from the top down."""
    across = sorted(names, key=lambda each: each.place[0])
    half = (len(across) + 1) // 2
    left, right = (sorted(some, key=lambda each: each.place[1]) for some in (across[:half], across[half:]))
    return left, right


def draw_marks(image: Image, sheet: PictureSheet, marks: Sequence[Marked]) -> None:
    """The text about each error in the strip beside the photograph, with a leader to its place, which has a ring."""
    size = round(WORDS * sheet.size[0])
    tall = max((len(each.lines) for each in marks), default=0) * 1.6 * size + 0.8 * size
    room = max(1, int((sheet.photograph[1]) / (tall + 0.5 * size)))
    shown = list(marks) if len(marks) <= room else [*marks[: room - 1], more(len(marks) - room + 1)]
    shown.sort(key=lambda each: each.place[1] if each.place else float("inf"))
    middle = sheet.photograph[1] / 2
    rows = spread(
        [(each.place[1] if each.place else middle) + sheet.top for each in shown], tall + 0.5 * size,
        _between(sheet, tall / 2),
    )  # fmt: skip
    left = sheet.size[0] - sheet.beside + size
    for each, row in zip(shown, rows, strict=True):
        if each.place is not None:
            place = np.array(each.place) + sheet.corner
            draw_capsule(image, place, np.array([left, row]), 1.6, RED)
            for radius, colour in ((9.0, RED), (5.0, PAPER), (2.5, RED)):
                draw_capsule(image, place, place, radius, colour)
        _draw_words(image, each.lines, (left, row), (size, tall))


def more(count: int) -> Marked:
    """The mark that replaces the errors for which there is no room."""
    return Marked((f"and {count} more", "see report"), None)


def spread(places: Sequence[float], apart: float, between: tuple[float, float]) -> list[float]:
    """Places in rising order, as near as possible to the given ones (rising), `apart` from each other, within a range.

    Places that would be too near are merged into a run about their mean, all with the same weight.
    """
    low, high = between
    apart = min(apart, (high - low) / max(len(places) - 1, 1))
    runs: list[tuple[float, int]] = []  # the first place of a run, and its count
    for each in places:
        start, count = min(max(each, low), high), 1
        while runs and runs[-1][0] + runs[-1][1] * apart > start:
            before, more_of_them = runs.pop()
            whole = more_of_them + count
            mean = (more_of_them * before + count * (start - more_of_them * apart)) / whole
            start, count = min(max(mean, low), high - (whole - 1) * apart), whole
        runs.append((start, count))
    return [start + k * apart for start, count in runs for k in range(count)]


def _between(sheet: PictureSheet, half: float) -> tuple[float, float]:
    """The rows for the centre of something `2 · half` high."""
    return sheet.top + half, sheet.size[1] - sheet.foot - half


def _by_side(sheet: PictureSheet, pointers: Sequence[Pointer]) -> list[list[Pointer]]:
    """The pointers of the left and of the right strip, each from the top down; with errors all are on the left."""
    middle = sheet.photograph[0] / 2 if not sheet.beside else float("inf")
    ordered = sorted(pointers, key=lambda each: each.place[1])
    return [
        [each for each in ordered if each.place[0] < middle],
        [each for each in ordered if each.place[0] >= middle],
    ]


def _draw_words(image: Image, lines: Sequence[str], at: tuple[float, float], size: tuple[int, float]) -> None:
    """Lines of text on a plate with a red edge, from `at` (its left edge and mid-height) to the margin."""
    letters, tall = size
    start = np.array([at[0] + tall / 2, at[1]])
    end = np.array([image.shape[1] - letters - tall / 2, at[1]])
    draw_capsule(image, start, end, tall / 2, RED)
    draw_capsule(image, start, end, tall / 2 - 2.0, PAPER)
    room = float(end[0] - start[0]) + tall / 3
    for k, line in enumerate(lines):
        row = at[1] + (k - (len(lines) - 1) / 2) * 1.6 * letters
        mask = fitted_letters(line, letters, room)
        draw_letters(image, mask, np.array([start[0] - tall / 6 + mask.shape[1] / 2, row]), LINE)
