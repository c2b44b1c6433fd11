"""A path step by step, in the two ways in which a shop writes it down: LRA and XYZ."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from headergen.geometry.curves.centreline import frame_on, setback
from headergen.geometry.frames import add
from headergen.model import Bend, Centreline, Outlet, Run, Straight, Vec

FULL_TURN = 1e-6  # rad short of 180°, where the straights of a bend still have a corner


@dataclass(frozen=True)
class StepRow:
    """One step, or the start or end of the run in the first and the last row.

    `point`: for a bend, the corner of its straights; in the first and the last row, the start and end; None if there is
    no such point.
    """

    number: int | None
    length: float
    rotation: float | None = None
    angle: float | None = None
    radius: float | None = None
    point: Vec | None = None


def start_of(run: Run) -> str:
    """What a tube starts from, and from whose x its first turn counts."""
    if isinstance(run.start, Outlet) and run.start.side is not None:
        return f"joint on {run.start.side.run}"
    return "flange" if run.is_primary else "outlet"


def end_of(run: Run) -> Literal["collector", "end"]:
    """What a tube ends in: a bore of a collector, or a place of its own."""
    return "end" if run.end.ends_run else "collector"


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
