"""Lay-flat drawings of bends at full size: to check delivered bends, and with the lines where they are sawn."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Any

from headergen.model import CutMark, Shop, Stock, StockBend, Vec2
from headergen.model.stock import stock_radius
from headergen.outputs.shop.sheets.full_size import EDGE, FullSize, full_size_room
from headergen.outputs.shop.sheets.pages import TILE_HEAD
from headergen.show.paper import BOLD, FONT, INK, MM, PALE, PAPER
from headergen.words.numbers import in_units
from headergen.words.say import say_length

BEYOND = 30.0  # mm that a line is extended past both sides of the tube, for squaring up
LEGS_SHOWN = tuple(float(most) for most in range(60, 28, -2))  # mm of a leg that may be drawn: the most that fits
UPSIDE_DOWN = math.radians(135)  # from this bend angle on, text along the second leg would be upside down
LINE, NAME = 5.2, 6.0  # mm: line spacing of text; room for the name of a leg beyond its end
COMES_IN = 2  # lines of text on how a bend comes in
TEXT = 11.0  # points
Point = tuple[float, float]


@dataclass(frozen=True)
class SawLine:
    """A line across a bend, by its angle from the end of the first leg, and the same for the saw."""

    name: str
    net: float
    saw: float


@dataclass(frozen=True)
class LegLine:
    """A line across a leg, 0 the first and 1 the second, by its distance from the start of the arc."""

    name: str
    leg: int
    net: float
    saw: float


def saw_lines(marks: Sequence[CutMark], bend: StockBend) -> Iterator[SawLine]:
    """The radial lines of the marks of one bend.

    `saw` is on the side that is cut off: away from the piece's other end, which has no mark if it is as bought.
    """
    for mark in marks:
        if mark.chords is None:
            continue
        others = [m for m in marks if (m.run, m.piece) == (mark.run, mark.piece) and m.end != mark.end]
        is_far = not others or any(m.measured_from == mark.measured_from and m.middle < mark.middle for m in others)
        beyond = mark.leave_on_angle if is_far else -mark.leave_on_angle
        net, saw = mark.angle, mark.angle + beyond
        if mark.measured_from == "second leg":
            net, saw = bend.real_angle - net, bend.real_angle - saw
        yield SawLine(_name(mark), net, saw)


def leg_lines(marks: Sequence[CutMark], bend: StockBend) -> Iterator[LegLine]:
    """The lines across its legs; the leg's end is cut off."""
    for mark in marks:
        if mark.chords is None:
            leg = 0 if mark.measured_from == "first leg" else 1
            net = bend.real_legs[leg] - mark.middle
            yield LegLine(_name(mark), leg, net, net + mark.leave_on)


def _name(mark: CutMark) -> str:
    return f"{mark.run}, piece {mark.piece}, {mark.end}"


def bends_to_cut(shop: Shop, stock: Stock | None, radius: float, units: str) -> Iterator[FullSize]:
    """Every stock bend that is used; `radius`: that of the header's tube."""
    for item in shop.plan.items:
        if stock is not None and item.kind == "bend":
            marks = [mark for mark in shop.cuts if mark.item == item.number]
            bend = stock.bends[item.index]
            yield flat_bend(item.number, bend, stock_radius(bend, radius), marks, units, stock.oval_of(bend))


def flat_bend(
    number: int, bend: StockBend, radius: float, marks: Sequence[CutMark], units: str = "mm", oval: float = 0.0
) -> FullSize:
    """A stock bend lying flat as measured, else as sold: first leg below on the right, turning left.

    `radius` is that of its tube; `oval`, (largest − smallest diameter) / nominal, of bends that were not measured.
    """
    real = replace(bend, radius=bend.real_radius, angle=bend.real_angle, legs=bend.real_legs)
    arcs, across = list(saw_lines(marks, real)), list(leg_lines(marks, real))
    page = full_size_room(PAPER[units])
    fit = _fitting(real, radius, (arcs, across), (page, COMES_IN + len(arcs)))
    across = [line for line in across if line.saw <= fit.legs[line.leg]]
    comes_in = _as_it_comes_in(
        real, (radius, oval), units, "to the right, above" if fit.turned else "below, on the right"
    )
    words = [*comes_in, *_legend([*arcs, *across]), *_said_of_lines(fit, [*arcs, *across], units)]
    (left, low), (right, high) = fit.low, fit.high

    def draw(canvas: Any) -> None:
        canvas.setFillColorRGB(*INK)
        canvas.setFont(FONT, TEXT / MM)
        for k, said in enumerate(words):
            canvas.drawString(0, high - low + LINE * (len(words) - k) - 4.0, said)
        canvas.translate(-left, -low)
        if fit.turned:
            canvas.rotate(90)
        _tube(canvas, real, radius, fit.legs)
        _cross(canvas, (0.0, 0.0))
        _leg_names(canvas, real, fit.legs)
        reach = _reach(real, radius, fit.beyond)
        for count, arc in enumerate(arcs, 1):
            _radial(canvas, (arc, count), reach)
        for count, line in enumerate(across, 1 + len(arcs)):
            _square(canvas, (line, count), reach, real)

    title = f"Item {number}: {math.degrees(real.angle):.1f}°, CLR {say_length(real.radius, units)}"
    title = f"{title}, tube {say_length(2 * radius, units)}"
    return FullSize(title, (right - left, high - low + LINE * len(words)), draw)


def _as_it_comes_in(bend: StockBend, tube: tuple[float, float], units: str, where: str) -> tuple[str, str]:
    """`tube`: its radius, and its oval where it was not measured; `where`: of the first leg on the drawing."""
    radius, oval = tube
    first, second = (in_units(leg, units) for leg in bend.legs)
    known = bend.measured.oval if bend.measured is not None else None
    wide, narrow = known or (2 * radius * (1 + oval / 2), 2 * radius * (1 - oval / 2))
    flat, upright = f"{'' if known else 'about '}{in_units(narrow, units)}", f"{in_units(wide, units)} {units}"
    return (
        f"First leg {first} {units} ({where}), second leg {second} {units}.",
        f"Oval: {flat} in the plane of the bend, {upright} square to it.",
    )


def _legend(lines: Sequence[SawLine | LegLine]) -> Iterator[str]:
    for count, line in enumerate(lines, 1):
        yield f"{count}: {line.name}"


def _said_of_lines(fit: Fitting, lines: Sequence[SawLine | LegLine], units: str) -> Iterator[str]:
    if lines and fit.beyond < BEYOND:
        yield f"Lines go {say_length(fit.beyond, units)} past the outside: the page has no room for more."


def _reach(bend: StockBend, radius: float, beyond: float) -> Point:
    """The distances from the centre to both ends of a line, which is extended by `beyond` outside."""
    return max(bend.radius - radius - BEYOND, 0.0), bend.radius + radius + beyond


@dataclass(frozen=True)
class Fitting:
    """How a drawing fits: the part of both legs that is drawn, how far lines are extended outside, whether it is turned
    a quarter counter-clockwise, and its corners on the paper, low and high."""

    legs: Point
    beyond: float
    turned: bool
    low: Point
    high: Point


def _fitting(
    bend: StockBend,
    radius: float,
    lines: tuple[Sequence[SawLine], Sequence[LegLine]],
    on_page: tuple[Vec2, int],
) -> Fitting:
    """What fits on a page of a room; beside the drawing there are so many lines of text, one more for each line across
    a leg, and one where lines are short.

    Lines that a full drawing would have come first, then their extension, then a drawing that is not turned, then the
    legs. What fits no page is to take as few as it can.
    """
    (wide, high), words = on_page
    needed = max((line.saw for line in lines[1] if line.saw <= LEGS_SHOWN[0]), default=0.0)
    most = BEYOND if any(lines) else 0.0
    beyonds = [most, *(float(k) for k in range(int(most) - 1, -1, -1))]
    tries = sorted(product(beyonds, (False, True), LEGS_SHOWN), key=lambda each: each[2] < needed)
    large = list[tuple[int, Fitting]]()
    for beyond, turned, shown in tries:
        legs = min(bend.legs[0], shown), min(bend.legs[1], shown)
        fit = _fitted(bend, radius, lines, (legs, beyond, turned))
        said = words + sum(line.saw <= legs[line.leg] for line in lines[1]) + (beyond < most)
        size = fit.high[0] - fit.low[0], fit.high[1] - fit.low[1] + LINE * said
        if size[0] <= wide and size[1] <= high - 10:
            return fit
        if beyond == most and not turned and min(legs) >= min(needed, *bend.legs):
            large.append((math.ceil(size[0] / wide) * math.ceil(size[1] / (high - TILE_HEAD)), fit))
    return min(large, key=lambda each: each[0])[1]


def _fitted(
    bend: StockBend,
    radius: float,
    lines: tuple[Sequence[SawLine], Sequence[LegLine]],
    how: tuple[Point, float, bool],
) -> Fitting:
    legs, beyond, turned = how
    corners = list(_corners(bend, radius, lines, (legs, beyond)))
    if turned:
        corners = [(-y, x) for x, y in corners]
    low = min(x for x, _ in corners) - EDGE, min(y for _, y in corners) - EDGE
    high = max(x for x, _ in corners) + EDGE, max(y for _, y in corners) + EDGE
    return Fitting(legs, beyond, turned, low, high)


def _corners(
    bend: StockBend, radius: float, lines: tuple[Sequence[SawLine], Sequence[LegLine]], shown: tuple[Point, float]
) -> Iterator[Point]:
    legs, beyond = shown
    inner, outer, reach = bend.radius - radius, bend.radius + radius, _reach(bend, radius, beyond)
    yield 0.0, 0.0
    for k in range(25):
        turned = bend.angle * k / 24
        yield outer * math.cos(turned), outer * math.sin(turned)
    for leg in (0, 1):
        for far in (inner, outer):
            yield _on_leg(bend, leg, far, legs[leg] + NAME)
    for arc in lines[0]:
        yield from ((far * math.cos(arc.net), far * math.sin(arc.net)) for far in (reach[0], reach[1] + 1.0))
    for line in lines[1]:
        if line.saw <= legs[line.leg]:
            yield from (_on_leg(bend, line.leg, far, line.saw) for far in reach)


def _on_leg(bend: StockBend, leg: int, far: float, along: float) -> Point:
    """A place `far` from the centre, across the start of a leg, and `along` that leg."""
    if leg == 0:
        return far, -along
    c, s = math.cos(bend.angle), math.sin(bend.angle)
    return far * c - along * s, far * s + along * c


def _tube(canvas: Any, bend: StockBend, radius: float, legs: Point) -> None:
    """Both edges, the centreline, and the ends of legs that are drawn in full."""
    canvas.setStrokeColorRGB(*INK)
    canvas.setLineWidth(0.35)
    for side in (-radius, radius):
        _outline(canvas, bend, bend.radius + side, legs)
    for leg in (0, 1):
        if legs[leg] == bend.legs[leg]:
            ends = [_on_leg(bend, leg, bend.radius + side, legs[leg]) for side in (-radius, radius)]
            canvas.line(*ends[0], *ends[1])
    canvas.setDash([4, 1.5, 0.8, 1.5])
    canvas.setLineWidth(0.15)
    _outline(canvas, bend, bend.radius, legs)
    canvas.setDash()


def _outline(canvas: Any, bend: StockBend, radius: float, legs: Point) -> None:
    """A line along the bend at a radius from its centre: first leg, arc, second leg."""
    path = canvas.beginPath()
    path.moveTo(radius, -legs[0])
    path.lineTo(radius, 0)
    path.arcTo(-radius, -radius, radius, radius, 0, math.degrees(bend.angle))
    path.lineTo(*_on_leg(bend, 1, radius, legs[1]))
    canvas.drawPath(path)


def _cross(canvas: Any, at: Point) -> None:
    x, y = at
    canvas.setLineWidth(0.2)
    canvas.line(x - 4, y, x + 4, y)
    canvas.line(x, y - 4, x, y + 4)
    canvas.setFillColorRGB(*PALE)
    canvas.setFont(FONT, TEXT / MM)
    canvas.drawRightString(x - 1.5, y + 1.5, "centre")


def _leg_names(canvas: Any, bend: StockBend, legs: Point) -> None:
    canvas.setFillColorRGB(*PALE)
    canvas.setFont(FONT, TEXT / MM)
    if bend.legs[0] > 0:
        canvas.drawCentredString(bend.radius, -legs[0] - 4.5, "first leg")
    if bend.legs[1] > 0:
        canvas.saveState()
        canvas.translate(*_on_leg(bend, 1, bend.radius, legs[1] + 2.0))
        if bend.angle > UPSIDE_DOWN:
            canvas.rotate(math.degrees(bend.angle) - 180.0)
            canvas.translate(0.0, -2.5)
        else:
            canvas.rotate(math.degrees(bend.angle))
        canvas.drawCentredString(0.0, 0.0, "second leg")
        canvas.restoreState()


def _radial(canvas: Any, numbered: tuple[SawLine, int], reach: Point) -> None:
    line, number = numbered
    for angle, dash, width in ((line.net, [], 0.3), (line.saw, [2, 1], 0.25)):
        if dash and math.isclose(line.net, line.saw):
            continue
        canvas.setDash(dash)
        canvas.setLineWidth(width)
        x, y = math.cos(angle), math.sin(angle)
        canvas.line(reach[0] * x, reach[0] * y, reach[1] * x, reach[1] * y)
    canvas.setDash()
    way = 1.0 if line.saw <= line.net else -1.0
    far, off = reach[1] - 2.0, way * 3.0
    x, y = math.cos(line.net), math.sin(line.net)
    _numbered(canvas, number, (far * x - off * y, far * y + off * x))


def _square(canvas: Any, numbered: tuple[LegLine, int], reach: Point, bend: StockBend) -> None:
    line, number = numbered
    way = 1.0 if line.leg else -1.0
    canvas.saveState()
    canvas.rotate(line.leg * math.degrees(bend.angle))
    for at, dash, width in ((line.net, [], 0.3), (line.saw, [2, 1], 0.25)):
        if dash and math.isclose(line.net, line.saw):
            continue
        canvas.setDash(dash)
        canvas.setLineWidth(width)
        canvas.line(reach[0], way * at, reach[1], way * at)
    canvas.setDash()
    canvas.restoreState()
    _numbered(canvas, number, _on_leg(bend, line.leg, reach[1] - 3.0, line.net - 3.0))


def _numbered(canvas: Any, number: int, at: Point) -> None:
    """The number of a line, upright, on the side where the saw does not go."""
    canvas.setFillColorRGB(*INK)
    canvas.setFont(BOLD, TEXT / MM)
    canvas.drawCentredString(at[0], at[1] - 1.4, str(number))
