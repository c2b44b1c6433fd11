"""A round boss on a tube: saddled to its skin, with its hole, and the hole through the tube's wall."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from headergen.geometry.frames import WORLD, add, cross
from headergen.model import Boss, Frame
from headergen.parts.boss import BossPlace, Seat, saddle_radii
from headergen.parts.kind import Seated
from headergen.solids.making import Making, Shaped
from headergen.solids.shapes import cut, cylinder, frustum, only_solid

BEYOND = 5.0  # mm by which hole cutters extend past what they go through


def boss_solid(boss: Boss, seat: Seat, name: str) -> Any:
    """The boss in place. Raises SolidError, naming the part, if the kernel makes no single body of it."""
    body = cylinder(seat.place, seat.out, boss.outside_diameter / 2, seat.radius + boss.height)
    reach = boss.outside_diameter / 2 + BEYOND
    tube = frustum(add(seat.place, seat.along, -reach), seat.along, saddle_radii(boss, seat, BEYOND), 2 * reach)
    return only_solid(cut(body, tube, boss_hole(boss, seat)), name)


def boss_hole(boss: Boss, seat: Seat) -> Any:
    """The cutter of the hole: from the middle of the tube outward, on the boss's side only."""
    return cylinder(seat.place, seat.out, boss.hole / 2, seat.radius + boss.height + BEYOND)


def boss_part(part: Seated, making: Making) -> Shaped:
    """Made on a tube along z, pointing along x, and then placed."""
    place = part.seat
    assert isinstance(place, BossPlace)
    boss, seat = place.boss, place.seat
    here = replace(seat, place=WORLD.origin, along=WORLD.z, out=WORLD.x)
    key = ("boss", boss.outside_diameter, boss.height, boss.hole, seat.radius, seat.slope)
    frame = Frame(seat.place, seat.out, cross(seat.along, seat.out), seat.along)
    return making.once(key, lambda: boss_solid(boss, here, part.name), part.name, (frame, 0.0))
