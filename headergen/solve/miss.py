"""How far a path is off its bore and its target, and whether a shop lets that pass."""

from __future__ import annotations

import math

from headergen.checks.measure import measure_end
from headergen.geometry.centreline import trace
from headergen.model import Centreline, Draft, Miss, Primary


def line_of(primary: Primary) -> Centreline:
    return trace(primary.port.frame, primary.steps, primary.number)


def target_of(primary: Primary, draft: Draft) -> float | None:
    """The developed length asked of a primary: its own, or else the header's."""
    return primary.target if primary.target is not None else draft.length.target


def measure_miss(primary: Primary, draft: Draft) -> Miss:
    """How a primary ends, and how much longer than its target it is."""
    line, target = line_of(primary), target_of(primary, draft)
    end = measure_end(primary, line)
    return Miss(primary.number, end.along, end.across, end.angle, line.length - target if target is not None else 0.0)


def keeps_limits(miss: Miss, draft: Draft) -> bool:
    """Within what the draft allows of position, angle and length."""
    limits = draft.limits
    ends_well = math.hypot(miss.along, miss.across) <= limits.end_position and miss.angle <= limits.end_angle
    return ends_well and abs(miss.length_off) <= draft.length.tolerance
