"""The plan of somebody in a hurry: every bend from the smallest stock that holds it, one after the other.

It counts as a plan does: wishes broken, joints, arc cuts, pieces without room for a clamp, and what it costs.
"""

from __future__ import annotations

from collections.abc import Sequence

from headergen.model import PlanFigures, ShopSettings, Stock, StockBend
from headergen.shop.course import Course


def greedy_figures(courses: Sequence[Course], stock: Stock, s: ShopSettings) -> PlanFigures:
    """Each bend keeps a leg toward the longer of the straights beside it, as much of it as there is to use."""
    missing = broken = joints = arcs = flat = 0
    cost, rate = 0.0, min((bar.price / bar.length for bar in stock.straights if bar.price), default=0.0)
    used: dict[int, int] = {}
    for course in courses:
        left = list(course.straights)
        ends: list[list[float]] = []
        for k, bend in enumerate(course.bends):
            held = [
                (item.real_angle, item.price or 0.0, index)
                for index, item in enumerate(stock.bends)
                if abs(item.radius - bend.radius) < 0.05 and item.real_angle >= bend.angle - 1e-9
            ]
            ends.append([0.0, 0.0])
            if not held:
                missing += 1
                continue
            item = stock.bends[min(held)[2]]
            used[min(held)[2]] = used.get(min(held)[2], 0) + 1
            whole = abs(item.real_angle - bend.angle) < 1e-6
            arcs += not whole
            for side, leg in _legs(item, whole, left[k] >= left[k + 1]):
                take = min(max(leg - s.shrinkage, 0.0), left[k + side])
                ends[-1][side] = take
                left[k + side] -= take
        pieces = [length > 1e-9 for length in left]
        joints += sum(pieces) + len(course.bends) - 1
        flat += sum(1e-9 < length < s.clamp for length in left) + sum(max(legs) < s.clamp for legs in ends)
        broken += sum(1e-9 < length < s.apart for length in left) + _in_the_way(course, ends, pieces)
        cost += rate * sum(left)
    for index, count in used.items():
        item = stock.bends[index]
        cost += (item.price or 0.0) * max(count - (item.count or 0), 0)
    return PlanFigures(missing, broken, joints, arcs, flat, round(cost, 2))


def _legs(item: StockBend, whole: bool, longer_before: bool) -> list[tuple[int, float]]:
    """Which sides (0 before, 1 after) have a leg, and how long."""
    one, other = sorted(item.real_legs)
    if whole:
        return [(0, other), (1, one)] if longer_before else [(0, one), (1, other)]
    return [(0, other)] if longer_before else [(1, other)]


def _in_the_way(course: Course, ends: Sequence[Sequence[float]], pieces: Sequence[bool]) -> int:
    """Joints where none may be, and bends whose joints are too near each other are left out: the first is enough."""
    places = []
    for k, (start, length) in enumerate(zip(course.starts(), course.straights, strict=True)):
        after = ends[k - 1][1] if k > 0 else 0.0
        before = ends[k][0] if k < len(ends) else 0.0
        places += [start + after] if k > 0 and (pieces[k] or k < len(ends)) else []
        places += [start + length - before] if k < len(ends) and pieces[k] else []
    return sum(any(low < at < high for low, high, _ in course.blocked) for at in places)
