"""A drawing at full size, and the room that a page of the sheets has for it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from headergen.model import Vec2
from headergen.show.paper import MARGIN

FULL_SIZE_WIDE = 174.0  # mm, on A4 and Letter alike: room for 1:1 drawings beside the bars
HEAD, FOOT = 9.0, 9.0  # mm above and below the content of a page
LEFT, LOW = 8.0, 24.0  # mm, of the bars and the text beside them
SPARE = 0.5  # mm that is left between drawings and foot
PAPER_THICK = 0.1  # mm, of a tape: common office paper, 80 g/m²
EDGE = 2.0  # mm round a drawing


def full_size_room(paper: Vec2) -> Vec2:
    """The room for 1:1 drawings beside the bars, mm; `paper`: the size of a page."""
    return FULL_SIZE_WIDE, paper[1] - 2 * MARGIN - HEAD - FOOT - LOW - SPARE


@dataclass(frozen=True, eq=False)
class FullSize:
    """A 1:1 drawing: its size in mm, and a function that draws it with its lower left corner at the canvas's origin."""

    title: str
    size: tuple[float, float]
    draw: Callable[[Any], None]
