"""Drawings at full size: bends laid flat with their saw lines, and tapes that go round the tube."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from headergen.model import CutMark, Shop, Stock, StockBend, TurnMark
from headergen.show.paper import BOLD, FONT, INK, MM, PALE

BEYOND = 30.0  # mm that a radial line is carried past both sides of the tube, to square up to
LEG_SHOWN = 60.0  # mm of a leg that is drawn at most
PAPER_THICK = 0.1  # mm, of a tape: common office paper, 80 g/m²
TAPE_HIGH = 24.0
EDGE = 2.0  # mm round a drawing


@dataclass(frozen=True, eq=False)
class FullSize:
    """What is drawn 1:1: its size in mm, and a call that draws it with its lower left corner at the canvas's zero."""

    title: str
    size: tuple[float, float]
    draw: Callable[[Any], None]


@dataclass(frozen=True)
class SawLine:
    """A line across a bend, by its angle from where the first leg ends, and the same where the saw goes."""

    name: str
    net: float
    saw: float


def saw_lines(marks: Sequence[CutMark], bend: StockBend) -> Iterator[SawLine]:
    """The radial ones of the marks of one bend; `saw` lies on the side that is cut off."""
    for mark in marks:
        if mark.chords is None:
            continue
        others = [m for m in marks if (m.run, m.piece) == (mark.run, mark.piece) and m.end != mark.end]
        is_far = any(m.measured_from == mark.measured_from and m.middle < mark.middle for m in others)
        beyond = mark.leave_on_angle if is_far else -mark.leave_on_angle
        net, saw = mark.angle, mark.angle + beyond
        if mark.measured_from == "second leg":
            net, saw = bend.angle - net, bend.angle - saw
        yield SawLine(f"{mark.run}, piece {mark.piece}, {mark.end}", net, saw)


def flat_bend(number: int, bend: StockBend, radius: float, marks: Sequence[CutMark]) -> FullSize:
    """A bend of stock lying flat, first leg below on the right, turning left; `radius` is that of its tube."""
    legs = tuple(min(leg, LEG_SHOWN) for leg in bend.legs)
    inner, outer, lines = bend.radius - radius, bend.radius + radius, list(saw_lines(marks, bend))
    reach = max(inner - BEYOND, 0.0), outer + BEYOND
    corners = [(0.0, 0.0), *_end_of_leg(bend, legs[1], radius)]
    corners += [(side, -leg) for side in (inner, outer) for leg in (0.0, legs[0])]
    corners += [(outer * math.cos(a), outer * math.sin(a)) for a in _turns(bend.angle)]
    corners += [(far * math.cos(line.net), far * math.sin(line.net)) for line in lines for far in reach]
    left, low = (min(each[k] for each in corners) - EDGE for k in (0, 1))
    right, high = (max(each[k] for each in corners) + EDGE for k in (0, 1))

    def draw(canvas: Any) -> None:
        canvas.translate(-left, -low)
        canvas.setStrokeColorRGB(*INK)
        for side in (-radius, radius):
            canvas.setLineWidth(0.35)
            _outline(canvas, bend, bend.radius + side, legs)
        canvas.setDash([4, 1.5, 0.8, 1.5])
        canvas.setLineWidth(0.15)
        _outline(canvas, bend, bend.radius, legs)
        canvas.setDash()
        _cross(canvas, (0.0, 0.0))
        for line in lines:
            _radial(canvas, line, reach)

    said = f"Item {number}: {math.degrees(bend.angle):g}°, CLR {bend.radius:g} mm, tube {2 * radius:g} mm"
    return FullSize(said, (right - left, high - low), draw)


def _turns(angle: float) -> list[float]:
    return [angle * k / 24 for k in range(25)]


def _end_of_leg(bend: StockBend, leg: float, radius: float) -> list[tuple[float, float]]:
    out, along = (math.cos(bend.angle), math.sin(bend.angle)), (-math.sin(bend.angle), math.cos(bend.angle))
    reach = (bend.radius - radius, bend.radius + radius)
    return [(r * out[0] + leg * along[0], r * out[1] + leg * along[1]) for r in reach]


def _outline(canvas: Any, bend: StockBend, radius: float, legs: Sequence[float]) -> None:
    """A line along the bend at a radius from its centre: first leg, arc, second leg."""
    path = canvas.beginPath()
    path.moveTo(radius, -legs[0])
    path.lineTo(radius, 0)
    path.arcTo(-radius, -radius, radius, radius, 0, math.degrees(bend.angle))
    out, along = (math.cos(bend.angle), math.sin(bend.angle)), (-math.sin(bend.angle), math.cos(bend.angle))
    path.lineTo(radius * out[0] + legs[1] * along[0], radius * out[1] + legs[1] * along[1])
    canvas.drawPath(path)


def _cross(canvas: Any, at: tuple[float, float]) -> None:
    x, y = at
    canvas.setLineWidth(0.2)
    canvas.line(x - 4, y, x + 4, y)
    canvas.line(x, y - 4, x, y + 4)
    canvas.setFillColorRGB(*PALE)
    canvas.setFont(FONT, 11 / MM)
    canvas.drawString(x + 1.5, y + 1.5, "centre")


def _radial(canvas: Any, line: SawLine, reach: tuple[float, float]) -> None:
    low, high = reach
    for angle, dash, width in ((line.net, [], 0.3), (line.saw, [2, 1], 0.25)):
        if dash and math.isclose(line.net, line.saw):
            continue
        canvas.setDash(dash)
        canvas.setLineWidth(width)
        x, y = math.cos(angle), math.sin(angle)
        canvas.line(low * x, low * y, high * x, high * y)
    canvas.setDash()
    canvas.saveState()
    canvas.rotate(math.degrees(line.net))
    canvas.setFillColorRGB(*INK)
    canvas.setFont(BOLD, 11 / MM)
    canvas.drawRightString(high, 1.2, line.name)
    canvas.restoreState()


def bends_to_cut(shop: Shop, stock: Stock | None, radius: float) -> Iterator[FullSize]:
    """Every bend of stock that is cut inside its arc."""
    for item in shop.plan.items:
        marks = [mark for mark in shop.cuts if mark.item == item.number]
        if stock is not None and item.kind == "bend" and any(mark.chords is not None for mark in marks):
            yield flat_bend(item.number, stock.bends[item.index], radius, marks)


def tape(mark: TurnMark, radius: float) -> FullSize:
    """A strip that goes once round the tube, with both witness marks of a joint on it; it is printed 1:1.

    It is π(OD + paper) long, so that its ends meet on the tube. Angles run clockwise, seen looking from the flange
    along the tube, when the edge with the figures is toward the flange.
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
        for angle, name in ((0.0, "A"), (mark.angle % (2 * math.pi), "B")):
            _witness(canvas, length * angle / (2 * math.pi), name)

    before = "x of the flange" if mark.turns_from == 0 else f"the bend of piece {mark.turns_from}"
    said = f"{mark.run}, piece {mark.piece}: A on {before}, B on the bend of piece {mark.piece}"
    return FullSize(said, (length, TAPE_HIGH), draw)


def _witness(canvas: Any, x: float, name: str) -> None:
    canvas.setLineWidth(0.5)
    canvas.line(x, 0, x, TAPE_HIGH - 4)
    canvas.setFont(BOLD, 11 / MM)
    canvas.drawCentredString(x, TAPE_HIGH - 3.5, name)
