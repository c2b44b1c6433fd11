"""The gap of a run along its length, against the required one: to the chassis above, to the other tubes below."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from headergen.model.evidence import GapAlong
from headergen.outputs.report.figures.svg import WIDTH, drawing, element, label, length_label, path
from headergen.words.numbers import INCH

LEFT, RIGHT, TOP, PANEL, BETWEEN, FOOT = 44.0, 12.0, 26.0, 104.0, 34.0, 52.0
DEEPEST = -40.0  # mm; a deeper crossing is drawn as deep as this
Bends = Sequence[tuple[float, float]]


@dataclass(frozen=True)
class _Axes:
    """Maps a length along the run and a gap to a place in a panel."""

    length: float
    low: float
    high: float
    top: float

    def x(self, at: float) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * at / self.length

    def y(self, gap: float) -> float:
        return self.top + PANEL * (self.high - min(max(gap, self.low), self.high)) / (self.high - self.low)


def along_plot(run: str, along: Sequence[GapAlong], bends: Bends, units: str) -> str:
    """`along`: the gaps along the run; `bends`: start and end lengths along it."""
    height = TOP + len(along) * (PANEL + BETWEEN) - BETWEEN + FOOT
    parts: list[str] = []
    for k, each in enumerate(along):
        low = min(0.0, max(DEEPEST, 10.0 * (min(each.gap) // 10)))
        axes = _Axes(each.at[-1], low, each.reach, TOP + k * (PANEL + BETWEEN))
        parts += _panel(each, axes, units)
    parts += _foot(_Axes(along[0].at[-1], 0.0, 1.0, height - FOOT - PANEL), bends, units)
    return drawing(parts, (WIDTH, height), f"The gap of {run} along its length, against what is required.")


def _panel(each: GapAlong, axes: _Axes, units: str) -> Iterator[str]:
    yield label("To the other tubes" if each.to_tubes else "To the chassis", LEFT, axes.top - 9)
    yield element("rect", x=LEFT, y=axes.top, width=WIDTH - LEFT - RIGHT, height=PANEL, class_="frame")
    for gap in _ticks(axes.low, axes.high, INCH / 2 if units == "in" else 20.0):
        yield path([(LEFT, axes.y(gap)), (WIDTH - RIGHT, axes.y(gap))], class_="zero" if gap == 0 else "grid")
        yield length_label(gap, units, (LEFT - 5, axes.y(gap) + 5), "end", with_unit=False)
    places = list(zip(each.at, each.gap, each.required, each.against, strict=True))
    for stretch in _stretches(places):
        yield from _curve(stretch, axes)
    if any(each.against):
        yield from _least(min((p for p in places if p[3]), key=lambda p: p[1] - p[2]), axes, units)
    else:
        middle = ((LEFT + WIDTH - RIGHT) / 2, axes.top + PANEL / 2)
        yield label("nothing so near", *middle, "middle")


_Place = tuple[float, float, float, str]  # at, gap, required, against


def _stretches(places: Sequence[_Place]) -> Iterator[list[_Place]]:
    """The groups of consecutive places where something is near."""
    row: list[_Place] = []
    for place in places:
        if place[3]:
            row.append(place)
        elif row:
            yield row
            row = []
    if row:
        yield row


def _curve(row: list[_Place], axes: _Axes) -> Iterator[str]:
    gaps = [(axes.x(at), axes.y(gap)) for at, gap, _, _ in row]
    required = [(axes.x(at), axes.y(required)) for at, _, required, _ in row]
    below = [gap < required for _, gap, required, _ in row]
    for first, last in _true_runs(below):
        around = slice(max(first - 1, 0), last + 2)
        # y grows downward: the hatched area extends from the required gap down to the gap
        under = [(x, max(y, limit)) for (x, y), (_, limit) in zip(gaps[around], required[around], strict=True)]
        yield path([*required[around], *reversed(under)], closed=True, class_="too-near")
    yield path(required, class_="required")
    yield path(gaps, class_="curve")


def _true_runs(flags: Sequence[bool]) -> Iterator[tuple[int, int]]:
    start: int | None = None
    for k, flag in enumerate([*flags, False]):
        if flag and start is None:
            start = k
        elif not flag and start is not None:
            yield start, k - 1
            start = None


def _least(place: _Place, axes: _Axes, units: str) -> Iterator[str]:
    at, gap, _, _ = place
    x, y = axes.x(at), axes.y(gap)
    yield element("circle", cx=x, cy=y, r=4.0, class_="least")
    on_right = x > WIDTH * 0.66
    above = y > axes.top + PANEL - 22
    spot = (x + (-8 if on_right else 8), y - 8 if above else y + 18)
    yield length_label(gap, units, spot, "end" if on_right else "start", with_unit=True)


def _foot(axes: _Axes, bends: Bends, units: str) -> Iterator[str]:
    """The lengths along the run, and its bends as thick stretches of the line."""
    base = axes.top + PANEL + 6
    yield path([(LEFT, base), (WIDTH - RIGHT, base)], class_="line")
    for start, end in bends:
        yield path([(axes.x(start), base), (axes.x(end), base)], class_="bend")
    step = 10 * INCH if units == "in" else 200.0
    for at in _ticks(0.0, axes.length, step):
        yield length_label(at, units, (axes.x(at), base + 20), "middle", with_unit=False)
    yield label("along the tube; thick: bends", WIDTH - RIGHT, base + 38, "end")


def _ticks(low: float, high: float, step: float) -> Iterator[float]:
    """The multiples of a step from low to high."""
    return (k * step for k in range(math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9) + 1))
