"""Changes as they are written into a spec: with the digits of a file, and in words."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from headergen.geometry.curves.centreline import corner_points
from headergen.geometry.curves.run import line_of
from headergen.geometry.frames import norm, subtract
from headergen.model import Bend, Collector, Header, Run, Step, Vec
from headergen.model.suggestion import NewPlace, NewPoint, NewValue
from headergen.spec.printed import ROUND_IN, ROUND_MM
from headergen.spec.units import MILLIMETRES, Unit
from headergen.words.say import capital, say_length, say_way

ANGLE_DIGITS = 4  # of degrees: 0.002 mm at the end of a tube of 1 m
SAME = 1e-9
MOVED = 10.0**-ROUND_MM / 2  # mm by which a point of a path must move to be written again


def as_written(what: str, value: float, units: Unit) -> float:
    """A value of a step (mm or radians) as it reads back from a file."""
    if what != "length":
        return math.radians(round(math.degrees(value), ANGLE_DIGITS))
    return round(value / MILLIMETRES[units], ROUND_IN if units == "in" else ROUND_MM) * MILLIMETRES[units]


def with_steps(run: Run, steps: Sequence[Step], units: Unit) -> Run:
    """The run with a path of plain numbers, as written."""

    def written(step: Step) -> Step:
        if isinstance(step, Bend):
            angle, rotation = (as_written(what, getattr(step, what), units) for what in ("angle", "rotation"))
            return replace(step, angle=angle, rotation=rotation)
        return replace(step, length=as_written("length", step.length, units))

    return replace(run, steps=tuple(map(written, steps)), fits=())


def new_values(settled: Run, was: Run, now: Run) -> Iterator[NewValue]:
    """The values to write into the spec.

    `was` and `now` are a run of the draft before and after, `settled` is the run as it was closed.
    """
    fitted = {(fit.step, fit.what) for fit in was.fits} - {(fit.step, fit.what) for fit in now.fits}
    for number, (found, old, new) in enumerate(zip(settled.steps, was.steps, now.steps, strict=True), 1):
        for what in ("rotation", "angle") if isinstance(new, Bend) else ("length",):
            after = getattr(new, what)
            if (number, what) in fitted or abs(after - getattr(old, what)) > SAME:
                yield NewValue(was.name, number, what, getattr(found, what), after)


def new_points(name: str, before: Header, after: Header) -> Iterator[NewPoint]:
    """The points that move, for a run whose path is given by points."""
    if before.run(name).written != "points":
        return
    were, are = (corner_points(line_of(header.run(name))) for header in (before, after))
    for old, new in zip(were, are, strict=True):
        if norm(subtract(new, old)) > MOVED:
            yield NewPoint(name, old, new)


def new_place(was: Collector, now: Collector) -> NewPlace:
    """A collector's place before and after, by the origin of its plane."""
    return NewPlace(was.name, was.frame.origin, now.frame.origin)


def say_value(run: Run, value: NewValue, units: Unit) -> str:
    """One changed value in a tube bender's words: "Turn bend 2 of primary 3 by 2.5° more (81° to 83.5°)"."""
    nth = sum(isinstance(step, Bend) == (value.what != "length") for step in run.steps[: value.step])
    more = value.after > value.before
    if value.what == "length":
        size = say_length(abs(value.after - value.before), units)
        span = f"{say_length(value.before, units)} to {say_length(value.after, units)}"
        return f"Make straight {nth} of {run.name} {size} {'longer' if more else 'shorter'} ({span})"
    before, after = (f"{round(math.degrees(each), 2) + 0.0:g}°" for each in (value.before, value.after))
    size = f"{round(abs(math.degrees(value.after - value.before)), 2):g}°"
    verb = "Turn" if value.what == "rotation" else "Bend"
    return f"{verb} bend {nth} of {run.name} by {size} {'more' if more else 'less'} ({before} to {after})"


def say_swing(run: Run, across: Vec, units: Unit) -> str:
    """A swing of the whole tube: how far its outmost place moves, and in which direction."""
    return f"Swing the whole of {run.name} about its two ends, {_say_shift(across, units)} in its middle"


def say_path(run: Run, thing: str, shift: Vec, units: Unit) -> str:
    """A small change of the whole path: how far it moves where it was too near to a thing."""
    return f"Lead {run.name} {_say_shift(shift, units)} beside {thing}, by a little of each value of its path"


def say_collector(place: NewPlace, units: Unit) -> str:
    """A moved collector in words: "Move collector main 4 mm down, with its tubes closed on it again"."""
    shift = _say_shift(subtract(place.after, place.before), units)
    return capital(f"move collector {place.collector} {shift}, with its tubes closed on it again")


def _say_shift(shift: Vec, units: Unit) -> str:
    size = math.hypot(*shift)
    x, y, z = (each / size for each in shift)
    return f"{say_length(size, units)} {say_way((x, y, z))}"
