"""Flat patterns of transitions as DXF, at mid wall: half a transition from seam to seam, and its band.

No allowance is added for seams or the width of the cut. Bend lines are marked by ticks at both edges.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.plate.lettering import with_room
from headergen.geometry.plate.outline import points_on, polygon
from headergen.geometry.transition.development import Pattern, patterns
from headergen.geometry.transition.rulings import rounds
from headergen.model import Draft
from headergen.outputs.dxf.document import (
    CUT,
    MARK,
    SMALL,
    add_words,
    middle_of,
    new_document,
    size_text,
    text_of,
)
from headergen.parts.kind import Seated
from headergen.parts.transition import TransitionSeat

TICK = 4.0  # mm
APART = 15.0  # mm between contours
SPACING = 1.0  # mm between the points on edges that texts stay clear of
LINE = 6.0  # mm from one line of text to the next
THIN = 0.01  # mm: a narrower band is left out

Contour = tuple[Array, list[Array], list[str]]  # corners, ticks (2, 2), and the texts in it


def write_patterns(folder: Path, draft: Draft, parts: Sequence[tuple[Seated, str]]) -> dict[str, str]:
    """Writes the patterns of transitions; equal ones share one file. Raises the errors of write_pattern_dxf."""
    alike: dict[object, list[tuple[Seated, str]]] = {}
    for part, stem in parts:
        alike.setdefault(_measures(part.seat), []).append((part, stem))
    found: dict[str, str] = {}
    for same in alike.values():
        file = f"{same[0][1]}.dxf"
        write_pattern_dxf(folder / file, draft, [part.seat for part, _ in same])
        found |= {part.name: file for part, _ in same}
    return found


def _measures(seat: TransitionSeat) -> object:
    shape = seat.port.shape
    return shape.kind, shape.size, shape.points, seat.port.transition, seat.tube, round(seat.lead, 6)


def write_pattern_dxf(path: Path, draft: Draft, seats: Sequence[TransitionSeat]) -> None:
    """Writes the pattern of equal transitions.

    The same bytes for the same draft and library. Raises DrawingError if the library's audit finds a fault, OSError if
    the file cannot be written.
    """
    document = new_document()
    space, top = document.modelspace(), 0.0
    for corners, ticks, words in _contours(draft, seats):
        shift = np.array([0.0, top - corners[:, 1].max()])
        corners, ticks = corners + shift, [tick + shift for tick in ticks]
        space.add_lwpolyline(corners.tolist(), close=True, dxfattribs={"layer": CUT})
        for start, end in ticks:
            space.add_line(start.tolist(), end.tolist(), dxfattribs={"layer": MARK})
        edge = points_on(polygon([(x, y) for x, y in corners.tolist()]), SPACING)
        along = np.linspace(0.0, 1.0, round(TICK / SPACING) + 1)[:, None]
        keep_off = [start + along * (end - start) for start, end in ticks]
        add_words(space, with_room(list(_stacked(words, middle_of(edge))), edge, keep_off, SMALL))
        top = float(corners[:, 1].min()) - APART
    path.write_text(text_of(document), encoding="utf-8", newline="\n")


def _contours(draft: Draft, seats: Sequence[TransitionSeat]) -> Iterator[Contour]:
    port, tube, lead, labels = seats[0].port, seats[0].tube, seats[0].lead, [seat.label for seat in seats]
    halves = patterns(port.shape, tube, port.transition)
    title = [f"{draft.job.title} {draft.job.revision}", f"transition {' '.join(labels)}"]
    sheet = f"{draft.tube.material} {size_text(tube.wall, draft.units)}"
    for name, half in zip(("A", "B"), halves, strict=False):
        which = "half" if len(halves) == 1 else f"half {name}"
        ticks = [tick for row in half.bends for tick in _ticks(half, row)]
        yield half.contour, ticks, [*title, sheet, f"{which}, qty {half.count * len(seats)}", "port below"]
    if lead > THIN:
        length = rounds(port.shape, tube)[0]
        corners = np.array([(0.0, 0.0), (length, 0.0), (length, lead), (0.0, lead)]) - (length / 2, 0.0)
        yield corners, [], [f"band {labels[0]}, qty {len(seats)}"]


def _stacked(words: list[str], middle: tuple[float, float]) -> Iterator[tuple[str, tuple[float, float]]]:
    """Each line of text with its place, the first line on top."""
    for k, text in enumerate(words):
        yield text, (middle[0], middle[1] + LINE * ((len(words) - 1) / 2 - k))


def _ticks(half: Pattern, row: int) -> Iterator[Array]:
    """Ticks at both ends of a ruling, pointing inward."""
    port, tube = half.port[row], half.tube[row]
    way = (tube - port) / np.linalg.norm(tube - port) * TICK
    yield np.array([port, port + way])
    yield np.array([tube, tube - way])
