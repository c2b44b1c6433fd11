"""Runs made in one piece on the shop's own bender, and why a run cannot be."""

from __future__ import annotations

import math
from collections.abc import Sequence

from headergen.geometry.curves.centreline import frame_on, setback
from headergen.geometry.frames import add
from headergen.model import Bender, BentRow, BentTube, Centreline, ShopSettings, Vec
from headergen.model.stock import SAME_RADIUS
from headergen.shop.course import Course, CourseBend
from headergen.words.say import say_length

FULL = 1e-6  # rad short of 180°, where the straights of a bend still have a corner


def cannot_bend(course: Course, bender: Bender, units: str) -> str:
    """Why the bender cannot make a run, with lengths in `units`; empty if it can."""
    for bend in course.bends:
        if all(abs(bend.radius - radius) > SAME_RADIUS for radius in bender.radii):
            return f"it has no die of CLR {say_length(bend.radius, units)} (step {bend.step})"
    for between, after in zip(course.straights[1:-1], course.bends[1:], strict=True):
        if between < bender.min_straight:
            least = say_length(bender.min_straight, units)
            return (
                f"the straight before step {after.step} is {say_length(between, units)}, and it leaves {least} or more"
            )
    return ""


def bent_tube(course: Course, line: Centreline, bender: Bender, s: ShopSettings) -> BentTube:
    """The run as the bender makes it, from the start of its tube."""
    rows = tuple(
        BentRow(
            bend.step,
            bend.radius,
            course.straights[k],
            math.remainder(bend.rotation, 2 * math.pi),
            bend.angle,
            bend.angle + springback_of(bender.springback, bend.angle),
            _corner(line, bend),
        )
        for k, bend in enumerate(course.bends)
    )
    last = course.straights[-1]
    for_clamp = max(bender.clamp - last - s.trim, 0.0) if course.bends else 0.0
    blank = course.length + s.trim + for_clamp + 2 * s.dressing
    first, final = line.segments[0], line.segments[-1]
    start = frame_on(first, min(course.begins, first.length))[0]
    return BentTube(course.run, rows, last, blank, for_clamp, s.dressing, start, frame_on(final, final.length)[0])


def springback_of(known: Sequence[tuple[float, float]], angle: float) -> float:
    """Springback at an angle: linear between the known angles, from 0 at 0; beyond the last, in proportion to it."""
    before = (0.0, 0.0)
    for at, more in known:
        if angle <= at:
            return before[1] + (more - before[1]) * (angle - before[0]) / (at - before[0])
        before = (at, more)
    return before[1] * angle / before[0] if known else 0.0


def _corner(line: Centreline, bend: CourseBend) -> Vec | None:
    if math.pi - bend.angle < FULL:
        return None
    segment = next(each for each in line.segments if each.step == bend.step)
    return add(segment.start, segment.tangent, setback(bend.radius, bend.angle))
