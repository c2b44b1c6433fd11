"""The results of a study: a table for a file and for the terminal, and a picture of what trades off against what."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from headergen.model.study import CaseResult
from headergen.words.numbers import in_units

TABLE_FILE, PICTURE_FILE = "study.csv", "study.png"
COUNTS = ("bends", "joints")  # figures without a unit
TITLES = {
    "length": "length",
    "degrees": "bends in all",
    "bends": "number of bends",
    "joints": "joints",
    "gap": "smallest gap",
    "x": "outlet x",
    "y": "outlet y",
    "z": "outlet z",
}


@dataclass(frozen=True)
class StudyTable:
    """A row has the case, what was chosen, and its figures or why there are none; heads have units."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def study_table(results: Sequence[CaseResult], units: str) -> StudyTable:
    """All cases in their order; a star marks those that no other beats. Outlets count from the centre of port 1."""
    chosen = [name for name, _ in results[0].case.chosen]
    heads = ("case", *chosen, *(f"{TITLES[name]}{unit_of(name, units)}" for name in TITLES), "best", "why not")
    return StudyTable(heads, tuple(_row(each, units) for each in results))


def _row(result: CaseResult, units: str) -> tuple[str, ...]:
    chosen = (what for _, what in result.case.chosen)
    figures = [""] * len(TITLES)
    if result.figures is not None:
        figures = [number(name, result.figures.of(name), units) for name in TITLES]
    return (result.case.name, *chosen, *figures, "*" if result.best else "", " ".join(result.why))


def unit_of(name: str, units: str) -> str:
    """The unit of a figure in brackets; nothing for a number of things."""
    return "" if name in COUNTS else " (deg)" if name == "degrees" else f" ({units})"


def number(name: str, value: float, units: str) -> str:
    """A figure as it is printed; nothing for one that is not known."""
    if not math.isfinite(value):
        return ""
    if name in COUNTS:
        return f"{value:.0f}"
    if name == "degrees":
        return f"{value:.1f}"
    return in_units(value, units)


def write_study(folder: Path, results: Sequence[CaseResult], units: str) -> None:
    """Writes study.csv into an existing folder: UTF-8, decimals with a point. Raises OSError."""
    table = study_table(results, units)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(table.heads)
    writer.writerows(table.rows)
    (folder / TABLE_FILE).write_bytes(out.getvalue().encode())
