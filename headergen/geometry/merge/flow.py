"""The flow area along the axis of a collector, and its minimum."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.merge.lobes import lobe_area, lobe_end
from headergen.geometry.merge.measures import Merge, ring_at, spike_point, star_area
from headergen.geometry.merge.uneven import UnevenMerge, outlet_area
from headergen.geometry.merge.uneven_design import uneven_flow_area

STATIONS = 60  # along the axis, at which areas are reported


@dataclass(frozen=True)
class FlowArea:
    """Flow area, mm², in the section square to the axis `at` mm downstream of the collector plane."""

    at: float
    area: float


def flow_area(merge: Merge | UnevenMerge, at: float) -> float:
    """Flow area, mm², in the section square to the axis `at` mm downstream of the plane.

    At the mitre, where straight and leaning parts of the tubes are in one section, the straight ones count.
    """
    if isinstance(merge, UnevenMerge):
        return uneven_flow_area(merge, at)
    if at <= merge.mitre + merge.inner * math.tan(merge.half_angle / 2):
        return merge.count * math.pi * merge.inner**2
    if at <= merge.cut:
        return merge.count * lobe_area(ring_at(merge, at), merge.inner, merge.half_angle, merge.sector)
    if at >= merge.cone_end:
        return outlet_area(merge, at)
    return _cone_area(merge, (at - merge.cut) / (merge.cone_end - merge.cut))


def _cone_area(merge: Merge, share: float) -> float:
    """Area of the ruled cone: points of the lobe's outline and of the outlet on one ruling, interpolated linearly.

    Where the middle is open at the cut, the area of the spike that closes it is subtracted, down to the spike's point.
    """
    start, end = lobe_outline(merge, merge.inner), outlet_arc(merge, merge.outlet_inner)
    x, y = ((1 - share) * start + share * end).T
    spike = 0.0
    if (point := spike_point(merge)) > 0.0:
        left = max(1 - share * (merge.cone_end - merge.cut) / point, 0.0)
        spike = star_area(merge, merge.inner) * left**2
    return merge.count * float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1])) / 2 - spike


def lobe_outline(merge: Merge, radius: float, steps: int = 240) -> Array:
    """(steps + 1, 2) points of one lobe's outline at the cut; the lobe is along x."""
    last = lobe_end(merge.cut_ring, radius, merge.half_angle, merge.sector)
    t = _even_in_conic(last, steps)
    return np.column_stack([merge.cut_ring + radius / math.cos(merge.half_angle) * np.cos(t), radius * np.sin(t)])


def outlet_arc(merge: Merge, radius: float, steps: int = 240) -> Array:
    """(steps + 1, 2) points of the part of the outlet that belongs to one lobe."""
    t = _even_in_conic(merge.sector, steps)
    return np.column_stack([radius * np.cos(t), radius * np.sin(t)])


def _even_in_conic(last: float, steps: int) -> Array:
    """Evenly spaced angles from −last to last."""
    return np.linspace(-last, last, steps + 1)


def flow_areas(merge: Merge | UnevenMerge, steps: int = STATIONS) -> tuple[FlowArea, ...]:
    """The flow areas from the collector plane to the end of the cone, with one at the cut, and on along a taper."""
    places = sorted({*np.linspace(0.0, merge.cone_end, steps + 1).tolist(), merge.cut})
    if merge.taper_to is not None:
        places += np.linspace(merge.cone_end, merge.end, steps // 6 + 1)[1:].tolist()
    return tuple(FlowArea(at, flow_area(merge, at)) for at in places)


def smallest(areas: tuple[FlowArea, ...]) -> FlowArea:
    """The smallest area; of equal ones the last, so that a section as wide as the outlet does not hide the outlet."""
    least = min(round(each.area, 6) for each in areas)
    return next(each for each in reversed(areas) if round(each.area, 6) == least)
