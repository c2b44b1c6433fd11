"""The pages of the sheets that change where a tube is half built: what to do, and the figures as they are now."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from headergen.model import CorrectedRun, Correction, Header
from headergen.model.sign_off import SignOff
from headergen.outputs.shop.cautions import CAUTIONS
from headergen.outputs.shop.sheets.full_size import FullSize
from headergen.outputs.shop.sheets.pages import PrintJob, full_size, grid, heading, made, paragraph
from headergen.outputs.shop.sheets.templates import wrapped
from headergen.words.correction import figure, instruction, left_over, said_of_lengths, steps_of, way_of
from headergen.words.numbers import fixed, in_units
from headergen.words.say import capital

ROOM = 6.0  # points above a paragraph


def write_corrected(path: Path, header: Header, runs: Sequence[CorrectedRun], facts: SignOff) -> None:
    """Write the changed pages. Raises OSError if the file cannot be written."""
    from headergen.show.paper import register_fonts

    register_fonts()
    draft = header.draft
    job = PrintJob(facts, draft.units, draft.shop.print_scale)

    def story() -> list[Any]:
        from reportlab.platypus import PageBreak

        pages: list[Any] = []
        for run in runs:
            pages += [*_page(run, draft.units), PageBreak()]
        templates = [_named(wrapped(each, draft.units), each.name) for run in runs for each in run.templates]
        how = "Cut out along the curve and wrap it round the piece, from its witness line on, base line square."
        pages += full_size(templates, job, how)
        while pages and isinstance(pages[-1], PageBreak):
            pages.pop()
        return pages

    path.write_bytes(made(story, job))


def _named(template: FullSize, piece: str) -> FullSize:
    return replace(template, title=f"{capital(piece)}: its start, cut off square, cut up")


def _apart(paragraphs: Sequence[Any]) -> Any:
    """Paragraphs on one page, with room above each."""
    from reportlab.platypus import KeepTogether, Spacer

    return KeepTogether([part for each in paragraphs for part in (Spacer(1, ROOM), each)])


def _work(correction: Correction, units: str) -> list[str]:
    """What is to be done: in one line, or, where there are several steps, one line for each."""
    steps = steps_of(correction, units)
    if len(steps) < 2:
        return [f"{capital(instruction(correction, units))}."]
    lines = [f"{k}. {capital(step)}." for k, step in enumerate(steps, 1)]
    return [f"{capital(correction.run)}: {len(steps)} steps", *lines]


def _page(run: CorrectedRun, units: str) -> Iterator[Any]:
    correction = run.correction
    yield paragraph(f"{capital(correction.run)}, from where it is now", 18, bold=True)
    yield from (paragraph(each, 12, bold=True) for each in _work(correction, units))
    yield _apart([paragraph(each) for each in (*left_over(correction, units), said_of_lengths(run, units))])
    if run.pieces:
        yield heading("Pieces that differ from the sheets")
        rows: list[tuple[str, ...]] = [("piece", "what", "on the sheets", "now")]
        rows += [
            (str(each.piece), each.what, figure(each, each.planned, units), figure(each, each.now, units))
            for each in run.pieces
        ]
        yield grid(rows, (24, 40, 45, 45))
    if run.turns:
        yield heading("Turns as they are now, seen from the flange")
        rows = [("joint", "piece", "against piece", "turn", f"arc, {units}")]
        rows += [
            (
                str(each.joint),
                str(each.piece),
                str(each.turns_from or "flange"),
                f"{fixed(abs(math.degrees(each.angle)), 1)}° {way_of(each.angle)}",
                in_units(each.arc, units),
            )
            for each in run.turns
        ]
        yield grid(rows, (24, 24, 34, 54, 24))
    if run.heights:
        yield heading("On the table, as they are now")
        rows = [("after piece", "flat: piece", "along", "to the left", "above", "leans")]
        for each in run.heights:
            places = (in_units(value, units) for value in (each.along, each.offset, each.height))
            rows.append((str(each.piece), str(each.flat), *places, f"{fixed(math.degrees(each.lean), 1)}°"))
        yield grid(rows, (26, 24, 32, 32, 32, 28))
    yield _apart([paragraph(" ".join(CAUTIONS))])
