"""Marks for hand work: where each piece is sawn, and how far each bend is turned."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Literal

from headergen.geometry.curves.stepped import tube_at
from headergen.model import CutMark, CutPiece, Plan, Run, Stock, StockBend, Tube, TurnMark
from headergen.model.stock import stock_radius

End = Literal["start", "end"]
ENDS: tuple[End, End] = ("start", "end")


def cut_marks(plan: Plan, stock: Stock | None, tube: Tube) -> Iterator[CutMark]:
    """Every end that is sawn, by run and piece; a bought end has none.

    Arcs are R·θ and chords 2·R·sin(θ/2), on the outside and the inside of the bend as it is: with the measured radius
    and oval, else as sold and with the shelf's oval.
    """
    for piece in plan.pieces:
        if piece.item is None or stock is None:
            continue
        index = plan.items[piece.item - 1].index
        if not piece.is_bend:
            yield _on_bar(piece)
            continue
        bend = stock.bends[index]
        for side, end in enumerate(ENDS):
            if piece.ends[side].cut != "bought":
                yield _on_bend(piece, (side, end), bend, half_width(bend, stock, tube))


def half_width(bend: StockBend, stock: Stock, tube: Tube) -> float:
    """Half the diameter in the plane of a bend, which is the short one of its oval (mm)."""
    if bend.measured is not None and bend.measured.oval is not None:
        return bend.measured.oval[1] / 2
    return stock_radius(bend, tube.radius) * (1 - stock.oval_of(bend) / 2)


def chord(radius: float, angle: float) -> float:
    """Straight distance between two points on a circle, 2·R·sin(θ/2)."""
    return 2 * radius * math.sin(angle / 2)


def _on_bar(piece: CutPiece) -> CutMark:
    """From the existing end, the piece's own length; what is left on is that of both ends."""
    assert piece.item is not None
    left_on = sum(end.leave_on for end in piece.ends)
    length = piece.length
    return CutMark(piece.run, piece.number, "end", piece.item, "bar", length, length, length, leave_on=left_on)


def _on_bend(piece: CutPiece, at: tuple[int, End], bend: StockBend, half: float) -> CutMark:
    side, end = at
    assert piece.item is not None and piece.taken is not None
    leave_on, leg = piece.ends[side].leave_on, _leg_at(piece, side)
    if piece.ends[side].cut != "arc":
        away = bend.real_legs[leg] - piece.legs[side]
        return CutMark(piece.run, piece.number, end, piece.item, _named(leg), away, away, away, leave_on=leave_on)
    # an arc cut is measured from the leg that stays with the piece, else from the first leg
    from_leg = 1 if piece.kept_leg == "second" else 0
    line = piece.taken[leg]
    angle = bend.real_angle - line if from_leg == 1 else line
    radius, straight = bend.real_radius, bend.real_legs[from_leg]
    return CutMark(
        piece.run,
        piece.number,
        end,
        piece.item,
        _named(from_leg),
        straight + (radius + half) * angle,
        straight + radius * angle,
        straight + (radius - half) * angle,
        angle,
        (chord(radius + half, angle), chord(radius - half, angle)),
        leave_on,
        leave_on / radius,
    )


def _named(leg: int) -> Literal["first leg", "second leg"]:
    return "first leg" if leg == 0 else "second leg"


def _leg_at(piece: CutPiece, side: int) -> int:
    """The leg of its item at an end of a piece: 0 the first, 1 the second."""
    return 1 - side if piece.turned else side


def turn_marks(run: Run, pieces: Sequence[CutPiece], turns: Sequence[float]) -> Iterator[TurnMark]:
    """One mark for each bend of a run; `turns` are the rotations of its bend pieces."""
    before = 0
    for piece, angle in zip((each for each in pieces if each.is_bend), turns, strict=True):
        angle = math.remainder(angle, 2 * math.pi)
        level, same_side = folded(angle)
        arc = abs(angle) * tube_at(run, piece.start).radius
        yield TurnMark(run.name, piece.number - 1, piece.number, before, angle, arc, level, same_side)
        before = piece.number


def folded(angle: float) -> tuple[float, bool]:
    """The level reading of a plane turned by −π to π about a level axis, and whether the turn is below a right angle.

    A level cannot tell 30° from 150°.
    """
    if abs(angle) <= math.pi / 2:
        return angle, True
    return math.copysign(math.pi, angle) - angle, False
