"""A picture of a study: each figure that varies against each other one, with the cases that no other beats numbered."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations
from pathlib import Path
from typing import Any

from headergen.model.study import CaseResult
from headergen.outputs.study import COUNTS, TITLES, unit_of
from headergen.words.numbers import INCH

MOST_FIGURES = 5  # against each other: more panels cannot be read
MOST_NAMED = 24  # cases in the list: more do not fit beside the panels
VARIES = 0.05  # mm or degrees; less is the same figure
PANEL, DPI = 3.4, 130  # inches of a panel, and pixels of an inch
LEGEND = "Filled: no other case is as good in everything\nthat is compared, and better in something"
INK, PALE = "#1f4e79", "#8a949e"


def compared_figures(results: Sequence[CaseResult], better: Sequence[str]) -> tuple[str, ...]:
    """The figures that differ between the headers found: those compared come first."""
    found = [each.figures for each in results if each.figures is not None]
    names = (*better, *(name for name in TITLES if name not in better and name not in COUNTS))
    varying = []
    for name in names:
        values = [value for figures in found if math.isfinite(value := figures.of(name))]
        if values and max(values) - min(values) > VARIES:
            varying.append(name)
    return tuple(varying[:MOST_FIGURES])


def draw_study(target: Path, results: Sequence[CaseResult], better: Sequence[str], units: str) -> bool:
    """Draws a PNG; False if fewer than two figures differ, so that nothing trades off. Raises OSError."""
    names = compared_figures(results, better)
    if len(names) < 2:
        return False
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    across = len(names) - 1
    figure = Figure(figsize=(PANEL * max(across, 2), PANEL * across + 0.6), dpi=DPI, layout="constrained")
    FigureCanvasAgg(figure)
    axes: Any = figure.subplots(across, across, squeeze=False)
    for row, column in combinations(range(len(names)), 2):
        _panel(axes[column - 1][row], results, (names[row], names[column]), units)
    for column, row in combinations(range(across), 2):
        axes[column][row].set_axis_off()
    figure.legend(*_listed(results), loc="upper right", fontsize=8, title_fontsize=8, title=LEGEND, handlelength=0)
    figure.savefig(target, metadata={"Software": None})
    return True


def _panel(axes: Any, results: Sequence[CaseResult], names: tuple[str, str], units: str) -> None:
    """One figure across, one up; each header found is a mark."""
    scale = [1 / INCH if units == "in" and unit_of(name, units) == " (in)" else 1.0 for name in names]
    numbers = _numbers(results)
    for result in results:
        if result.figures is None:
            continue
        x, y = (result.figures.of(name) * by for name, by in zip(names, scale, strict=True))
        if not (math.isfinite(x) and math.isfinite(y)):
            continue
        face = INK if result.best else "none"
        axes.scatter([x], [y], s=34, facecolors=face, edgecolors=INK if result.best else PALE, linewidths=1.2, zorder=3)
        if result.case.name in numbers:
            text = str(numbers[result.case.name])
            axes.annotate(text, (x, y), xytext=(5, 4), textcoords="offset points", fontsize=8, zorder=4)
    for axis, name in zip((axes.xaxis, axes.yaxis), names, strict=True):
        axis.set_label_text(f"{TITLES[name]}{unit_of(name, units)}", fontsize=9)
        if name in COUNTS:
            axis.get_major_locator().set_params(integer=True)
    axes.tick_params(labelsize=8)
    axes.margins(0.18)
    axes.grid(visible=True, color="#e3e6e9", linewidth=0.6)


def _numbers(results: Sequence[CaseResult]) -> dict[str, int]:
    """The numbers of the cases that no other beats, in the order of the study."""
    best = [each.case.name for each in results if each.best]
    return {name: k for k, name in enumerate(best[:MOST_NAMED], 1)}


def _listed(results: Sequence[CaseResult]) -> tuple[list[Any], list[str]]:
    """Handles and lines of the list of those cases."""
    from matplotlib.lines import Line2D

    lines = [f"{number}  {name}" for name, number in _numbers(results).items()]
    return [Line2D([], [], linestyle="none") for _ in lines], lines
