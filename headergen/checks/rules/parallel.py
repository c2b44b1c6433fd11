"""Straights that are meant to run along a named line do."""

from __future__ import annotations

import math
from collections.abc import Iterator

from headergen.geometry.curves.centreline import frame_on
from headergen.geometry.curves.stepped import tube_of_step
from headergen.geometry.frames import add, angle_between, dot, norm, subtract, unit
from headergen.model import Centreline, Header, NamedLine, Parallel, Vec
from headergen.model.finding import Finding
from headergen.words.say import capital, say_angle, say_length


def parallel(header: Header) -> Iterator[Finding]:
    """The angle to the line, and the gap to the member round it at both ends of the straight."""
    lines = {line.name: line for line in header.draft.lines}
    for run, centreline in header.tubes:
        for required in run.parallels:
            yield _finding(header, centreline, required, lines[required.line])


def _finding(header: Header, centreline: Centreline, required: Parallel, line: NamedLine) -> Finding:
    segment, off = centreline.segments[required.step - 1], off_line(centreline, required, line)
    reach = tube_of_step(header.run(centreline.run), required.step).radius + line.diameter / 2
    ends = [_distance(frame_on(segment, at)[0], line) - reach for at in (0.0, segment.length)]
    units = header.draft.units
    return Finding(
        rule="parallel",
        level="error" if off > required.angle else "info",
        where=centreline.run,
        value=round(math.degrees(off), 2),
        limit=round(math.degrees(required.angle), 2),
        unit="deg",
        message=(
            f"{capital(centreline.run)}, step {required.step}: the straight runs {say_angle(off)} off {line.name} "
            f"({say_angle(required.angle)} allowed), {_say_gap(ends[0], units)} it where it begins and "
            f"{_say_gap(ends[1], units)} it where it ends."
        ),
        point=segment.start,
    )


def off_line(centreline: Centreline, required: Parallel, line: NamedLine) -> float:
    """The angle (rad) between a straight and the line that it should be parallel to."""
    between = angle_between(centreline.segments[required.step - 1].tangent, subtract(line.end, line.start))
    return min(between, math.pi - between)  # a tube may run either way along a member


def _say_gap(gap: float, units: str) -> str:
    return f"{say_length(-gap, units)} into" if gap < 0 else f"{say_length(gap, units)} from"


def _distance(point: Vec, line: NamedLine) -> float:
    """The distance of a point from the line, extended beyond its ends."""
    along = unit(subtract(line.end, line.start))
    w = subtract(point, line.start)
    return norm(add(w, along, -dot(w, along)))
