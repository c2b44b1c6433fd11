"""Wrap tapes at full size: strips that go once round the tube, with the witness marks of a joint."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from headergen.model import TurnMark
from headergen.outputs.shop.sheets.full_size import PAPER_THICK, FullSize
from headergen.show.paper import BOLD, FONT, INK, MM
from headergen.words.say import capital

TAPE_HIGH = 24.0
FIGURES = (5.4, 9.6)  # mm: the height of a tape's figures
ONE_LINE = 0.3  # mm between marks that are scribed as one
LETTER_ROOM = 4.0  # mm from the middle of one letter to that of the next


def tape(mark: TurnMark, radius: float, start: str = "flange") -> FullSize:
    """A strip that goes once round the tube, with both witness marks of a joint; it is printed 1:1.

    It is π(OD + paper) long, so that its ends meet on the tube. Angles run clockwise, looking from the flange along the
    tube, when the edge with the figures is toward the flange. Marks are on the outside of bends. The first mark turns
    from x of `start`; a bend with rotation 0 goes toward x, so its outside is on the opposite side.
    """
    length = math.pi * (2 * radius + PAPER_THICK)

    def draw(canvas: Any) -> None:
        canvas.setStrokeColorRGB(*INK)
        canvas.setFillColorRGB(*INK)
        canvas.setLineWidth(0.2)
        canvas.rect(0, 0, length, TAPE_HIGH - 8)
        for k in range(721):
            high = 5.0 if k % 20 == 0 else 3.6 if k % 10 == 0 else 2.6 if k % 2 == 0 else 1.6
            canvas.setLineWidth(0.2 if k % 20 == 0 else 0.12 if k % 10 == 0 else 0.06)
            canvas.line(length * k / 720, 0, length * k / 720, high)
        canvas.setFont(FONT, 11 / MM)
        for degrees in range(30, 360, 30):
            canvas.drawCentredString(length * degrees / 360, 6.0, str(degrees))
        for x, name, at in _named(length * (mark.angle % (2 * math.pi)) / (2 * math.pi), length):
            _witness(canvas, x, name, at)

    from_bend = f"A outside on the bend of piece {mark.turns_from}, B on that of piece {mark.piece}"
    from_start = f"A opposite x of the {start}, B outside on the bend of piece {mark.piece}"
    said = f"{capital(mark.run)}: {from_bend if mark.turns_from else from_start}"
    return FullSize(said, (length, TAPE_HIGH), draw)


def _named(b: float, length: float) -> Iterator[tuple[float, str, float]]:
    """Each mark of a tape: its place, its letter, and where the letter stands, so that no two lie on each other.

    `b`: the place of B; A is at 0, where both ends of the tape meet.
    """
    if min(b, length - b) < ONE_LINE:
        yield 0.0, "A, B", 0.0
        return
    yield 0.0, "A", 0.0
    yield b, "B", max(b, LETTER_ROOM)


def _witness(canvas: Any, x: float, name: str, at: float) -> None:
    """The line of a mark at `x`, and its letter at `at`."""
    canvas.setLineWidth(0.5)
    canvas.line(x, 0, x, FIGURES[0])  # keeps its figures readable
    canvas.line(x, FIGURES[1], x, TAPE_HIGH - 4)
    canvas.setFont(BOLD, 11 / MM)
    canvas.drawCentredString(at, TAPE_HIGH - 3.5, name)
