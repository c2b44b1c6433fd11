"""The ways in which bends can be cut from one bend off the shelf.

A bend cut from a larger one keeps at most one leg; only the whole shelf angle keeps both. Several bends may come from
one: the first and the last keep one leg each, between two there is kerf and dressing, and those in the middle have no
leg. A middle piece has one oval end more than a bend cut from its own item. So it is considered only where items of a
kind cannot be bought: otherwise it is never the best. These few items are filled one by one. All other items are
unlimited, so a list of the bends that may share one is enough.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from headergen.model import ShopSettings, StockBend
from headergen.shop.course import Course, CourseBend

EXACT = 1e-6  # rad within which a bend is the whole shelf bend

Key = tuple[int, int]  # course and bend, counted from 0


@dataclass(frozen=True)
class RequiredBend:
    """A bend to be made.

    `extra`: mm that an end inside an arc may have to carry beyond its net line, before and after; only if there is no
    straight to carry it.
    """

    key: Key
    bend: CourseBend
    extra: tuple[float, float]


@dataclass(frozen=True)
class Member:
    """One bend of a way: the legs (mm) that it may keep before and after it, and how many of its ends are arc cuts.

    `leg`: which legs of the item it keeps. `turned`: it runs from the item's second leg to its first.
    """

    key: Key
    legs: tuple[float, float]
    arc_cuts: int
    leg: str  # "first", "second", "both" or ""
    turned: bool


@dataclass(frozen=True)
class Way:
    """Bends cut from one item: the one at the first leg first, the one at the second leg last.

    `stock`: None if no item on the shelf can make its only bend.
    """

    stock: int | None
    members: tuple[Member, ...]


def required_bends(courses: Sequence[Course], settings: ShopSettings) -> list[RequiredBend]:
    required = []
    for c, course in enumerate(courses):
        last = len(course.bends) - 1
        for k, bend in enumerate(course.bends):
            before = settings.shrinkage if k > 0 and course.straights[k] == 0 else 0.0
            after = settings.shrinkage if k < last else settings.trim
            extra = (before, after if course.straights[k + 1] == 0 else 0.0)
            required.append(RequiredBend((c, k), bend, extra))
    return required


@dataclass(frozen=True)
class FewItems:
    """Items of a kind that cannot be bought: their number, the arc (rad) of each, and the arc lost between two pieces.

    Also all bends that may be cut from one, each with the arc that it takes.
    """

    stock: int
    count: int
    angle: float
    lost: float
    members: tuple[tuple[Member, float], ...]


@dataclass(frozen=True)
class Options:
    """All possible uses of the shelf."""

    ways: tuple[Way, ...]
    few: tuple[FewItems, ...]


def options_of(
    required: Sequence[RequiredBend], stock_of: Sequence[Sequence[tuple[int, StockBend]]], between: float
) -> Options:
    """All uses worth considering. `stock_of`: the shelf for each required bend; `between`: mm lost between two."""
    kinds: dict[int, tuple[StockBend, list[RequiredBend]]] = {}
    for each, shelf in zip(required, stock_of, strict=True):
        for index, bend in shelf:
            kinds.setdefault(index, (bend, []))[1].append(each)
    ways = [Way(None, (Member(each.key, (0.0, 0.0), 0, "", False),)) for each in required]
    few = []
    for index, (bend, bends) in sorted(kinds.items()):
        if bend.can_be_bought:
            ways += (Way(index, (member,)) for each in bends for member in _alone(each, bend))
            ways += (Way(index, members) for two in combinations(bends, 2) for members in _together(two, bend, between))
        else:
            members = tuple(pair for each in bends for pair in _any(each, bend))
            few.append(FewItems(index, bend.count or 0, bend.real_angle, between / bend.radius, members))
    return Options(tuple(ways), tuple(few))


def _any(required: RequiredBend, item: StockBend) -> Iterator[tuple[Member, float]]:
    """A bend as the whole of an item, at either leg, or in its middle."""
    if abs(item.real_angle - required.bend.angle) <= EXACT:
        yield from ((member, item.real_angle) for member in _alone(required, item))
        return
    first, second = item.real_legs
    members = [_end_member(required, item, "first", is_after) for is_after in _sides(required, first)]
    members += (_end_member(required, item, "second", is_after) for is_after in _sides(required, second))
    members.append(Member(required.key, (0.0, 0.0), 2, "", False))
    yield from ((member, _angle(required, member)) for member in members if _angle(required, member) <= item.real_angle)


def _alone(required: RequiredBend, item: StockBend) -> Iterator[Member]:
    first, second = item.real_legs
    if abs(item.real_angle - required.bend.angle) <= EXACT:
        yield Member(required.key, (first, second), 0, "both", False)
        if first != second:
            yield Member(required.key, (second, first), 0, "both", True)
        return
    leg = "first" if first >= second else "second"
    for is_after in _sides(required, max(first, second)):
        member = _end_member(required, item, leg, is_after)
        if _angle(required, member) <= item.real_angle:
            yield member


def _end_member(required: RequiredBend, item: StockBend, leg: str, leg_is_after: bool) -> Member:
    """A bend that keeps one leg, on the side before it or after it."""
    length = item.real_legs[0 if leg == "first" else 1]
    legs = (0.0, length) if leg_is_after else (length, 0.0)
    return Member(required.key, legs, 1, leg, leg_is_after == (leg == "first"))


def _angle(required: RequiredBend, member: Member) -> float:
    """The arc that a bend takes: its angle, and what its arc-cut ends carry."""
    return required.bend.angle + sum(left_on_arcs(required, member)) / required.bend.radius


def left_on_arcs(required: RequiredBend, member: Member) -> tuple[float, float]:
    """The allowance (mm) that a bend's ends may have to carry inside the arc, first the end at the item's first leg."""
    ends = list(required.extra)
    if member.leg == "both":
        return 0.0, 0.0
    if member.leg:
        ends[_leg_side(member)] = 0.0
    return (ends[1], ends[0]) if member.turned else (ends[0], ends[1])


def _leg_side(member: Member) -> int:
    """0: its leg is before the bend; 1: after it."""
    return int(member.turned == (member.leg == "first"))


def _together(two: Sequence[RequiredBend], item: StockBend, between: float) -> Iterator[tuple[Member, ...]]:
    """Which of two is at which leg, with the leg before or after it, as far as it makes a difference."""
    room = item.real_angle - between / item.radius
    if sum(each.bend.angle for each in two) > room:
        return
    same_legs = item.real_legs[0] == item.real_legs[1]
    for first, last in ((two[0], two[1]), *(() if same_legs else ((two[1], two[0]),))):
        for side_first in _sides(first, item.real_legs[0]):
            for side_last in _sides(last, item.real_legs[1]):
                one = _end_member(first, item, "first", side_first)
                other = _end_member(last, item, "second", side_last)
                if _angle(first, one) + _angle(last, other) <= room:
                    yield one, other


def _sides(required: RequiredBend, leg: float) -> tuple[bool, ...]:
    """Whether the leg may be after the bend: both are tried if it makes a difference."""
    return (False, True) if leg > 0 or any(required.extra) else (False,)
