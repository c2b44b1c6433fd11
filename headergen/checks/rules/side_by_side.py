"""Tubes that enter one collector are parallel to each other, not only each nearly square to it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import combinations

from headergen.geometry.curves.centreline import frame_on
from headergen.geometry.frames import angle_between
from headergen.model import Survey
from headergen.model.finding import Finding
from headergen.words.say import capital, say_angle, say_runs


def side_by_side(survey: Survey) -> Iterator[Finding]:
    """Reports only tubes that each keep their own angle; the others have a finding already. Bores of a Y lean."""
    header = survey.header
    wyes = {collector.name for collector in header.draft.collectors if collector.lean}
    limit = header.draft.limits.end_angle
    well = [
        (run, frame_on(line.segments[-1], line.segments[-1].length)[1])
        for (run, line), end in zip(header.tubes, survey.ends, strict=True)
        if end.angle <= limit and run.end.collector not in wyes
    ]
    for (one, first), (other, second) in combinations(well, 2):
        apart = angle_between(first, second)
        if one.end.collector == other.end.collector and apart > limit:
            yield Finding(
                rule="end-parallel",
                level="error",
                where=one.name,
                value=round(math.degrees(apart), 2),
                limit=round(math.degrees(limit), 2),
                unit="deg",
                message=(
                    f"{capital(say_runs(header, (one.name, other.name)))} enter collector {one.end.collector} "
                    f"{say_angle(apart)} out of parallel; {say_angle(limit)} allowed."
                ),
            )
