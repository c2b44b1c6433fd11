"""How far a path is off its bore and its target, and whether a shop lets that pass."""

from __future__ import annotations

import math

from headergen.checks.measure import measure_end
from headergen.geometry.curves.run import line_of
from headergen.model import Draft, Miss, Run


def target_of(run: Run, draft: Draft) -> float | None:
    """The developed length asked of a run: its own, or else, of a primary, the header's."""
    return draft.length.target if run.target is None and run.is_primary else run.target


def measure_miss(run: Run, draft: Draft) -> Miss:
    """How a run ends, and how much longer than its target it is."""
    line, target = line_of(run), target_of(run, draft)
    end = measure_end(run, line)
    return Miss(run.name, end.along, end.across, end.angle, line.length - target if target is not None else 0.0)


def keeps_limits(miss: Miss, draft: Draft) -> bool:
    """Within what the draft allows of position, angle and length."""
    limits = draft.limits
    ends_well = math.hypot(miss.along, miss.across) <= limits.end_position and miss.angle <= limits.end_angle
    return ends_well and abs(miss.length_off) <= draft.length.tolerance
