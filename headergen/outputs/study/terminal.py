"""The results of a study on the terminal."""

from __future__ import annotations

from collections.abc import Sequence

from rich import box
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from headergen.model.study import CaseResult
from headergen.outputs.study import TITLES, study_table, unit_of

NAME_WIDTH = 24  # of a case: more is folded on a narrow terminal
SHORT = {**{name: name for name in TITLES}, "degrees": "bent deg"}


def study_summary(results: Sequence[CaseResult], units: str) -> RenderableType:
    """The figures of all cases found, for rich to print, and below them why the others were not.

    The name of a case says what was chosen, and a figure that is the same in all of them stands in study.csv alone.
    """
    found = [each for each in results if each.figures is not None]
    missing = (Text(f"{each.case.name}: {' '.join(each.why)}") for each in results if each.figures is None)
    if not found:
        return Group(*missing)
    rows = list(zip(*(row[1 + len(found[0].case.chosen) : -1] for row in study_table(found, units).rows), strict=True))
    columns = zip((f"{SHORT[name]}{_short_unit(name, units)}" for name in TITLES), rows, strict=False)
    shown = [(head, column) for head, column in columns if head[0] not in "xyz" or len(set(column)) > 1]
    grid = Table(box=box.SIMPLE_HEAD, pad_edge=False, padding=(0, 1, 0, 0))
    grid.add_column("")
    grid.add_column("case", overflow="fold", min_width=NAME_WIDTH)
    for head, _ in shown:
        grid.add_column(head, justify="right", no_wrap=True)
    for k, each in enumerate(found):
        grid.add_row("*" if each.best else "", each.case.name, *(column[k] for _, column in shown))
    return Group(grid, *missing)


def _short_unit(name: str, units: str) -> str:
    return "" if name == "degrees" else unit_of(name, units).replace("(", "").replace(")", "")
