"""The miss of a path from its bore and its target length, and whether the shop accepts it."""

from __future__ import annotations

import math

from headergen.checks.measure import measure_end
from headergen.geometry.curves.run import line_of
from headergen.model import Draft, Miss, Run
from headergen.model.lengths import required_length


def measure_miss(run: Run, draft: Draft) -> Miss:
    """The end of a run, and its developed length minus its target."""
    line, target = line_of(run), required_length(run, draft)
    end = measure_end(run, line)
    return Miss(run.name, end.along, end.across, end.angle, line.length - target if target is not None else 0.0)


def keeps_limits(miss: Miss, draft: Draft) -> bool:
    """Whether a miss is within the draft's limits of position, angle and length."""
    limits = draft.limits
    ends_well = math.hypot(miss.along, miss.across) <= limits.end_position and miss.angle <= limits.end_angle
    return ends_well and abs(miss.length_off) <= draft.length.tolerance
