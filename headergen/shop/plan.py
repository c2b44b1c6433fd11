"""The plan of a header: pieces, joints, and the items of stock that they are cut from."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

from headergen.model import (
    CutPiece,
    PieceEnd,
    Plan,
    ShopSettings,
    Stock,
    StockBend,
    StockItem,
    StockStraight,
    WeldJoint,
)
from headergen.shop.bars import bars_for
from headergen.shop.choose_stock import Choice, Settled, choose
from headergen.shop.course import Course
from headergen.shop.ends import ROUNDED, BendPlace, with_ends
from headergen.shop.shelf import Shelf, whole_shelf
from headergen.shop.ways import Key, Way, left_on_arcs, options_of, required_bends

Bars = tuple[tuple[int, StockStraight], ...]


def plan_of(
    courses: Sequence[Course], stock: Stock | None, settings: ShopSettings, shelves: Sequence[Shelf] | None = None
) -> Plan:
    """The best plan for these runs. `shelves`: what the stock list has of the tube of each; None: all of it.

    Raises PlanError if the solver stops before it has proved the optimum.
    """
    shelves = [whole_shelf(stock)] * len(courses) if shelves is None else shelves
    required = required_bends(courses, settings)
    bends = [shelves[each.key[0]].of_radius(each.bend.radius) for each in required]
    choice = choose(courses, options_of(required, bends, settings.between), (stock, shelves), settings)
    return plan_from(courses, choice, (stock, settings, shelves))


def plan_from(
    courses: Sequence[Course], choice: Choice, shop: tuple[Stock | None, ShopSettings, Sequence[Shelf]]
) -> Plan:
    """The plan of a choice."""
    stock, settings, shelves = shop
    bends, items = _bend_items(choice.ways, courses, stock, settings)
    pieces: list[CutPiece] = []
    joints: list[WeldJoint] = []
    for c, (course, straights) in enumerate(zip(courses, choice.straights, strict=True)):
        places = {key[1]: place for key, place in bends.items() if key[0] == c}
        mine = list(_pieces(course, straights, places, settings))
        joints += _joints(course, mine, settings)
        pieces += with_ends(course, mine, [places.get(k) for k in range(len(course.bends))], settings)
    shelf = {course.run: each for course, each in zip(courses, shelves, strict=True)}
    pieces, bars = in_bars(pieces, lambda piece: shelf[piece.run].straights, settings, len(items))
    return Plan(tuple(pieces), tuple(joints), (*_named(items, pieces), *bars), choice.figures)


def _bend_items(
    taken: Sequence[Way], courses: Sequence[Course], stock: Stock | None, s: ShopSettings
) -> tuple[dict[Key, BendPlace], list[StockItem]]:
    places: dict[Key, BendPlace] = {}
    items: list[StockItem] = []
    used: dict[int, int] = {}
    for way in taken:
        if way.stock is None or stock is None:
            continue
        bend, number = stock.bends[way.stock], len(items) + 1
        used[way.stock] = used.get(way.stock, 0) + 1
        left_on = _left_on(way, courses, s)
        arcs = list(_arcs(way, courses, (bend, left_on), s))
        beyond = _beyond(bend, arcs, left_on, s.kerf)
        for member, arc, room in zip(way.members, arcs, beyond, strict=True):
            places[member.key] = BendPlace(number, arc, member, room)
        items.append(StockItem(number, "bend", way.stock, (), used[way.stock] <= (bend.count or 0)))
    return places, items


def _left_on(way: Way, courses: Sequence[Course], s: ShopSettings) -> list[tuple[float, float]]:
    """The allowance (mm) that each member may have to carry inside the arc, first at the end toward the first leg."""
    required = {each.key: each for each in required_bends(courses, s)}
    return [left_on_arcs(required[member.key], member) for member in way.members]


def _beyond(
    item: StockBend, arcs: Sequence[tuple[float, float]], left_on: Sequence[tuple[float, float]], kerf: float
) -> Iterator[tuple[float, float]]:
    """The lengths of an item (mm along its middle) before and after each arc of it.

    At an end of the item, up to that end. Between two arcs: the member's own allowance, and half of what the kerf and
    both allowances leave.
    """
    radius, legs = item.real_radius, item.real_legs
    spare = [
        max(radius * (after[0] - before[1]) - kerf - one[1] - other[0], 0.0) / 2
        for (before, after), (one, other) in zip(pairwise(arcs), pairwise(left_on), strict=True)
    ]
    for k, ((low, high), (before, after)) in enumerate(zip(arcs, left_on, strict=True)):
        yield (
            before + spare[k - 1] if k > 0 else legs[0] + radius * max(low, 0.0),
            after + spare[k] if k < len(spare) else legs[1] + radius * max(item.real_angle - high, 0.0),
        )


def _arcs(
    way: Way, courses: Sequence[Course], of: tuple[StockBend, Sequence[tuple[float, float]]], s: ShopSettings
) -> Iterator[tuple[float, float]]:
    """Each member's net arc from the item's first leg.

    The arc of the second leg's member is at its end. The others follow one another, with room between for the saw and
    for what is left on.
    """
    item, left_on = of
    at = 0.0
    for member, (before, after) in zip(way.members, left_on, strict=True):
        course, k = member.key
        bend = courses[course].bends[k]
        start = item.real_angle - bend.angle if member.leg == "second" else at + before / bend.radius
        yield start, start + bend.angle
        at = start + bend.angle + after / bend.radius + s.between / item.radius


def _pieces(
    course: Course, straights: Sequence[Settled], places: Mapping[int, BendPlace], s: ShopSettings
) -> Iterator[CutPiece]:
    """The pieces of one run in travel order, net; ends and bars are added later."""
    end, number = PieceEnd("square"), 0
    for k, (length, settled) in enumerate(zip(course.straights, straights, strict=True)):
        at = course.begins + course.starts()[k]
        if settled.pieces:
            each = (length - settled.after - settled.before) / settled.pieces
            for part in range(settled.pieces):
                number += 1
                low = at + settled.after + part * each
                legs, fits = (each, 0.0), each >= s.clamp - ROUNDED
                yield CutPiece(course.run, number, low, low + each, legs, 0.0, 0.0, None, (end, end), fits, None)
        if k == len(course.bends):
            return
        number += 1
        bend, legs, place = course.bends[k], (settled.before, straights[k + 1].after), places.get(k)
        low = at + length - legs[0]
        piece = CutPiece(
            course.run,
            number,
            low,
            low + sum(legs) + bend.angle * bend.radius,
            legs,
            bend.angle,
            bend.radius,
            bend.step,
            (end, end),
            max(legs) >= s.clamp - ROUNDED,
            None,
        )
        yield piece if place is None else _from_item(piece, place)


def _from_item(piece: CutPiece, place: BendPlace) -> CutPiece:
    leg = place.member.leg
    kept = leg if leg in ("first", "second", "both") else ""
    return replace(piece, item=place.item, taken=place.taken, kept_leg=kept, turned=place.member.turned)  # type: ignore[arg-type]


def _joints(course: Course, pieces: Sequence[CutPiece], s: ShopSettings) -> Iterator[WeldJoint]:
    """The joint between every two pieces, with its turn into a bend that follows at once."""
    turns = {k: bend.rotation for k, bend in enumerate(course.bends)}
    bend = sum(piece.is_bend for piece in pieces[:1])
    for before, after in pairwise(pieces):
        clocking = turns[bend] if after.is_bend else None
        bend += after.is_bend
        yield WeldJoint(course.run, before.number, before.end, clocking, _blocked(course, before, after, s))


def _blocked(course: Course, before: CutPiece, after: CutPiece, s: ShopSettings) -> str:
    """Why a joint should not be where it is; empty if it may be there."""
    at = before.end - course.begins
    for low, high, why in course.blocked:
        if low + ROUNDED < at < high - ROUNDED:
            return why
    if min(_inside(course, piece) for piece in (before, after)) < s.apart - ROUNDED:
        return "it is too near the next joint"
    return ""


def _inside(course: Course, piece: CutPiece) -> float:
    """Length of a piece along the inside of its bend."""
    return sum(piece.legs) + piece.angle * max(piece.radius - course.radius, 0.0)


def in_bars(
    pieces: Sequence[CutPiece], bars_of: Callable[[CutPiece], Bars], s: ShopSettings, before: int
) -> tuple[list[CutPiece], list[StockItem]]:
    """Straight pieces with their bars, as far as the shelf has any.

    `bars_of`: the straights of the tube of a piece, with their indices in the stock list. `before`: the items that
    are counted already.
    """
    found, items = list(pieces), list[StockItem]()
    straight = [k for k, piece in enumerate(pieces) if not piece.is_bend]
    for shelf in dict.fromkeys(bars_of(pieces[k]) for k in straight):
        listed = [k for k in straight if bars_of(pieces[k]) == shelf]
        _fill_bars(found, items, (listed, shelf), (s, before))
    return found, items


def _fill_bars(
    found: list[CutPiece], items: list[StockItem], of: tuple[Sequence[int], Bars], how: tuple[ShopSettings, int]
) -> None:
    """The pieces of one tube, by their places in `found`, cut from its straights: both lists get them."""
    (listed, shelf), (s, before) = of, how
    sawn = [found[k].sawn_length for k in listed]
    used: dict[int, int] = {}
    for bar in bars_for(sawn, [straight for _, straight in shelf], s.kerf):
        index, straight = shelf[bar.stock]
        used[index] = used.get(index, 0) + 1
        at, number, names = 0.0, before + len(items) + 1, []
        for k in bar.pieces:
            piece = found[listed[k]]
            found[listed[k]] = replace(piece, item=number, taken=(at, at + sawn[k]))
            names.append((piece.run, piece.number))
            at += sawn[k] + s.kerf
        on_hand = used[index] <= (straight.count or 0)
        items.append(StockItem(number, "straight", index, tuple(names), on_hand))


def _named(items: Sequence[StockItem], pieces: Sequence[CutPiece]) -> Iterator[StockItem]:
    """Bend items with their pieces in cutting order: from the free end, which is the second leg, to the handle."""
    for item in items:
        mine = [piece for piece in pieces if piece.is_bend and piece.item == item.number]
        mine.sort(key=lambda piece: -(piece.taken or (0.0, 0.0))[0])
        yield replace(item, pieces=tuple((piece.run, piece.number) for piece in mine))
