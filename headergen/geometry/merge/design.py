"""The design of the merge that a spec asks for: above all, where its tubes are cut.

Most first designs throttle the gas at the cut, before the outlet. Here the cut is placed where they do not, as far as
the bores allow: late enough that the tubes meet in the middle, early enough that lobes and cone stay wider than the
outlet.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache

import numpy as np

from headergen.geometry.frames import axes_matrix, subtract
from headergen.geometry.merge.flow import flow_area
from headergen.geometry.merge.lobes import MergeError, lobe_area, valley
from headergen.geometry.merge.measures import Merge
from headergen.geometry.merge.uneven import UnevenMerge
from headergen.geometry.merge.uneven_design import MergeInputs, uneven_merge
from headergen.model import Bore, Collector, Tube

AnyMerge = Merge | UnevenMerge

FEWEST, MOST = 2, 8  # number of bores of one merge
ON_RING = 1e-3  # mm by which a bore may be off the ring
CLOSED = 0.92  # of the ring radius at which the bores just meet on the axis: there the middle is certainly closed
MORE_AREA = 1.15  # of the outlet's area: the least flow area required at the cut
FREE_CREST = 0.05  # of a tube's radius: how far its lobe is outside the outlet at the cut
STEEPEST = math.radians(15)  # slope of a valley between lobes where it opens toward the outlet
LEAST_CONE = 15.0  # mm
LEAD = 5.0  # mm of straight tube in front of a mitre
TRIALS = 12  # cuts tried, from the first guess upstream
SAME_AREA = 1e-6  # mm²
STATIONS = 24  # along a cone, at which a trial is checked


def has_merge(collector: Collector) -> bool:
    """Whether the spec asks for more than plain bores, and there are at least two to join."""
    return collector.half_angle is not None and collector.outlet is not None and FEWEST <= len(collector.bores) <= MOST


def sleeve_radii(tube: Tube, collector: Collector) -> tuple[float, float]:
    """Outer and inner radius of the collector's tubes: sleeves with sliding clearance, or as the tube if welded on.

    `tube` is the primaries' tube; a tube that arrives from another collector takes precedence.
    """
    tube = collector.arriving or tube
    wall = collector.wall if collector.wall is not None else tube.wall
    if collector.join == "weld":
        return tube.radius, tube.radius - wall
    return tube.radius + collector.gap + wall, tube.radius + collector.gap


def bore_radii(tube: Tube, collector: Collector, bore: Bore) -> tuple[float, float]:
    """As sleeve_radii, of one bore; they differ where the bores are of two sizes."""
    return sleeve_radii(tube, collector if bore.tube is None else replace(collector, arriving=bore.tube))


def merge_of(tube: Tube, collector: Collector) -> AnyMerge:
    """The merge that a spec asks for.

    Raises MergeError where the bores are in each other's way, where their sleeves are too short for a mitre, where the
    axis is not among them, or where the outlet is too wide or too narrow for them.
    """
    return _even_merge(tube, collector) if is_even(collector) else uneven_merge(_inputs_of(tube, collector))


def is_even(collector: Collector) -> bool:
    """Whether its bores are of one size, square to its plane, and evenly round its axis."""
    one_size = all(bore.tube is None for bore in collector.bores)
    return one_size and collector.lean == 0.0 and _ring_of(collector)[2] <= ON_RING


def _inputs_of(tube: Tube, collector: Collector) -> MergeInputs:
    assert collector.half_angle is not None and collector.outlet is not None
    axes = axes_matrix(collector.frame)
    places = (axes @ subtract(bore.frame.origin, collector.frame.origin) for bore in collector.bores)
    outer, inner = zip(*(bore_radii(tube, collector, bore) for bore in collector.bores), strict=True)
    wall = collector.wall if collector.wall is not None else (collector.arriving or tube).wall
    return MergeInputs(
        places=tuple((float(x), float(y)) for x, y, _ in places),
        outer=outer,
        inner=inner,
        half_angle=collector.half_angle,
        lean=collector.lean,
        slip=collector.slip,
        is_welded=collector.join == "weld",
        outlet=collector.outlet,
        wall=wall,
        outlet_length=collector.outlet_length,
        taper_to=collector.outlet_to,
    )


def _even_merge(tube: Tube, collector: Collector) -> Merge:
    uncut = _uncut(tube, collector)
    first, last = _first_cut(uncut), _earliest_cut(uncut, collector.spike)
    outlet = math.pi * uncut.outlet_inner**2  # a taper after it leaves the cut where it is
    best, most = _cut_at(uncut, first), -math.inf
    for at in np.linspace(first, max(first, last), TRIALS).tolist():
        merge = _cut_at(uncut, at)
        least = _least_area(merge)
        if least >= outlet - SAME_AREA:
            return merge
        if least > most + SAME_AREA:
            best, most = merge, least
    return best


@lru_cache(maxsize=64)  # every part that is seated on a merge asks for it
def possible_merge(tube: Tube, collector: Collector) -> AnyMerge | None:
    """As merge_of; None where no merge is asked for or none is possible."""
    try:
        return merge_of(tube, collector) if has_merge(collector) else None
    except MergeError:
        return None


def _uncut(tube: Tube, collector: Collector) -> Merge:
    """The merge before its cut is chosen; the cut is put at the mitre."""
    assert collector.half_angle is not None and collector.outlet is not None
    ring, turn, _ = _ring_of(collector)
    outer, inner = sleeve_radii(tube, collector)
    half, wall, narrow = collector.half_angle, outer - inner, collector.outlet / 2
    least = min(narrow, narrow if collector.outlet_to is None else collector.outlet_to / 2)
    if least <= 2 * wall:
        raise MergeError("its outlet is as wide as", 2 * least, "its wall wants more than", 4 * wall)
    spaced = 2 * ring * math.sin(math.pi / len(collector.bores))
    if spaced < 2 * inner + wall - ON_RING:
        raise MergeError("its bores are spaced by", spaced, "with a wall between them they want", 2 * inner + wall)
    shortest = outer * math.tan(half / 2) + LEAD
    if collector.join == "slip" and collector.slip < shortest:
        raise MergeError("its tubes go in by", collector.slip, "its mitres require at least", shortest)
    mitre = 0.0 if collector.join == "slip" else shortest
    return Merge(
        count=len(collector.bores),
        half_angle=half,
        ring=ring,
        turn=turn,
        outer=outer,
        inner=inner,
        mouth=-collector.slip,
        mitre=mitre,
        cut=mitre,
        cut_ring=ring,
        cone_end=mitre,
        end=mitre + collector.outlet_length,
        outlet_outer=narrow,
        outlet_inner=narrow - wall,
        taper_to=None if collector.outlet_to is None else collector.outlet_to / 2,
    )


def _cut_at(uncut: Merge, cut_ring: float) -> Merge:
    """The merge cut where the centres of the tubes are `cut_ring` from the axis, with the cone that follows."""
    half, narrow, length = uncut.half_angle, uncut.outlet_outer, uncut.end - uncut.cone_end
    cut = uncut.mitre + (uncut.ring - cut_ring) / math.tan(half)
    crest, dip = cut_ring + uncut.outer / math.cos(half), valley(cut_ring, uncut.outer, half, uncut.sector)
    steep = max(half, STEEPEST)
    cone = max((crest - narrow) / math.tan(half), (narrow - dip) / math.tan(steep), LEAST_CONE)
    return replace(uncut, cut=cut, cut_ring=cut_ring, cone_end=cut + cone, end=cut + cone + length)


def _least_area(merge: Merge) -> float:
    return min(flow_area(merge, at) for at in np.linspace(merge.cut, merge.cone_end, STATIONS).tolist())


def _closed(uncut: Merge) -> float:
    return CLOSED * uncut.inner / math.cos(uncut.half_angle)


def _apart(uncut: Merge) -> float:
    """The largest distance from the axis at which neighbouring tubes certainly meet."""
    return min(CLOSED * uncut.inner / math.sin(uncut.sector), uncut.ring)


def _earliest_cut(uncut: Merge, spiked: bool) -> float:
    """With a spike, the tubes may be cut before they close the middle; two bores have no open middle."""
    return _apart(uncut) if spiked and uncut.count > 2 else _closed(uncut)


def _first_cut(uncut: Merge) -> float:
    """The first guess, in cut_ring.

    The tubes must meet in the middle, while the flow area is at least MORE_AREA and the crests of the lobes are outside
    the outlet. The guess is the middle of that range. Where a wide outlet does not allow a closed middle, it is as far
    in as its width allows.
    """
    half, bore = uncut.half_angle, uncut.outlet_inner
    least = max(uncut.outlet_outer + FREE_CREST * uncut.outer - uncut.outer / math.cos(half), 0.0)
    closed, apart = _closed(uncut), _apart(uncut)

    def is_enough(at: float) -> bool:
        return uncut.count * lobe_area(at, uncut.inner, half, uncut.sector) >= MORE_AREA * math.pi * bore**2

    if least > apart:
        widest = 2 * (apart - FREE_CREST * uncut.outer + uncut.outer / math.cos(half))
        raise MergeError("its outlet is as wide as", 2 * uncut.outlet_outer, "its bores suit at most", widest)
    if least > closed:
        return _least_enough(least, apart, is_enough)
    return (_least_enough(least, closed, is_enough) + closed) / 2


def _least_enough(low: float, high: float, is_enough: Callable[[float], bool]) -> float:
    """The smallest value from `low` to `high` that is enough; `high` if none is."""
    if is_enough(low):
        return low
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (low, middle) if is_enough(middle) else (middle, high)
    return high


def _ring_of(collector: Collector) -> tuple[float, float, float]:
    """Radius of the ring of bores, the angle of the first bore from x, and how far a bore is off an even place."""
    axes = axes_matrix(collector.frame)
    places = [axes @ subtract(bore.frame.origin, collector.frame.origin) for bore in collector.bores]
    count = len(places)
    radius, turn = math.hypot(places[0][0], places[0][1]), math.atan2(places[0][1], places[0][0])
    off = math.inf
    for way in (1, -1):  # counted from x toward y, or the other way on a mirrored bank
        angles = [turn + way * 2 * math.pi * k / count for k in range(count)]
        ring = [(radius * math.cos(angle), radius * math.sin(angle)) for angle in angles]
        off = min(off, max(math.dist(place[:2], required) for place, required in zip(places, ring, strict=True)))
    return radius, turn, off
