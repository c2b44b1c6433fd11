"""Steps to larger tubes put into found paths, each in a straight that is long enough, where the spec lets it be."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from headergen.geometry.curves.stepped import growth_places, step_length
from headergen.model import Draft, Run, Step, Straight
from headergen.model.finding import Finding
from headergen.solve.route.problem import BESIDE_STEP, growth_start, least_first, least_last
from headergen.words.say import capital, say_length, say_list

DIGITS = 3  # of millimetres, as paths are written


class NoRoomError(ValueError):
    """No straight of a path is long enough for a step to a larger tube, where that step may be."""


@dataclass(frozen=True)
class _StepRoom:
    """Where a step may begin in one straight of a path, as lengths from the start of the run."""

    step: int  # its index
    begins: float  # of the straight
    low: float
    high: float


def grown(run: Run, path: Sequence[Step], draft: Draft) -> tuple[Step, ...]:
    """A found path with the steps to larger tubes that the run must have, in their order.

    Each stands as near as may be to the middle of where its `at` lets it; without one, in the middle of the longest
    straight that has room. Raises NoRoomError.
    """
    steps = tuple(path)
    for number, growth in enumerate(run.grows):
        rooms = [room for room in _rooms(run, steps, growth, draft) if room.low <= room.high + 1e-9]
        after = _end_of_last(steps) if number else 0.0
        rooms = [replace(room, low=max(room.low, after)) for room in rooms if room.high >= after]
        if not rooms:
            raise NoRoomError(f"{run.name} has no straight for its step {number + 1}")
        steps = _with_step(steps, growth, *_best(rooms, growth))
    return steps


def _rooms(run: Run, steps: Sequence[Step], growth: Straight, draft: Draft) -> Iterator[_StepRoom]:
    low, high = growth_start(growth)
    beside, at, last = max(draft.limits.min_straight, BESIDE_STEP), 0.0, len(steps) - 1
    for index, step in enumerate(steps):
        length = step_length(step)
        if isinstance(step, Straight) and step.growth is None:
            before = max(beside, least_first(draft, run)) if index == 0 else beside
            after = max(beside, least_last(draft, run.end)) if index == last else beside
            yield _StepRoom(index, at, max(at + before, low), min(at + length - after - growth.length, high))
        at += length


def _end_of_last(steps: Sequence[Step]) -> float:
    """The length up to the end of the last step to a larger tube."""
    last = max(index for index, step in enumerate(steps) if isinstance(step, Straight) and step.growth is not None)
    return sum(map(step_length, steps[: last + 1]))


def _best(rooms: Sequence[_StepRoom], growth: Straight) -> tuple[_StepRoom, float]:
    """The room of a step, and where it begins there."""
    if growth.growth is not None and growth.growth.at is not None:
        middle = sum(growth_start(growth)) / 2
        places = [(min(max(middle, room.low), room.high), room) for room in rooms]
        place, room = min(places, key=lambda each: abs(each[0] - middle))
        return room, place
    room = max(rooms, key=lambda each: each.high - each.low)
    return room, (room.low + room.high) / 2


def _with_step(steps: tuple[Step, ...], growth: Straight, room: _StepRoom, place: float) -> tuple[Step, ...]:
    whole = step_length(steps[room.step])
    before = round(place - room.begins, DIGITS)
    after = round(whole - before - growth.length, DIGITS)
    parts = Straight(before), growth, Straight(after)
    return (*steps[: room.step], *parts, *steps[room.step + 1 :])


def without_growths(steps: Sequence[Step]) -> tuple[Step, ...]:
    """A path without its steps to larger tubes: straights that follow each other are one."""
    found = list[Step]()
    for step in steps:
        before = found[-1] if found else None
        if isinstance(step, Straight) and isinstance(before, Straight):
            found[-1] = Straight(before.length + step.length)
        else:
            found.append(Straight(step.length) if isinstance(step, Straight) else step)
    return tuple(found)


def say_steps(draft: Draft, runs: Sequence[Run]) -> Iterator[Finding]:
    """Where the found runs grow, as lengths from their starts."""
    names = {run.name for run in runs if run.grows}
    for run in draft.runs:
        places = growth_places(run) if run.name in names else ()
        if places:
            said = [
                f"to {say_length(place.after.outside_diameter, draft.units)} at "
                f"{say_length(place.bore_grows, draft.units)} from its {'port' if run.is_primary else 'outlet'}"
                for place in places
            ]
            message = f"{capital(run.name)} grows {say_list(said)}."
            yield Finding("route-steps", "info", run.name, None, None, "", message)


__all__ = ["NoRoomError", "grown", "say_steps", "without_growths"]
