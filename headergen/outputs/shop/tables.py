"""The tables of the bench in the unit of the job, for CSV files and for the terminal."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from headergen.model import CutPiece, Header, MitreOffer, Shop
from headergen.outputs.shop.order import bend_size, order_list
from headergen.outputs.shop.steps import StepRow, start_of, step_rows
from headergen.words.numbers import in_fractions, in_units
from headergen.words.say import say_length, say_other_tube

CLOCK = {True: "clockwise", False: "counter-clockwise", None: ""}


@dataclass(frozen=True)
class ShopTable:
    """A table; `name`: of its file; `heads` include the unit of their column."""

    name: str
    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def all_tables(header: Header, shop: Shop) -> tuple[ShopTable, ...]:
    """Every table; those of mitres, the shop's own bender and ends sawn to a lean only if there are any."""
    more = (mitres_table(header, shop), bending_table(header, shop), lean_cuts_table(header, shop))
    return (
        *(table for table in more if table.rows),
        steps_table(header),
        lengths_table(header, shop),
        pieces_table(header, shop),
        cuts_table(header, shop),
        turns_table(header, shop),
        bench_table(header, shop),
        order_table(header, shop),
    )


def steps_table(header: Header) -> ShopTable:
    """LRA and XYZ of every run."""
    units = header.draft.units
    heads = ("tube", "step", "kind", f"length ({units})", "rotation (deg)", "angle (deg)", f"CLR ({units})")
    rows = [
        (run.name, *_step(row, units, "start" if k == 0 else "end"))
        for run, line in header.tubes
        for k, row in enumerate(step_rows(run, line))
    ]
    points = tuple(f"corner {axis} ({units})" for axis in "xyz")
    return ShopTable("steps", "Steps of every tube, and the corners of its bends", (*heads, *points), tuple(rows))


def _step(row: StepRow, units: str, place: str) -> tuple[str, ...]:
    """A row of the table; `place`: what the row is if it is not a step."""
    at = ("", "", "") if row.point is None else _lengths(row.point, units)
    if row.number is None:
        return ("", place, "", "", "", "", *at)
    if row.angle is None:
        return (str(row.number), "straight", _length(row.length, units), "", "", "", *at)
    length, radius = _length(row.length, units), _length(row.radius or 0.0, units)
    return (str(row.number), "bend", length, _angle(row.rotation or 0.0), _angle(row.angle), radius, *at)


def lengths_table(header: Header, shop: Shop) -> ShopTable:
    units = header.draft.units
    heads = ("tube", f"centreline length ({units})", f"cut length ({units})", f"with what is left on ({units})")
    finished = tuple(f"end from the flange: {way} ({units})" for way in ("out", "along x", "along y"))
    rows = tuple(
        (
            each.run,
            *_lengths((each.centreline, each.cut, each.sawn, end.out, end.x, end.y), units),
            _angle(end.lean),
        )
        for each, end in zip(shop.lengths, shop.finished, strict=True)
    )
    return ShopTable("lengths", "Lengths of every tube", (*heads, *finished, "end's lean (deg)"), rows)


def pieces_table(header: Header, shop: Shop) -> ShopTable:
    units = header.draft.units
    heads = (
        *("tube", "piece", "kind", f"first straight ({units})", "angle (deg)", f"CLR ({units})"),
        *(f"last straight ({units})", f"length ({units})", "from item", "stock", "first end", "last end", "clamp"),
    )
    return ShopTable("pieces", "Pieces", heads, tuple(_piece(header, shop, piece) for piece in shop.plan.pieces))


def _piece(header: Header, shop: Shop, piece: CutPiece) -> tuple[str, ...]:
    units = header.draft.units
    bend = (_angle(piece.angle), _length(piece.radius, units), _length(piece.legs[1], units))
    return (
        piece.run,
        str(piece.number),
        "bend" if piece.is_bend else "straight",
        _length(piece.legs[0], units),
        *(bend if piece.is_bend else ("", "", "")),
        _length(piece.length, units),
        "" if piece.item is None else str(piece.item),
        _stock(header, shop, piece),
        *(_end(end.cut, end.leave_on, units) for end in piece.ends),
        "" if piece.clampable else "cut lying flat",
    )


def _stock(header: Header, shop: Shop, piece: CutPiece) -> str:
    stock = header.draft.stock
    if piece.item is None or stock is None:
        return "not in the stock list"
    item, units = shop.plan.items[piece.item - 1], header.draft.units
    if item.kind == "bend":
        bend = stock.bends[item.index]
        return bend_size(bend, units) + say_other_tube(bend, header.draft.tube, units)
    straight = stock.straights[item.index]
    return say_length(straight.length, units) + say_other_tube(straight, header.draft.tube, units)


def _end(cut: str, leave_on: float, units: str) -> str:
    said = {"arc": "cut inside the arc", "square": "cut square", "bought": "as bought", "lean": "cut to the lean"}[cut]
    return f"{said}, leave {say_length(leave_on, units)} on" if leave_on else said


def cuts_table(header: Header, shop: Shop) -> ShopTable:
    units = header.draft.units
    heads = (
        *("item", "tube", "piece", "end", "from the end of", f"outside ({units})", f"middle ({units})"),
        *(f"inside ({units})", "angle (deg)", f"chord outside ({units})", f"chord inside ({units})"),
        *(f"leave on ({units})", "leave on (deg)", f"saw at ({units})"),
    )
    rows = tuple(
        (
            *(str(mark.item), mark.run, str(mark.piece), mark.end, mark.measured_from),
            *_lengths((mark.outside, mark.middle, mark.inside), units),
            *(("", "", "") if mark.chords is None else (_angle(mark.angle), *_lengths(mark.chords, units))),
            *(_length(mark.leave_on, units), _angle(mark.leave_on_angle) if mark.leave_on_angle else ""),
            "" if mark.saw_at is None else _length(mark.saw_at, units),
        )
        for mark in sorted(shop.cuts, key=lambda mark: mark.item)
    )
    return ShopTable("cuts", "Saw lines, net, by item of stock", heads, rows)


def lean_cuts_table(header: Header, shop: Shop) -> ShopTable:
    """Angles from x and from the bend's line are clockwise, seen looking from the flange along the tube."""
    units = header.draft.units
    heads = (
        *("tube", "saw, from square (deg)", f"longest side ({units})", f"shortest side ({units})"),
        *("longest side, clockwise from x of the flange (deg)", "clockwise from the line of its bend (deg)"),
        "template",
    )
    rows = tuple(
        (
            *(each.run, _angle(each.angle), *_lengths(each.sides, units), _angle(each.clock)),
            *("" if each.from_line is None else _angle(each.from_line), each.name),
        )
        for each in shop.lean_cuts
    )
    return ShopTable("lean_cuts", "First ends sawn to the lean of their port", heads, rows)


def turns_table(header: Header, shop: Shop) -> ShopTable:
    """Turns are given as seen when looking along the tube from its start."""
    starts = {run.name: start_of(run) for run in header.runs}
    heads = (
        *("tube", "joint", "piece", "turned from", "angle (deg)", "direction, looking along the tube from its start"),
        *("arc on the outside (mm)", "arc on the outside (in, to 1/64)", "level (deg)", "seen from above, it bends"),
    )
    rows = tuple(
        (
            *(
                mark.run,
                str(mark.joint or starts[mark.run]),
                str(mark.piece),
                f"bend of piece {mark.turns_from}" if mark.turns_from else f"x of the {starts[mark.run]}",
                _angle(abs(mark.angle)),
            ),
            CLOCK[None if round(mark.angle, 6) == 0 else mark.angle > 0],
            *(f"{mark.arc:.1f}", in_fractions(mark.arc), f"{math.degrees(mark.level) + 0.0:+.1f}"),
            "to the same side" if mark.same_side else "back",
        )
        for mark in shop.turns
    )
    return ShopTable("turns", "Clocking", heads, rows)


def bench_table(header: Header, shop: Shop) -> ShopTable:
    units = header.draft.units
    heads = (
        *(
            "tube",
            "with piece",
            "lying flat, bending left: piece",
            f"end along ({units})",
            f"end to the left ({units})",
        ),
        *(f"end above the bend's middle ({units})", "end's lean (deg)"),
    )
    rows = tuple(
        (
            *(each.run, str(each.piece), str(each.flat)),
            *_lengths((each.along, each.offset, each.height), units),
            f"{math.degrees(each.lean) + 0.0:+.1f}",
        )
        for each in shop.heights
    )
    return ShopTable("bench", "Heights on the table, as pieces are added", heads, rows)


def mitres_table(header: Header, shop: Shop) -> ShopTable:
    units = header.draft.units
    heads = (
        *("tube", "step", "bend (deg)", "cut each straight at (deg)", f"straights longer by, each ({units})"),
        *(f"centreline longer ({units})", f"corner outside the bend ({units})", "saves pieces", "saves joints"),
        *(f"template {k}/{len(offer.ordinates)} ({units})" for offer in shop.mitres[:1] for k in _parts(offer)),
    )
    rows = tuple(
        (
            *(each.run, str(each.step), _angle(each.angle), _angle(each.cut_angle)),
            *_lengths((each.setback, each.longer, each.off), units),
            *(str(each.pieces), str(each.joints)),
            *_lengths(each.ordinates, units),
        )
        for each in shop.mitres
    )
    return ShopTable("mitres", "Mitred joints in the place of slight bends", heads, rows)


def _parts(offer: MitreOffer) -> range:
    return range(len(offer.ordinates))


def bending_table(header: Header, shop: Shop) -> ShopTable:
    """LRA and XYZ for the shop's own bender; the last row of a tube is its last straight and its end."""
    units = header.draft.units
    heads = (
        *("tube", f"blank ({units})", "step", f"feed ({units})", "rotation (deg)", "bend (deg)", "bend to (deg)"),
        *(f"CLR ({units})", *(f"corner {axis} ({units})" for axis in "xyz")),
    )
    rows: list[tuple[str, ...]] = []
    for tube in shop.bent:
        rows.append((tube.run, _length(tube.blank, units), "start", *[""] * 5, *_lengths(tube.start, units)))
        for row in tube.rows:
            corner = ("", "", "") if row.corner is None else _lengths(row.corner, units)
            turns = (_angle(row.rotation), _angle(row.angle), _angle(row.set_angle))
            feed, radius = _length(row.feed, units), _length(row.radius, units)
            rows.append((tube.run, "", str(row.step), feed, *turns, radius, *corner))
        rows.append((tube.run, "", "end", _length(tube.last, units), *[""] * 4, *_lengths(tube.end, units)))
    return ShopTable("bending", "On the shop's own bender", heads, tuple(rows))


def order_table(header: Header, shop: Shop) -> ShopTable:
    rows: Iterator[Sequence[str]] = (
        (line.what, line.size, str(line.needed), str(line.on_hand), f"{line.quantity:g}", line.unit)
        for line in order_list(header, shop)
    )
    heads = ("what", "size", "needed", "on hand", "to order", "unit")
    return ShopTable("order", "To order", heads, tuple(tuple(row) for row in rows))


def _length(millimetres: float, units: str) -> str:
    """To 0.1 mm or 0.001 in, without its unit, which is in the head."""
    return in_units(millimetres, units)


def _lengths(millimetres: Sequence[float], units: str) -> tuple[str, ...]:
    return tuple(_length(each, units) for each in millimetres)


def _angle(radians: float) -> str:
    return f"{round(math.degrees(radians), 2) + 0.0:.2f}"
