"""What is sawn for one tube: its pieces, and each cut with where it is marked and where the saw goes."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

from headergen.model import CutMark, CutPiece, Draft, Header, Run, Shop, Stock, StockBend, StockItem
from headergen.outputs.shop.lean_cuts import SEEN, said_of_longest_side
from headergen.outputs.shop.sheets.pages import SET, TEXT, grid, heading, leading, paragraph, signed, with_head
from headergen.words.numbers import in_units
from headergen.words.say import say_length, say_list, say_other_tube

HI_LO = 0.05  # mm from wall to wall, from which a joint is said to be oval


def sawing(header: Header, shop: Shop, run: Run) -> Iterator[Any]:
    """Parts that each stay on one page."""
    units, draft = header.draft.units, header.draft
    yield with_head(
        [heading("Pieces, net: straight before the bend, bend, straight after it"), _pieces(shop, draft, run)]
    )
    lying = [str(piece.number) for piece in shop.plan.of_run(run.name) if not piece.clampable]
    if lying:
        yield paragraph(f"To be cut lying flat, since no clamp holds it: piece {say_list(lying)}.")
    yield from _cuts([mark for mark in shop.cuts if mark.run == run.name], (shop, draft.stock, units))
    yield from lean_cut(shop, run, units)
    yield from _unlisted([piece for piece in shop.plan.of_run(run.name) if piece.item is None], units)


def _pieces(shop: Shop, draft: Draft, run: Run) -> Any:
    units = draft.units
    rows = [("piece", "kind", "before", "bend", "after", "from item")]
    for piece in shop.plan.of_run(run.name):
        before, after = (in_units(leg, units) for leg in piece.legs)
        source = _source(piece, shop, draft)
        if piece.is_bend:
            rows.append((str(piece.number), "bend", before, f"{math.degrees(piece.angle):.2f}°", after, source))
        else:
            rows.append((str(piece.number), "straight", before, "", "", source))
    return grid(rows, (14, 19, 22, 26, 22, 77), (TEXT, TEXT, SET, SET, SET, TEXT))


def _source(piece: CutPiece, shop: Shop, draft: Draft) -> str:
    """What a piece is cut from, in few words; lengths are in the unit of the job."""
    stock, units = draft.stock, draft.units
    if piece.item is None or stock is None:
        clr = f"; CLR {in_units(piece.radius, units)}" if piece.is_bend else ""
        return f"not in the stock list{clr}"
    item = shop.plan.items[piece.item - 1]
    return f"{item.number}: {_sold(item, stock, draft)}"


def _sold(item: StockItem, stock: Stock, draft: Draft) -> str:
    units = draft.units
    if item.kind != "bend":
        straight = stock.straights[item.index]
        return f"{in_units(straight.length, units)} long" + say_other_tube(straight, draft.tube, units)
    bend = stock.bends[item.index]
    legs = _legs(bend, units)
    said = f"{math.degrees(bend.angle):g}°, CLR {in_units(bend.radius, units)}, {legs}"
    return said + say_other_tube(bend, draft.tube, units)


def _legs(bend: StockBend, units: str) -> str:
    """Of a bend as it came in, if it was measured: saw lines count from these ends."""
    if not any(bend.real_legs):
        return "no legs"
    return f"legs {', '.join(in_units(leg, units).rstrip('0').rstrip('.') for leg in bend.real_legs)}"


def notes_of_joints(shop: Shop, run: Run, units: str) -> Iterator[str]:
    """What is to be minded where pieces are welded, in as few lines as it takes."""
    joints = shop.plan.joints_of(run.name)
    for why in dict.fromkeys(joint.blocked for joint in joints if joint.blocked):
        yield f"{_joints([j.number for j in joints if j.blocked == why])}: {why}; plan when to weld it."
    oval = [joint for joint in joints if joint.hi_lo >= HI_LO]
    if oval:
        step = say_length(max(joint.hi_lo for joint in oval), units)
        yield f"{_joints([j.number for j in oval])}: oval, walls up to {step} apart; squeeze them until they meet."


def _joints(numbers: Sequence[int]) -> str:
    return f"Joint{'' if len(numbers) == 1 else 's'} {say_list([str(each) for each in numbers])}"


def _from(mark: CutMark, of: tuple[Shop, Stock | None, str]) -> str:
    """The start of a line's measure; legs differ, so each is named with its length."""
    shop, stock, units = of
    if mark.measured_from == "bar" or stock is None:
        return "bar; left on for both ends"
    legs = stock.bends[shop.plan.items[mark.item - 1].index].real_legs
    leg = legs[0] if mark.measured_from == "first leg" else legs[1]
    return f"{mark.measured_from}, {in_units(leg, units)} long"


def _cuts(marks: Sequence[CutMark], of: tuple[Shop, Stock | None, str]) -> Iterator[Any]:
    """The lines across straights in one table, those inside arcs in others, as these are marked in another way."""
    units = of[2]
    square = [mark for mark in marks if mark.chords is None]
    if square:
        rows: list[tuple[str, ...]] = [
            ("piece", "end", "item", "from the end of the", "net line at", "leave on", "saw at")
        ]
        for mark in square:
            figures = (in_units(value, units) for value in (mark.middle, mark.leave_on, mark.saw_at or 0.0))
            rows.append((str(mark.piece), mark.end, str(mark.item), _from(mark, of), *figures))
        table = grid(rows, (14, 13, 13, 56, 28, 26, 30), (TEXT, TEXT, TEXT, TEXT, SET, SET, SET))
        yield with_head([heading("Saw across straights"), table])
    arc = [mark for mark in marks if mark.chords is not None]
    if arc:
        said = "Distances count from the end of the leg; chords, by caliper, from where the arc begins."
        yield with_head([heading("Saw inside arcs"), leading(said), *_arc_cuts(arc, of)])


def lean_cut(shop: Shop, run: Run, units: str) -> Iterator[Any]:
    """How the first end is sawn, if its tube leans on its flange."""
    cut = next((each for each in shop.lean_cuts if each.run == run.name), None)
    if cut is None:
        return
    said = (
        f"The start is sawn to the lean, by template {cut.name} and parallel to the face of the flange, so that it "
        "stands flat. Net lines above, and its cut length, count from its longest side. Sides are net, along its first "
        f"straight. The longest side, {SEEN}: {said_of_longest_side(cut)}."
    )
    head = ("saw, from square", "longest side", "shortest side", "longest side from x, + is clockwise", "template")
    figures = (in_units(side, units) for side in cut.sides)
    row = (f"{math.degrees(cut.angle):.1f}°", *figures, signed(cut.clock), cut.name)
    yield with_head([leading(said), grid([head, row], (36, 36, 36, 44, 28), (SET, SET, SET, SET, TEXT))])


def _unlisted(pieces: Sequence[CutPiece], units: str) -> Iterator[Any]:
    """What to leave on pieces that are not cut from the stock list, and their length along the middle then."""
    if not pieces:
        return
    said = "Not from the stock list: leave this on at either end; as it leaves the saw, measured along the middle."
    rows: list[tuple[str, ...]] = [("piece", "leave on, start", "leave on, end", "as it leaves the saw")]
    for piece in pieces:
        figures = (*(end.leave_on for end in piece.ends), piece.sawn_length)
        rows.append((str(piece.number), *(in_units(value, units) for value in figures)))
    yield with_head([leading(said), grid(rows, (18, 42, 42, 54), (TEXT, SET, SET, SET))])


def _arc_cuts(marks: Sequence[CutMark], of: tuple[Shop, Stock | None, str]) -> Iterator[Any]:
    """Where to mark them along the tube; and by caliper, by angle, and what the saw leaves."""
    units = of[2]
    along: list[tuple[str, ...]] = [("piece, end, item", "from the end of the", "outside", "middle", "inside")]
    across: list[tuple[str, ...]] = [
        ("piece, end, item", "chord outside", "chord inside", "angle", "leave on", "in degrees")
    ]
    for mark in marks:
        assert mark.chords is not None
        name = f"{mark.piece}, {mark.end}, {mark.item}"
        figures = (in_units(value, units) for value in (mark.outside, mark.middle, mark.inside))
        along.append((name, _from(mark, of), *figures))
        outer, inner, left = (in_units(chord, units) for chord in (*mark.chords, mark.leave_on))
        angles = f"{math.degrees(mark.angle):.1f}°", left, f"{math.degrees(mark.leave_on_angle):.2f}°"
        across.append((name, outer, inner, *angles))
    yield grid(along, (40, 50, 30, 30, 30), (TEXT, TEXT, SET, SET, SET))
    yield grid(across, (40, 33, 30, 25, 23, 29), (TEXT, SET, SET, SET, SET, SET))
