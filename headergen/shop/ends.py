"""How each end of a piece is cut, and what the saw leaves on: for dressing, for the weld's shrinkage, and for trimming.

A weld's shrinkage is left on where there is straight tube for it: on a straight piece, else on legs. It is left on
inside a bend only where two bends meet, and the ways of cutting have kept room for it there. Every sawn face is
dressed, so the dressing is left on too, as far as the stock goes. If the stock has less, no saw is needed and all of it
is ground off.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from headergen.model import CutPiece, PieceEnd, ShopSettings
from headergen.shop.course import Course
from headergen.shop.ways import Member

ROUNDED = 2e-6  # mm, of lengths from the solver
AS_BOUGHT = 0.05  # mm; a leg that is as long as on the shelf is not cut

EndCut = Literal["arc", "square", "bought"]


@dataclass(frozen=True)
class BendPlace:
    """The place of a bend in its item: the item's number, the arc (rad) from its first leg, and what it keeps.

    `beyond`: mm of the item, along its middle, before that arc and after it.
    """

    item: int
    taken: tuple[float, float]
    member: Member
    beyond: tuple[float, float]


@dataclass(frozen=True)
class _End:
    """An end of a piece.

    `room`: mm that can be left on for shrinkage or trimming; `beyond`: mm of stock beyond the net line; `rank`: the end
    with the least rank is the first to carry a weld's shrinkage.
    """

    cut: EndCut
    room: float
    rank: int
    beyond: float = math.inf


def with_ends(
    course: Course, pieces: Sequence[CutPiece], places: Sequence[BendPlace | None], s: ShopSettings
) -> Iterator[CutPiece]:
    """The pieces of a run with their ends; `places` are those of its bends, in order."""
    bends = iter(zip(places, course.straights, course.straights[1:], strict=False))
    ends = [_bend_ends(piece, *next(bends)) if piece.is_bend else _straight_ends() for piece in pieces]
    extra = [[0.0, 0.0] for _ in pieces]
    for k in range(len(pieces) - 1):
        for index, side, more in _carried(((k, 1, ends[k][1]), (k + 1, 0, ends[k + 1][0])), s.shrinkage):
            extra[index][side] = more
    if pieces:
        extra[-1][1] = min(s.trim if course.left_on is None else course.left_on, ends[-1][1].room)
    for piece, (start, end), (before, after) in zip(pieces, ends, extra, strict=True):
        made = _made(start, before, s.dressing), _made(end, after, s.dressing)
        if course.lean and piece is pieces[0]:
            made = _to_the_lean(start, s.dressing / math.cos(course.lean)), made[1]
        yield replace(piece, ends=made)


def _made(end: _End, left_on: float, dressing: float) -> PieceEnd:
    is_bought = end.cut == "square" and end.rank == 1 and end.room - left_on <= AS_BOUGHT
    if is_bought:
        return PieceEnd("bought", left_on, end.beyond)
    return PieceEnd(end.cut, min(left_on + dressing, end.beyond), end.beyond)


def _to_the_lean(end: _End, dressing: float) -> PieceEnd:
    """`dressing`: along the tube."""
    return PieceEnd("lean", min(dressing, end.beyond), end.beyond)


def _straight_ends() -> tuple[_End, _End]:
    return _End("square", math.inf, 0), _End("square", math.inf, 0)


def _bend_ends(piece: CutPiece, place: BendPlace | None, before: float, after: float) -> tuple[_End, _End]:
    """`before` and `after`: the whole straights on either side of the bend."""
    if place is None:
        return _straight_ends()
    member = place.member
    beyond = (place.beyond[1], place.beyond[0]) if member.turned else place.beyond
    made = []
    sides = zip(arc_sides(member), piece.legs, member.legs, (before, after), beyond, strict=True)
    for is_arc, leg, had, straight, rest in sides:
        if is_arc:
            made.append(_End("arc", math.inf if straight == 0 else 0.0, 2, rest))
        else:
            made.append(_End("square", max(had - leg, 0.0), 1, max(had - leg, 0.0)))
    return made[0], made[1]


def arc_sides(member: Member) -> tuple[bool, bool]:
    """Whether a bend's ends, before and after it, are inside the arc of its item."""
    if member.leg == "both" or member.arc_cuts == 0:
        return False, False
    if not member.leg:
        return True, True
    leg_is_after = member.turned == (member.leg == "first")
    return leg_is_after, not leg_is_after


def _carried(sides: Sequence[tuple[int, int, _End]], shrinkage: float) -> Iterator[tuple[int, int, float]]:
    """The ends that carry the shrinkage of a joint, with the amounts: the first in rank that can.

    Of two with the same rank, it is the one that can then stay as bought, else half each.
    """
    able = [each for each in sides if each[2].room >= shrinkage - ROUNDED]
    rank = min((end.rank for _, _, end in able), default=None)
    chosen = [each for each in able if each[2].rank == rank]
    chosen = [each for each in chosen if each[2].room - shrinkage <= AS_BOUGHT][:1] or chosen
    for index, side, _ in chosen:
        yield index, side, shrinkage / len(chosen)
