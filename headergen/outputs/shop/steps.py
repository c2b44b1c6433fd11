"""A path step by step, in the two ways that a shop writes it down: LRA and XYZ."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from headergen.geometry.curves.centreline import frame_on, setback
from headergen.geometry.frames import add
from headergen.model import Bend, Centreline, Run, Straight, Vec

FULL_TURN = 1e-6  # rad short of 180°, at which the straights of a bend still meet somewhere


@dataclass(frozen=True)
class StepRow:
    """One step. `point`: where its straights would meet, of a bend; where the run begins and ends, of the first and the
    last row, which are no steps; None where there is no such place."""

    number: int | None
    length: float
    rotation: float | None = None
    angle: float | None = None
    radius: float | None = None
    point: Vec | None = None


def start_of(run: Run) -> str:
    """What a tube starts from, and its first turn counts from the x of."""
    return "flange" if run.is_primary else "outlet"


def step_rows(run: Run, line: Centreline) -> Iterator[StepRow]:
    """The start, every step, and the end; lengths in mm, angles in radians."""
    yield StepRow(None, 0.0, point=line.segments[0].start)
    for number, step in enumerate(run.steps, 1):
        if isinstance(step, Straight):
            yield StepRow(number, step.length)
        else:
            yield StepRow(
                number, step.radius * step.angle, step.rotation, step.angle, step.radius, _corner(line, number, step)
            )
    last = line.segments[-1]
    yield StepRow(None, 0.0, point=frame_on(last, last.length)[0])


def _corner(line: Centreline, number: int, bend: Bend) -> Vec | None:
    if math.pi - bend.angle < FULL_TURN:
        return None
    segment = next(each for each in line.segments if each.step == number)
    return add(segment.start, segment.tangent, setback(bend.radius, bend.angle))
