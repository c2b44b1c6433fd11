"""A part or a tool that is too near to something: moved by a number of the spec along or round its tube.

Or the tube is led past a tool, for which a cylinder in the chassis stands in.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import chain, islice

from headergen.checks.again import survey_again
from headergen.checks.judge import judge
from headergen.checks.moves import way_off
from headergen.geometry.frames import add, dot
from headergen.model import ChassisItem, Cylinder, Gap, Place, Vec, falls_short
from headergen.parts.rooms import Room, rooms
from headergen.solve.hints.attempt import PART, Allowance, Attempt, Change, Failed, OutOfTime, came_of, found_again
from headergen.solve.hints.by_path import of_path
from headergen.solve.hints.by_values import gap_between, reading_unit, value_attempts
from headergen.solve.hints.half_spaces import SPARE
from headergen.solve.hints.movable import Setting, settings_of
from headergen.solve.hints.trial import Known, Tried
from headergen.words.say import say_length

TRIES = 5  # of an amount
MORE = 1.5  # of the amount needed to first order
FAR = (4, 8, 12)  # amounts, in multiples of their grid
LEAST_RATE = 0.05  # mm that a gap must grow for each mm of a shift, or of the arc of a turn
LEAST_ARC = 1.0  # mm that a place must move for each radian of a turn
TURNS = 5.0  # degrees to which a turn is rounded
FARTHEST = 150.0  # mm that a part is moved along its tube
IN_STEPS = 5.0  # steps, in units of length, to which a shift along a tube is rounded


def of_seat(gap: Gap, known: Known, allowance: Allowance) -> Iterator[Attempt]:
    """The part of a gap, or the host of a tool or sensor, moved by one number of the spec."""
    way = None if gap.inside else way_off(gap.points, gap.value)
    found = list(settings_of(known.header, gap.a))
    if not found and gap in known.survey.reaches:
        yield Failed(f"{gap.a} stands where the engine has it")
    for setting in found:
        yield _set(setting, way, gap, known, allowance) if way is not None else Failed(_nowhere(gap))


def of_tube(gap: Gap, known: Known, allowance: Allowance) -> Iterator[Attempt]:
    """The tube in the way of a tool or a sensor, led past it."""
    room = next(each for each in rooms(known.header) if each.what == gap.a)
    if gap.b not in [run.name for run in known.header.runs]:
        return
    stands_in = _with_stand_in(room, gap, known)
    seen = Gap(gap.b, gap.a, 0.0, gap.value, gap.points[::-1], at=(Place(gap.b, 0.0, 1), None))
    found = gap_between(stands_in.header, known.meshes, seen)
    if found is not None:
        seen = replace(found, required=0.0)
        best, rest = value_attempts(seen, stands_in, allowance)
        yield from chain(best, of_path(seen, stands_in, allowance), rest)


def _with_stand_in(room: Room, gap: Gap, known: Known) -> Known:
    """The header with a cylinder in the chassis in the tool's place; the results are judged without it."""
    frame, draft = room.shape.frame, known.header.draft
    shape = Cylinder(frame.origin, add(frame.origin, frame.z, room.shape.length), 2 * room.shape.start)
    chassis = (*draft.chassis, ChassisItem(room.what, shape, 0.0))
    header = replace(known.header, draft=replace(draft, chassis=chassis))
    return replace(known, survey=replace(known.survey, header=header), stands_for=(gap, known))


def _nowhere(gap: Gap) -> str:
    return f"which way leads {gap.a} off {gap.b} is not known"


def _set(setting: Setting, way: Vec, gap: Gap, known: Known, allowance: Allowance) -> Attempt:
    """The number changed by the amount needed; everything is measured and judged again each time."""
    last, units = "", known.header.draft.units
    for amount in islice(_amounts(setting, way, gap, units), TRIES):
        if not allowance.takes(PART):
            return OutOfTime()
        draft, settings = setting.put(amount)
        after = survey_again(known.survey, replace(known.header, draft=draft), known.meshes, ())
        change = Change(draft, "part", setting.what(amount, units), (), settings=settings)
        then = found_again(after, gap)
        if then is None or not falls_short(then.value, gap.required, gap.together):
            return came_of(change, gap, known, Tried(after, judge(after)))
        last = last or f"{change.what}: gap {say_length(then.value, units)}"
    return Failed(last or f"{setting.thing} cannot be moved as far as that takes")


def _amounts(setting: Setting, way: Vec, gap: Gap, units: str) -> Iterator[float]:
    """The amounts by which the number may be changed.

    First the amount needed to first order, and somewhat more; then larger amounts in both directions, because past an
    edge the gap grows faster.
    """
    turns, missing = setting.kind == "angle", gap.required - gap.value + SPARE
    grid = math.radians(TURNS) if turns else IN_STEPS * reading_unit(units)
    rate = dot(setting.goes(gap.points[0]), way)
    sign = math.copysign(1.0, rate)
    near = [share * missing / rate for share in (1.0, MORE)] if abs(rate) > (LEAST_ARC if turns else LEAST_RATE) else []
    far = [each * grid * way_round for each in FAR for way_round in (sign, -sign)]
    amounts = (math.copysign(math.ceil(abs(each) / grid - 1e-9) * grid, each) for each in (*near, *far))
    for amount in dict.fromkeys(amounts):
        if setting.room[0] <= amount <= setting.room[1] and (turns or abs(amount) <= FARTHEST):
            yield amount
