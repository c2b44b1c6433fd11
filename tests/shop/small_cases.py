"""Small random runs and shelves on a grid of 10 mm, and their best plan by trying everything.

Knows nothing of the programme: it puts every joint on every place of the grid, and cuts the bends in every way there
is. On the grid that is all: each rule only compares sums of lengths, so whatever can be had can be had on it.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from itertools import permutations, product

import numpy as np

from headergen.model import ShopSettings, Stock, StockBend, StockStraight
from headergen.shop.course import Course, CourseBend

GRID = 10.0
TUBE, BEND = 20.0, 60.0  # radii: 0.5 rad are 20 mm on the inside and 30 mm along the middle
SETTINGS = ShopSettings(kerf=1.0, dressing=1.0, shrinkage=0.0, trim=0.0, clamp=40.0, apart=30.0)
BAR = 1000.0  # long enough, with its dressing, for any straight here
EACH_MM = 0.01

Figures = tuple[float, ...]  # missing, broken, joints, arc cuts, unclampable, cost
Role = tuple[float, float, int]  # legs before and after, arc cuts


def small_case(seed: int) -> tuple[list[Course], Stock]:
    """One or two runs of three bends at most, and two or three kinds of bend."""
    chance = random.Random(seed)
    split = chance.choice(((1,), (2,), (2,), (3,), (1, 1), (1, 2)))
    courses = [_course(chance, f"run {k}", bends, 40 if sum(split) == 3 else 60) for k, bends in enumerate(split)]
    kinds = [
        StockBend(
            BEND,
            chance.choice((0.5, 1.0, 1.5, 2.0, 3.0)),
            (GRID * chance.randrange(8), GRID * chance.randrange(8)),
            chance.choice((None, 5.0, 8.0, 13.0)),
            chance.choice((None, None, 0, 1, 2)),
        )
        for _ in range(chance.choice((2, 2, 3)))
    ]
    return courses, Stock(tuple(kinds), (StockStraight(BAR, BAR * EACH_MM),))


def _course(chance: random.Random, name: str, bends: int, longest: int) -> Course:
    straights = tuple(GRID * chance.randrange(longest // 10 + 1) for _ in range(bends + 1))
    steps = tuple(
        CourseBend(0.5 * chance.randint(1, 4), BEND, 0.0, 2 * k, tuple(chance.random() < 0.1 for _ in range(2)))  # type: ignore[arg-type]
        for k in range(bends)
    )
    whole = Course(name, straights, steps, TUBE)
    blocked = []
    for _ in range(chance.randrange(3)):
        at = GRID * chance.randrange(int(whole.length // GRID))
        blocked.append((at, at + GRID * chance.randint(1, 4), "no room"))
    return Course(name, straights, steps, TUBE, 0.0, tuple(blocked), chance.random() < 0.5)


def best_by_trying(courses: Sequence[Course], stock: Stock) -> Figures:
    """The least figures, lexicographically."""
    tables = [_placings(course) for course in courses]
    bends = [bend.angle for course in courses for bend in course.bends]
    best: Figures | None = None
    for fixed, roles in _cuttings(bends, stock):
        missing, arcs, price = fixed
        total, at = np.zeros(4), 0
        for course, (needs, figures) in zip(courses, tables, strict=True):
            had = [leg for role in roles[at : at + len(course.bends)] for leg in role[:2]]
            at += len(course.bends)
            total += figures[int(np.argmax((needs <= np.array(had) + 1e-9).all(axis=1)))]
        broken, joints, flat, tube = total
        found = (missing, broken, joints, arcs, flat, round(price + EACH_MM * tube, 6))
        best = found if best is None or found < best else best
    assert best is not None
    return best


def _placings(course: Course) -> tuple[np.ndarray, np.ndarray]:
    """Every placing of joints: the legs it needs (before and after each bend), and broken, joints, flat, tube; the best
    first. The one that needs no legs is always there."""
    rows = []
    last = len(course.bends)
    for legs in product(*(_legs(length, k, last) for k, length in enumerate(course.straights))):
        needs = [leg for k in range(last) for leg in (legs[k][1], legs[k + 1][0])]
        rows.append(((_figures(course, legs)), needs))
    rows.sort()
    return np.array([needs for _, needs in rows]), np.array([figures for figures, _ in rows])


def _legs(length: float, k: int, last: int) -> list[tuple[float, float]]:
    """Every pair of legs at the start and the end of a straight; in between is a piece, if anything is left."""
    places = [GRID * n for n in range(int(length / GRID) + 1)]
    return [
        (one, other)
        for one in (places if k > 0 else [0.0])
        for other in (places if k < last else [0.0])
        if one + other <= length
    ]


def _figures(course: Course, legs: Sequence[tuple[float, float]]) -> tuple[float, float, float, float]:
    broken = joints = flat = 0
    tube, last = 0.0, len(course.bends)
    has_piece = []
    for k, ((after, before), length, start) in enumerate(zip(legs, course.straights, course.starts(), strict=True)):
        left = length - after - before
        has_piece.append(left > 0)
        places = [start + after] if k > 0 and (left > 0 or k < last) else []
        places += [start + length - before] if k < last and left > 0 else []
        joints += len(places)
        broken += sum(any(low < at < high for low, high, _ in course.blocked) for at in places)
        tube += left
        if left > 0:
            broken += left < SETTINGS.apart
            flat += left < SETTINGS.clamp
    for k, bend in enumerate(course.bends):
        before, after = legs[k][1], legs[k + 1][0]
        joint_after = k < last - 1 or has_piece[last] or course.ends_welded
        inside = before + after + (BEND - TUBE) * bend.angle
        broken += bool(joint_after and inside < SETTINGS.apart - 1e-9)
        flat += max(before, after) < SETTINGS.clamp
        broken += bend.joined[0] and before < course.straights[k]
        broken += bend.joined[1] and after < course.straights[k + 1]
    return broken, joints, flat, tube


def _cuttings(bends: Sequence[float], stock: Stock) -> Iterator[tuple[tuple[int, int, float], list[Role]]]:
    """Every way of cutting all bends: missing, arc cuts and price, and what each bend has then."""
    for groups in _partitions(list(range(len(bends)))):
        for kinds in product((None, *range(len(stock.bends))), repeat=len(groups)):
            price = _price(kinds, stock)
            if price is None or any(kind is None and len(g) > 1 for kind, g in zip(kinds, groups, strict=True)):
                continue
            each = [
                list(_roles([bends[k] for k in group], None if kind is None else stock.bends[kind]))
                for kind, group in zip(kinds, groups, strict=True)
            ]
            for chosen in product(*each):
                roles: list[Role] = [(0.0, 0.0, 0)] * len(bends)
                for group, had in zip(groups, chosen, strict=True):
                    for k, role in zip(group, had, strict=True):
                        roles[k] = role
                yield (kinds.count(None), sum(role[2] for role in roles), price), roles


def _price(kinds: Sequence[int | None], stock: Stock) -> float | None:
    """Of what has to be bought; None where it cannot be had."""
    total = 0.0
    for index, bend in enumerate(stock.bends):
        lacking = kinds.count(index) - (bend.count or 0)
        if lacking > 0 and bend.count is not None and bend.price is None:
            return None
        total += max(lacking, 0) * (bend.price or 0.0)
    return total


def _roles(angles: Sequence[float], bend: StockBend | None) -> Iterator[list[Role]]:
    """What each bend of one item may have: its legs, and its arc cuts."""
    if bend is None:
        yield [(0.0, 0.0, 0)]
        return
    one, other = bend.legs
    if len(angles) == 1 and abs(angles[0] - bend.angle) < 1e-9:
        yield [(one, other, 0)]
        yield [(other, one, 0)]
        return
    if sum(angles) + (len(angles) - 1) * 3.0 / BEND > bend.angle:
        return
    for order in permutations(range(len(angles))):
        for ways in product((False, True), repeat=2):
            had: list[Role] = [(0.0, 0.0, 2)] * len(angles)
            had[order[-1]] = (0.0, other, 1) if ways[1] else (other, 0.0, 1)
            had[order[0]] = (0.0, one, 1) if ways[0] else (one, 0.0, 1)
            yield had
            if len(angles) == 1:
                yield [(0.0, other, 1) if ways[1] else (other, 0.0, 1)]


def _partitions(members: list[int]) -> Iterator[list[list[int]]]:
    if not members:
        yield []
        return
    first, *rest = members
    for parts in _partitions(rest):
        yield [[first], *parts]
        for k in range(len(parts)):
            yield [*parts[:k], [first, *parts[k]], *parts[k + 1 :]]
