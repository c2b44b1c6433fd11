"""A mitred joint in place of a slight bend: its savings and its cost.

Two straights, each cut at half the bend's angle, meet at the corner of the straights beside the bend. That is the
tangent length R·tan(θ/2) beyond either end of the bend, and R·(1/cos(θ/2) − 1) outside its middle.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from headergen.geometry.curves.centreline import setback
from headergen.model import MitreOffer, ShopSettings, Stock
from headergen.shop.course import Course
from headergen.shop.plan import plan_of
from headergen.shop.shelf import Shelf, whole_shelf

PARTS = 16  # of the circumference, at which a wrap template has its ordinates


def mitre_offers(
    course: Course, stock: Stock | None, settings: ShopSettings, shelf: Shelf | None = None
) -> Iterator[MitreOffer]:
    """An offer for each bend of a run below the angle that is set. Raises PlanError as `plan_of` does.

    `shelf`: what the stock list has of the run's tube; None: all of it.
    """
    shelf = whole_shelf(stock) if shelf is None else shelf
    slight = [k for k, bend in enumerate(course.bends) if bend.angle < settings.mitre_under]
    if not slight:
        return
    plan = plan_of([course], stock, settings, [shelf])
    for k in slight:
        bend = course.bends[k]
        back = setback(bend.radius, bend.angle)
        halves = plan_of(parted(course, k), stock, settings, [shelf, shelf])
        yield MitreOffer(
            course.run,
            bend.step,
            bend.angle,
            bend.angle / 2,
            back,
            2 * back - bend.radius * bend.angle,
            bend.radius * (1 / math.cos(bend.angle / 2) - 1),
            ordinates(course.radius, bend.angle / 2),
            len(plan.pieces) - len(halves.pieces),
            len(plan.joints) - len(halves.joints) - 1,
        )


def parted(course: Course, k: int) -> tuple[Course, Course]:
    """The run up to the corner of a bend, and from there on."""
    bend = course.bends[k]
    back, arc = setback(bend.radius, bend.angle), bend.angle * bend.radius
    begins = course.starts()[k + 1] - back
    first = replace(
        course,
        run=f"{course.run}, to the mitre",
        straights=(*course.straights[:k], course.straights[k] + back),
        bends=course.bends[:k],
        ends_welded=True,
    )
    second = replace(
        course,
        run=f"{course.run}, from the mitre",
        straights=(course.straights[k + 1] + back, *course.straights[k + 2 :]),
        bends=course.bends[k + 1 :],
        begins=course.begins + course.starts()[k] + course.straights[k] + arc - back,
        blocked=tuple((low - begins, high - begins, why) for low, high, why in course.blocked),
    )
    return first, second


def ordinates(radius: float, cut_angle: float) -> tuple[float, ...]:
    """Ordinates of a plane cut at an angle (rad) to square, round a tube: r·tan α·cos φ, starting at the highest."""
    high = radius * math.tan(cut_angle)
    return tuple(high * math.cos(2 * math.pi * k / PARTS) for k in range(PARTS))
