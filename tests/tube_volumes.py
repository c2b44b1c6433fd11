"""Between what volumes the mesh of a tube must lie, worked out apart from the code that makes it."""

from __future__ import annotations

import math

from headergen.model import Centreline, Line

FEWEST_SIDES = 8  # round a tube, however coarse it may be


def volume_bounds(
    centreline: Centreline, outer_radius: float, inner_radius: float, chord_error: float
) -> tuple[float, float]:
    """Least and largest volume, in mm³, of a mesh whose facets stay within half of `chord_error` of both skins.

    The largest is the true one, π(ro² − ri²)·length. A ring of n chords has sin(t)/t of the circle's area, t = 2π/n;
    m slices of a bend are prisms cut off on both sides along the halving planes, so they hold sin(t)/t of the bend,
    t = angle/m. The function falls with t, and t is never more than the turn that the chordal deviation allows.
    """
    area = math.pi * (outer_radius + inner_radius) * (outer_radius - inner_radius)
    around = _sinc(_turn(outer_radius, chord_error / 2))
    along = sum(
        segment.length
        * (1.0 if isinstance(segment, Line) else _sinc(_turn(segment.radius + outer_radius, chord_error / 2)))
        for segment in centreline.segments
    )
    return area * around * along, area * centreline.length


def _turn(radius: float, chord_error: float) -> float:
    """What a chord spans whose sagitta, r·(1 − cos(turn/2)), is `chord_error`."""
    return min(2 * math.acos(1 - chord_error / radius), math.tau / FEWEST_SIDES)


def _sinc(turn: float) -> float:
    return math.sin(turn) / turn
