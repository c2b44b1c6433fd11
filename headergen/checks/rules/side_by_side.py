"""Tubes that enter one collector run parallel to each other, not only each nearly square to it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import combinations

from headergen.checks.words import say_angle
from headergen.finding import Finding
from headergen.geometry.centreline import frame_on
from headergen.geometry.frames import angle_between
from headergen.model import Survey


def side_by_side(survey: Survey) -> Iterator[Finding]:
    """Speaks only where each of the two keeps its own angle; otherwise that has been said already."""
    header = survey.header
    limit = header.draft.limits.end_angle
    well = [
        (primary, frame_on(line.segments[-1], line.segments[-1].length)[1])
        for primary, line, end in zip(header.primaries, header.centrelines, survey.ends, strict=True)
        if end.angle <= limit
    ]
    for (one, first), (other, second) in combinations(well, 2):
        apart = angle_between(first, second)
        if one.bore.collector == other.bore.collector and apart > limit:
            yield Finding(
                rule="end-parallel",
                level="error",
                where=f"primary {one.number}",
                value=round(math.degrees(apart), 2),
                limit=round(math.degrees(limit), 2),
                unit="deg",
                message=(
                    f"Primaries {one.number} and {other.number} enter collector {one.bore.collector} "
                    f"{say_angle(apart)} out of parallel; {say_angle(limit)} allowed."
                ),
            )
