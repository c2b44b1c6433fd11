"""In which ways bends can be cut from one bend off the shelf.

A bend cut out of a larger one keeps one leg at most; only the whole shelf angle keeps both. Several come out of one:
the first and the last of them keep a leg each, between two there is kerf and dressing, and those in the middle have
none. A middle piece has one oval end more than one cut from an item of its own, so it is only thought of where items of
a kind cannot be bought: else it is never the best.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, permutations

from headergen.model import ShopSettings, StockBend
from headergen.shop.course import Course, CourseBend

EXACT = 1e-6  # rad within which a bend is the shelf's own

Key = tuple[int, int]  # course and bend, counted from 0


@dataclass(frozen=True)
class Wanted:
    """A bend to be made. `extra`: mm that an end inside an arc may have to carry beyond its net line, before and after:
    only where no straight is there to carry it."""

    key: Key
    bend: CourseBend
    extra: tuple[float, float]


@dataclass(frozen=True)
class Member:
    """One bend of a way: the legs (mm) that it may keep before and after it, and how many of its ends are arc cuts.

    `leg`: which legs of the item it keeps. `turned`: it travels from the item's second leg to its first.
    """

    key: Key
    legs: tuple[float, float]
    arc_cuts: int
    leg: str  # "first", "second", "both" or ""
    turned: bool


@dataclass(frozen=True)
class Way:
    """Bends cut from one item: that at the first leg first, that at the second leg last. `stock`: None where no item
    on the shelf holds its one bend."""

    stock: int | None
    members: tuple[Member, ...]


def wanted_bends(courses: Sequence[Course], settings: ShopSettings) -> list[Wanted]:
    wanted = []
    for c, course in enumerate(courses):
        last = len(course.bends) - 1
        for k, bend in enumerate(course.bends):
            before = settings.shrinkage if k > 0 and course.straights[k] == 0 else 0.0
            after = settings.shrinkage if k < last else settings.trim
            extra = (before, after if course.straights[k + 1] == 0 else 0.0)
            wanted.append(Wanted((c, k), bend, extra))
    return wanted


def ways_of(
    wanted: Sequence[Wanted], stock_of: Sequence[Sequence[tuple[int, StockBend]]], between: float
) -> Iterator[Way]:
    """Every way worth thinking of. `stock_of`: the shelf for each wanted bend; `between`: mm lost between two."""
    types: dict[int, tuple[StockBend, list[Wanted]]] = {}
    for each, shelf in zip(wanted, stock_of, strict=True):
        yield Way(None, (Member(each.key, (0.0, 0.0), 0, "", False),))
        for index, bend in shelf:
            types.setdefault(index, (bend, []))[1].append(each)
    for index, (bend, bends) in sorted(types.items()):
        for each in bends:
            yield from (Way(index, (member,)) for member in _alone(each, bend))
        for group in _groups(bends, bend, between):
            yield from (Way(index, members) for members in _together(group, bend, between))


def _alone(wanted: Wanted, item: StockBend) -> Iterator[Member]:
    first, second = item.real_legs
    if abs(item.real_angle - wanted.bend.angle) <= EXACT:
        yield Member(wanted.key, (first, second), 0, "both", False)
        if first != second:
            yield Member(wanted.key, (second, first), 0, "both", True)
        return
    leg = "first" if first >= second else "second"
    for is_after in _sides(wanted, max(first, second)):
        member = _end_member(wanted, item, leg, is_after)
        if _angle(wanted, member) <= item.real_angle:
            yield member


def _end_member(wanted: Wanted, item: StockBend, leg: str, leg_is_after: bool) -> Member:
    """A bend that keeps one leg, on the side before it or after it."""
    length = item.real_legs[0 if leg == "first" else 1]
    legs = (0.0, length) if leg_is_after else (length, 0.0)
    return Member(wanted.key, legs, 1, leg, leg_is_after == (leg == "first"))


def _angle(wanted: Wanted, member: Member) -> float:
    """What a bend takes of the arc: its angle, and what its arc-cut ends have to carry."""
    ends = [True, True]
    if member.leg:
        ends[_leg_side(member)] = False
    extra = sum(mm for mm, is_arc in zip(wanted.extra, ends, strict=True) if is_arc)
    return wanted.bend.angle + extra / wanted.bend.radius


def _leg_side(member: Member) -> int:
    """0: its leg is before the bend; 1: after it."""
    return int(member.turned == (member.leg == "first"))


def _groups(bends: Sequence[Wanted], item: StockBend, between: float) -> Iterator[tuple[Wanted, ...]]:
    """Sets of two bends that one item may hold, and of more where such items cannot be bought."""
    most = 2 if item.can_be_bought else len(bends)
    for size in range(2, most + 1):
        found = False
        for group in combinations(bends, size):
            net = sum(each.bend.angle for each in group) + (size - 1) * between / item.radius
            if net <= item.real_angle:
                found = True
                yield group
        if not found:
            return


def _together(group: Sequence[Wanted], item: StockBend, between: float) -> Iterator[tuple[Member, ...]]:
    """Who is at which leg, with the leg before or after it, as far as it makes a difference."""
    same_legs = item.real_legs[0] == item.real_legs[1]
    for first, last in permutations(group, 2):
        if same_legs and group.index(first) > group.index(last):
            continue
        middle = [Member(each.key, (0.0, 0.0), 2, "", False) for each in group if each not in (first, last)]
        for side_first in _sides(first, item.real_legs[0]):
            for side_last in _sides(last, item.real_legs[1]):
                ends = (
                    _end_member(first, item, "first", side_first),
                    _end_member(last, item, "second", side_last),
                )
                members = (ends[0], *middle, ends[1])
                by_key = {each.key: each for each in group}
                taken = sum(_angle(by_key[member.key], member) for member in members)
                if taken + (len(members) - 1) * between / item.radius <= item.real_angle:
                    yield members


def _sides(wanted: Wanted, leg: float) -> tuple[bool, ...]:
    """Whether the leg may be after the bend: both ways are tried where that makes a difference."""
    return (False, True) if leg > 0 or any(wanted.extra) else (False,)
