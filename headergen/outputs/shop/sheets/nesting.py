"""The cuts in each bend and bar, drawn to scale: pieces shaded, remainders white."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from headergen.model import CutPiece, Shop, Stock, StockBend, StockItem
from headergen.model.stock import stock_radius
from headergen.outputs.shop.sheets.pages import TEXT, drawing, heading, paragraph
from headergen.show.paper import BOLD, FONT, INK, MM, STEEL
from headergen.words.numbers import in_units
from headergen.words.say import say_length

WIDE, BEND_ROOM, BAR_HIGH = 174.0, (76.0, 50.0), 9.0  # mm
LINE = 5.2  # mm, line spacing of text
BEND_STEP = math.radians(3.0)
RIM = 4.0  # mm of paper by which a saw line is extended past the tube
Point = tuple[float, float]


@dataclass(frozen=True)
class Placed:
    """A piece in its item: start and end along its middle, mm from the end of its first leg or of the bar."""

    run: str
    piece: int
    start: float
    end: float
    sawn: tuple[bool, bool]  # at `start`, at `end`


def placed(item: StockItem, shop: Shop, stock: Stock) -> tuple[Placed, ...]:
    """The pieces of an item in their order along it; those of a bar as they are sawn."""
    by_name = {(piece.run, piece.number): piece for piece in shop.plan.pieces}
    pieces = [by_name[name] for name in item.pieces]
    if item.kind == "straight":
        found = [Placed(each.run, each.number, *_taken(each), (True, True)) for each in pieces]
    else:
        found = [_in_bend(each, stock.bends[item.index]) for each in pieces]
    return tuple(sorted(found, key=lambda each: each.start))


def _taken(piece: CutPiece) -> tuple[float, float]:
    assert piece.taken is not None
    return piece.taken


def _in_bend(piece: CutPiece, bend: StockBend) -> Placed:
    legs, ends = piece.legs, piece.ends
    if piece.turned:
        legs, ends = (legs[1], legs[0]), (ends[1], ends[0])
    first, last = _taken(piece)
    begins = bend.real_legs[0]
    start, end = begins + bend.real_radius * first - legs[0], begins + bend.real_radius * last + legs[1]
    return Placed(piece.run, piece.number, start, end, (ends[0].cut != "bought", ends[1].cut != "bought"))


def nesting(shop: Shop, stock: Stock | None, radius: float, units: str) -> Iterator[Any]:
    """Pages with every item of stock, its pieces numbered from its first leg, or from the left of a bar.

    `radius`: that of the header's tube.
    """
    if stock is None or not shop.plan.items:
        return
    yield heading("Stock, and what is cut from it")
    yield paragraph("Drawn to scale: pieces shaded, what is left over white, a line across where the saw goes.")
    bars = [stock.straights[item.index].length for item in shop.plan.items if item.kind == "straight"]
    for item in shop.plan.items:
        pieces = placed(item, shop, stock)
        words = [f"{k}: {each.run}, piece {each.piece}" for k, each in enumerate(pieces, 1)]
        if item.kind == "bend":
            bend = stock.bends[item.index]
            own = stock_radius(bend, radius)
            words = words if own == radius else [f"Of tube {say_length(2 * own, units)}", *words]
            yield _bend_figure(item, bend, pieces, (words, own, units))
        else:
            bar = stock.straights[item.index]
            own, size = stock_radius(bar, radius), say_length(bar.length, units)
            size += "" if own == radius else f", tube {say_length(2 * own, units)}"
            yield _bar_figure(item, (bar.length, size), pieces, (words, WIDE / max(bars), units))


def _title(item: StockItem, size: str) -> str:
    return f"Item {item.number}, {item.kind} {size}{'' if item.on_hand else ', to buy'}"


def _bar_figure(
    item: StockItem, of: tuple[float, str], pieces: tuple[Placed, ...], how: tuple[list[str], float, str]
) -> Any:
    """`of`: the length of the bar, and its size in words."""
    (length, size), (words, scale, units) = of, how
    ends = [in_units(each.end - each.start, units) for each in pieces]
    lines = [f"{word}: {end} {units} as it leaves the saw" for word, end in zip(words, ends, strict=True)]
    high = 2 * LINE + BAR_HIGH + LINE * len(lines)

    def draw(canvas: Any) -> None:
        low = high - LINE - BAR_HIGH - 2
        _words(canvas, (0.0, high - LINE), [_title(item, size)], BOLD)
        canvas.setStrokeColorRGB(*INK)
        canvas.setLineWidth(0.25)
        canvas.rect(0, low, length * scale, BAR_HIGH)
        for k, each in enumerate(pieces, 1):
            canvas.setFillColorRGB(*STEEL)
            canvas.rect(each.start * scale, low, (each.end - each.start) * scale, BAR_HIGH, stroke=1, fill=1)
            _number(canvas, ((each.start + each.end) / 2 * scale, low + BAR_HIGH / 2), k)
        _words(canvas, (0.0, low - LINE), lines, FONT)

    return drawing((WIDE, high), draw)


def _bend_figure(
    item: StockItem, bend: StockBend, pieces: tuple[Placed, ...], how: tuple[list[str], float, str]
) -> Any:
    words, radius, units = how
    corners = [
        point
        for at in _stations(bend, 0.0, _length(bend))
        for side in (-radius, radius)
        for point in (_at(bend, at, side),)
    ]
    low, high = (tuple(pick(each[k] for each in corners) for k in (0, 1)) for pick in (min, max))
    room = BEND_ROOM[0] - 2 * RIM, BEND_ROOM[1] - 2 * RIM
    scale = min(room[k] / (high[k] - low[k]) for k in (0, 1))
    tall = max((high[1] - low[1]) * scale + 2 * RIM, LINE * (len(words) + 2))

    def on_paper(at: float, side: float) -> Point:
        x, y = _at(bend, at, side)
        return RIM + (x - low[0]) * scale, RIM + (y - low[1]) * scale

    def draw(canvas: Any) -> None:
        canvas.setStrokeColorRGB(*INK)
        canvas.setLineWidth(0.25)
        _body(canvas, bend, (0.0, _length(bend)), (radius, on_paper), False)
        for k, each in enumerate(pieces, 1):
            _body(canvas, bend, (each.start, each.end), (radius, on_paper), True)
            for at, sawn in zip((each.start, each.end), each.sawn, strict=True):
                if sawn:
                    beyond = radius + RIM / scale * 0.8
                    canvas.line(*on_paper(at, -beyond), *on_paper(at, beyond))
            _number(canvas, on_paper((each.start + each.end) / 2, 0.0), k)
        size = f"{math.degrees(bend.real_angle):.1f}°, CLR {say_length(bend.real_radius, units)}"
        top = (BEND_ROOM[0] + 4, tall - LINE)
        _words(canvas, top, [_title(item, size)], BOLD)
        _words(canvas, (top[0], top[1] - LINE), words, FONT)

    return drawing((WIDE, tall + 2), draw)


def _length(bend: StockBend) -> float:
    return sum(bend.real_legs) + bend.real_radius * bend.real_angle


def _at(bend: StockBend, at: float, side: float) -> Point:
    """A place along the middle of a bend that lies flat, `side` mm to the outside.

    The bend's centre is the origin, and the bend begins along y.
    """
    first, arc, radius = bend.real_legs[0], bend.real_radius * bend.real_angle, bend.real_radius
    turned = min(max((at - first) / radius, 0.0), bend.real_angle)
    straight = min(at - first, 0.0) if at < first else max(at - first - arc, 0.0)
    out, along = (math.cos(turned), math.sin(turned)), (-math.sin(turned), math.cos(turned))
    return (radius + side) * out[0] + straight * along[0], (radius + side) * out[1] + straight * along[1]


def _stations(bend: StockBend, start: float, end: float) -> list[float]:
    """The places along the middle that an outline's corners need."""
    first, arc = bend.real_legs[0], bend.real_radius * bend.real_angle
    steps = max(math.ceil(bend.real_angle / BEND_STEP), 1)
    between = [first + arc * k / steps for k in range(steps + 1)]
    return [start, *(at for at in between if start < at < end), end]


def _body(canvas: Any, bend: StockBend, span: tuple[float, float], how: tuple[float, Any], fill: bool) -> None:
    radius, on_paper = how
    stations = _stations(bend, *span)
    outline = [on_paper(at, radius) for at in stations] + [on_paper(at, -radius) for at in reversed(stations)]
    path = canvas.beginPath()
    path.moveTo(*outline[0])
    for point in outline[1:]:
        path.lineTo(*point)
    path.close()
    canvas.setFillColorRGB(*STEEL)
    canvas.drawPath(path, stroke=1, fill=int(fill))


def _number(canvas: Any, at: Point, number: int) -> None:
    canvas.setFillColorRGB(*INK)
    canvas.setFont(BOLD, TEXT / MM)
    canvas.drawCentredString(at[0], at[1] - 1.4, str(number))


def _words(canvas: Any, at: Point, lines: list[str], face: str) -> None:
    canvas.setFillColorRGB(*INK)
    canvas.setFont(face, TEXT / MM)
    for k, line in enumerate(lines):
        canvas.drawString(at[0], at[1] - k * LINE, line)
