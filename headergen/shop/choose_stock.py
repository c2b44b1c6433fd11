"""Joints and stock of all runs together, as an integer programme that HiGHS solves to the optimum.

The unknowns are: one way of cutting for every bend, the legs (mm) that it keeps on either side, and how many straight
pieces are between the legs of neighbours (none: the two legs meet in one joint). The figures of a plan are minimised
one after the other, each held for the next: missing bends, broken preferences, joints, arc cuts, pieces without room
for a clamp, cost. What is still open then fixes the exact places of the joints: legs are as long as possible, and a
joint between two legs is in the middle of its room.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from headergen.geometry.arrays import Array
from headergen.model import PlanFigures, ShopSettings, Stock
from headergen.shop.course import Course
from headergen.shop.integer_programme import HALF, Model, solve, solve_for
from headergen.shop.shelf import Shelf
from headergen.shop.ways import FewItems, Key, Member, Options, Way

LEVELS = ("missing", "broken", "joints", "arc_cuts", "unclampable", "cost")
SAID = 6  # decimals of a millimetre to which the solver's lengths are accurate
MOST_STRAIGHTS = 1e6  # mm; for a shelf that lists no straights


Offer = tuple[int, Member]  # the variable that selects it, and the bend's member
_Chosen = tuple[int, Sequence[Offer]]  # a course by its number, and all its offers


@dataclass(frozen=True)
class Settled:
    """One straight of a course: legs (mm) at its start and its end, and the number of straight pieces between."""

    after: float
    before: float
    pieces: int


@dataclass(frozen=True)
class Choice:
    """The chosen ways, one for each item of stock, and every straight of every course."""

    ways: tuple[Way, ...]
    straights: tuple[tuple[Settled, ...], ...]
    figures: PlanFigures


def choose(
    courses: Sequence[Course], options: Options, of: tuple[Stock | None, Sequence[Shelf]], settings: ShopSettings
) -> Choice:
    """The best plan. Raises PlanError if the solver stops before it has proved the optimum.

    `of`: the stock list, and what it has of the tube of each course.
    """
    model, (stock, shelves) = Model(levels=LEVELS), of
    taken = [(_way(model, way, stock), way) for way in options.ways]
    _bought_rows(model, taken, stock)
    items = [item for few in options.few for item in _item_rows(model, few)]
    offers = [(variable, member) for variable, way in taken for member in way.members]
    offers += (offer for _, item in items for offer in item)
    _made_once(model, offers)
    straights = [_course_rows(model, course, (c, offers), shelves[c], settings) for c, course in enumerate(courses)]
    values, solved = solve(model)
    solved = _with_positions(model, solved, straights)
    ways = [way for variable, way in taken if solved[variable] > HALF]
    ways += (way for kind, item in items if (way := _filled(kind, item, solved)).members)
    missing, broken, joints, arc_cuts, unclampable = (round(values[name]) for name in LEVELS[:-1])
    figures = PlanFigures(missing, broken, joints, arc_cuts, unclampable, round(values["cost"], 6))
    settled = tuple(tuple(_settled(each, solved) for each in course) for course in straights)
    return Choice(tuple(ways), settled, figures)


def fewest_missing(options: Options) -> frozenset[Key]:
    """The bends for which no item is left, as few as can be. Raises PlanError if the solver stops before it knows."""
    model = Model(levels=LEVELS[:1])
    taken = [(_way(model, way, None), way) for way in options.ways]
    offers = [(variable, member) for variable, way in taken for member in way.members]
    offers += (offer for few in options.few for _, item in _item_rows(model, few) for offer in item)
    _made_once(model, offers)
    _, solved = solve(model)
    return frozenset(way.members[0].key for variable, way in taken if way.stock is None and solved[variable] > HALF)


def _way(model: Model, way: Way, stock: Stock | None) -> int:
    arcs = sum(member.arc_cuts for member in way.members)
    bend = None if way.stock is None or stock is None else stock.bends[way.stock]
    price = bend.price or 0.0 if bend is not None and bend.count is None else 0.0
    return model.variable(1, missing=float(way.stock is None), arc_cuts=arcs, cost=price)


def _bought_rows(model: Model, taken: Sequence[tuple[int, Way]], stock: Stock | None) -> None:
    """For counted stock: what exceeds the count is bought."""
    for index, bend in enumerate(stock.bends if stock is not None else ()):
        terms = {variable: 1.0 for variable, way in taken if way.stock == index}
        if bend.count is not None and terms:
            bought = model.variable(len(terms), cost=bend.price or 0.0)
            model.row({**terms, bought: -1.0}, most=float(bend.count))


def _made_once(model: Model, offers: Sequence[Offer]) -> None:
    by_key: dict[Key, dict[int, float]] = {}
    for variable, member in offers:
        by_key.setdefault(member.key, {})[variable] = 1.0
    for terms in by_key.values():
        model.row(terms, 1.0, 1.0)


def _item_rows(model: Model, few: FewItems) -> Iterator[tuple[int, list[Offer]]]:
    """The items of a kind that cannot be bought, filled one by one.

    Each holds what its arc has room for, with at most one bend at either leg. Fuller items come first, because all are
    alike.
    """
    before: dict[int, float] = {}
    for _ in range(min(few.count, len({member.key for member, _ in few.members}))):
        offers = [(model.variable(1, arc_cuts=member.arc_cuts), member) for member, _ in few.members]
        arcs = {variable: arc + few.lost for (variable, _), (_, arc) in zip(offers, few.members, strict=True)}
        model.row(arcs, most=few.angle + few.lost)
        for leg in ("first", "second"):
            model.row({variable: 1.0 for variable, member in offers if member.leg in (leg, "both")}, most=1.0)
        if before:
            model.row({**arcs, **{variable: -arc for variable, arc in before.items()}}, most=0.0)
        before = arcs
        yield few.stock, offers


def _filled(stock: int, offers: Sequence[Offer], solved: Array) -> Way:
    """The content of an item, from its first leg to its second."""
    order = {"first": 0, "both": 0, "": 1, "second": 2}
    held = [member for variable, member in offers if solved[variable] > HALF]
    return Way(stock, tuple(sorted(held, key=lambda member: order[member.leg])))


@dataclass(frozen=True)
class _Straight:
    """The variables of one straight; None for those that do not exist."""

    length: float
    after: int | None  # leg of the bend before it, at its start
    before: int | None  # leg of the bend after it, at its end
    has_piece: int | None
    pieces: int | None
    least_pieces: int = 0


def _course_rows(
    model: Model,
    course: Course,
    chosen: _Chosen,
    shelf: Shelf,
    s: ShopSettings,
) -> list[_Straight]:
    last = len(course.bends)
    rate, longest = _straight_tube(shelf)
    most = longest - 2 * (max(s.shrinkage, s.trim) + s.dressing)
    if most <= 0:  # no piece fits in any of them, so none will have one
        most = MOST_STRAIGHTS
    straights = []
    for k, (length, start) in enumerate(zip(course.straights, course.starts(), strict=True)):
        straight = _straight_rows(model, (course, k, length), (most, rate), s)
        straights.append(straight)
        if 0 < k < last:
            model.constant["joints"] += 1
        for first, leg in ((True, straight.after), (False, straight.before)):
            if leg is not None:
                _room_rows(model, course, (straight, start, leg, first), 0 < k < last)
    for k in range(last):
        _leg_rows(model, (straights[k], straights[k + 1], k, last), chosen, s)
        _bend_rows(model, course, (straights[k], straights[k + 1], k), s)
    return straights


def _straight_tube(shelf: Shelf) -> tuple[float, float]:
    """Price of a millimetre of straight tube, and the longest length."""
    straights = [straight for _, straight in shelf.straights]
    rates = [each.price / each.length for each in straights if each.price]
    return min(rates, default=0.0), max((each.length for each in straights), default=MOST_STRAIGHTS)


def _straight_rows(
    model: Model, place: tuple[Course, int, float], tube: tuple[float, float], s: ShopSettings
) -> _Straight:
    course, k, length = place
    last, (most, rate) = len(course.bends), tube
    if length <= 0 or last == 0:
        count = math.ceil(length / most - 1e-9) if length > 0 else 0
        model.constant["joints"] += max(count - 1, 0)
        model.constant["cost"] += rate * length
        model.constant["unclampable"] += count > 0 and length < s.clamp
        zero = [model.variable(0.0, whole=False) if side else None for side in (k > 0, k < last)]
        return _Straight(length, zero[0], zero[1], None, None, count)
    after = model.variable(length, whole=False, cost=-rate) if k > 0 else None
    before = model.variable(length, whole=False, cost=-rate) if k < last else None
    model.constant["cost"] += rate * length
    has_piece = model.variable(1)
    pieces = model.variable(math.ceil(length / most), joints=1)
    legs = {leg: 1.0 for leg in (after, before) if leg is not None}
    model.row({pieces: 1.0, has_piece: -1.0}, least=0.0)
    model.row({pieces: 1.0, has_piece: -float(math.ceil(length / most))}, most=0.0)
    model.row({**legs}, most=length)
    model.row({**legs, has_piece: length}, least=length)
    model.row({**legs, pieces: most}, least=length)
    too_short = model.variable(1, broken=1)
    model.row({**legs, has_piece: s.apart, too_short: -s.apart}, most=length)
    lying_flat = model.variable(1, unclampable=1)
    model.row({**legs, has_piece: s.clamp, lying_flat: -s.clamp}, most=length)
    return _Straight(length, after, before, has_piece, pieces)


def _room_rows(model: Model, course: Course, place: tuple[_Straight, float, int, bool], inner: bool) -> None:
    """The joint at the end of a leg must be where a joint may be. If two legs meet, the first one has the row."""
    straight, start, leg, first = place
    length = straight.length
    allowed = allowed_in(course, start, length)
    if allowed == [(0.0, length)]:
        return
    if straight.has_piece is None:
        if inner and first:  # two bends meet: the joint is where it is
            model.constant["broken"] += 1
        return
    broken = model.variable(1, broken=1)
    ways = {model.variable(1): span for span in allowed}
    free = {} if inner and first else {straight.has_piece: 1.0}  # there is no joint without a piece
    somewhere = {**dict.fromkeys(ways, 1.0), broken: 1.0}
    model.row(somewhere, most=1.0)
    model.row({**somewhere, **dict.fromkeys(free, -1.0)}, least=1.0 - bool(free))
    sign, base = (1.0, 0.0) if first else (-1.0, length)  # its place is base + sign · leg
    slack = {broken: length, **dict.fromkeys(free, -length)}
    top = base - length * bool(free)
    model.row({leg: -sign, **{way: span[1] for way, span in ways.items()}, **slack}, least=top)
    model.row({leg: sign, **{way: -span[0] for way, span in ways.items()}}, least=-base)


def allowed_in(course: Course, start: float, length: float) -> list[tuple[float, float]]:
    """The parts of a straight, from its start, outside all blocked stretches, with their ends outside too."""
    at, free = 0.0, []
    for low, high, _ in sorted(course.blocked):
        low, high = low - start, high - start
        if (high <= 0.0 or low >= length) and not low < 0.0 < high:
            continue
        if low >= at:
            free.append((at, low))
        at = max(at, high)
    if at <= length:
        free.append((at, length))
    return free


def _leg_rows(
    model: Model,
    place: tuple[_Straight, _Straight, int, int],
    chosen: _Chosen,
    s: ShopSettings,
) -> None:
    """No leg is longer than that of the bend it is cut from.

    If no straight piece is welded to it, the leg also carries what is left on: for shrinkage if two legs meet, for
    trimming at the run's end.
    """
    before, after, k, last = place
    course, offers = chosen
    for side, leg in ((0, before.before), (1, after.after)):
        at_end = (k == 0 and side == 0) or (k == last - 1 and side == 1)
        straight = before if side == 0 else after
        left_on = (s.trim if side == 1 else 0.0) if at_end else s.shrinkage
        mine = [(variable, member.legs[side]) for variable, member in offers if member.key == (course, k)]
        assert leg is not None
        model.row({leg: 1.0, **{variable: -length for variable, length in mine}}, most=0.0)
        if straight.has_piece is None:
            continue
        less = {variable: -max(length - left_on, 0.0) for variable, length in mine}
        if at_end:
            model.row({straight.has_piece: -straight.length, **less}, most=-straight.length)
        else:
            model.row({leg: 1.0, straight.has_piece: -left_on, **less}, most=0.0)


def _bend_rows(model: Model, course: Course, place: tuple[_Straight, _Straight, int], s: ShopSettings) -> None:
    """The joints of a bend are far enough apart on the inside, a clamp fits, and steps in one piece stay together."""
    before, after, k = place
    bend, last = course.bends[k], len(course.bends) - 1
    legs = {leg: 1.0 for leg in (before.before, after.after) if leg is not None}
    inside = (bend.radius - course.radius) * bend.angle
    too_near = model.variable(1, broken=1)
    terms, least = {**legs, too_near: max(s.apart, s.apart - inside)}, s.apart - inside
    if k == last and not course.ends_welded:
        if after.has_piece is None:
            least = 0.0
        else:
            terms[after.has_piece] = -s.apart
            least -= s.apart
    model.row(terms, least=least)
    flat = model.variable(1, unclampable=1)
    held = {flat: 1.0}
    for leg in legs:
        by = model.variable(1)
        model.row({leg: 1.0, by: -s.clamp}, least=0.0)
        held[by] = 1.0
    model.row(held, least=1.0)
    sides = ((before, before.before), (after, after.after))
    for joined, (straight, whole) in zip(bend.joined, sides, strict=True):
        if joined and whole is not None and straight.length > 0:
            parted = model.variable(1, broken=1)
            model.row({whole: 1.0, parted: straight.length}, least=straight.length)


def _with_positions(model: Model, solved: Array, courses: Sequence[Sequence[_Straight]]) -> Array:
    """With whole numbers held, legs are as long as possible; a joint between two legs is in the middle of its room."""
    for index, whole in enumerate(model.whole):
        if whole:
            model.low[index] = model.high[index] = float(round(solved[index]))
    objective: dict[int, float] = {}
    for straight in (each for course in courses for each in course):
        objective |= _wish(model, straight, solved)
    return solve_for(model, objective, np.zeros(len(model.low)))


def _wish(model: Model, straight: _Straight, solved: Array) -> dict[int, float]:
    """The weights of the legs of a straight in the objective, which is minimised."""
    legs = [leg for leg in (straight.after, straight.before) if leg is not None]
    if straight.has_piece is None or solved[straight.has_piece] > HALF or len(legs) < 2:
        return dict.fromkeys(legs, -1.0)
    off = model.variable(straight.length, whole=False)
    model.row({off: 1.0, legs[0]: 1.0, legs[1]: -1.0}, least=0.0)
    model.row({off: 1.0, legs[0]: -1.0, legs[1]: 1.0}, least=0.0)
    return {off: 1.0}


def _settled(straight: _Straight, solved: Array) -> Settled:
    """The legs and the pieces of a straight; a straight without bends beside it is only pieces."""
    after, before = (
        0.0 if leg is None else round(float(solved[leg]), SAID) for leg in (straight.after, straight.before)
    )
    pieces = straight.least_pieces if straight.pieces is None else round(float(solved[straight.pieces]))
    if pieces == 0 and straight.length > 0:  # the legs meet exactly
        if straight.before is None or straight.length - after < 10**-SAID:
            after = straight.length
        before = straight.length - after if straight.after is not None else straight.length
    return Settled(abs(after), abs(before), pieces)
