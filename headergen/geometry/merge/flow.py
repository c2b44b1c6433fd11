"""The flow area along the axis of a collector, and its smallest place."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.merge.lobes import lobe_area, lobe_end
from headergen.geometry.merge.measures import Merge, ring_at, spike_point, star_area

STATIONS = 60  # along the axis, of the areas that are reported


@dataclass(frozen=True)
class FlowArea:
    """Section of the gas, square to the axis, `at` mm downstream of the collector plane."""

    at: float
    area: float


def flow_area(merge: Merge, at: float) -> float:
    """Section of the gas square to the axis, mm², `at` mm downstream of the plane.

    Across the mitre itself, where straight and leaning parts of the tubes share a section, the straight ones count.
    """
    if at <= merge.mitre + merge.inner * math.tan(merge.half_angle / 2):
        return merge.count * math.pi * merge.inner**2
    if at <= merge.cut:
        return merge.count * lobe_area(ring_at(merge, at), merge.inner, merge.half_angle, merge.sector)
    if at >= merge.cone_end:
        return math.pi * merge.outlet_inner**2
    return _cone_area(merge, (at - merge.cut) / (merge.cone_end - merge.cut))


def _cone_area(merge: Merge, share: float) -> float:
    """For the ruled cone: points of the lobe's outline and of the outlet that lie on one ruling, taken in proportion.

    Where the middle is open at the cut, the spike that has to close it is taken off, down to its point.
    """
    start, end = lobe_outline(merge, merge.inner), outlet_arc(merge, merge.outlet_inner)
    x, y = ((1 - share) * start + share * end).T
    spike = 0.0
    if (point := spike_point(merge)) > 0.0:
        left = max(1 - share * (merge.cone_end - merge.cut) / point, 0.0)
        spike = star_area(merge, merge.inner) * left**2
    return merge.count * float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1])) / 2 - spike


def lobe_outline(merge: Merge, radius: float, steps: int = 240) -> Array:
    """(steps + 1, 2) points of one lobe's outline at the cut, the lobe along x."""
    last = lobe_end(merge.cut_ring, radius, merge.half_angle, merge.sector)
    t = _even_in_conic(last, steps)
    return np.column_stack([merge.cut_ring + radius / math.cos(merge.half_angle) * np.cos(t), radius * np.sin(t)])


def outlet_arc(merge: Merge, radius: float, steps: int = 240) -> Array:
    """(steps + 1, 2) points of the outlet that belong to one lobe."""
    t = _even_in_conic(merge.sector, steps)
    return np.column_stack([radius * np.cos(t), radius * np.sin(t)])


def _even_in_conic(last: float, steps: int) -> Array:
    """Angles from −last to last, evenly spaced."""
    return np.linspace(-last, last, steps + 1)


def flow_areas(merge: Merge, steps: int = STATIONS) -> tuple[FlowArea, ...]:
    """The section of the gas from the collector plane to the end of the cone, the cut among them."""
    places = sorted({*np.linspace(0.0, merge.cone_end, steps + 1).tolist(), merge.cut})
    return tuple(FlowArea(at, flow_area(merge, at)) for at in places)


def smallest(areas: tuple[FlowArea, ...]) -> FlowArea:
    """The smallest section; of equal ones the last, so that what is as wide as the outlet does not hide it."""
    least = min(round(each.area, 6) for each in areas)
    return next(each for each in reversed(areas) if round(each.area, 6) == least)
