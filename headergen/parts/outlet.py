"""The tubes in which collectors end, and the places where the header ends with them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from headergen.geometry.frames import point_in
from headergen.geometry.merge.design import AnyMerge, possible_merge
from headergen.model import Collector, Draft, Frame, Tube


def outlet_tubes(draft: Draft) -> Iterator[tuple[Collector, Tube, Frame]]:
    """The outlet of each collector that has a merge, and the end of each run: its tube, and the frame at its end.

    The frames' z is along the gas. A run that ends on the side of another one is no outlet.
    """
    for collector in draft.collectors:
        if collector.mouth == "side":
            continue
        if collector.mouth:
            yield collector, collector.arriving or draft.tube, collector.frame
            continue
        merge = possible_merge(draft.tube, collector)
        if merge is not None:
            yield collector, outlet_tube(merge, draft.tube.material), end_frame(collector, merge)


def outlet_tube(merge: AnyMerge, material: str) -> Tube:
    """The tube at the end of an outlet."""
    return Tube(2 * merge.end_outer, merge.end_outer - merge.end_inner, material)


def outlet_slope(merge: AnyMerge) -> float:
    """By how much an outlet's radius grows along the gas, per mm; 0 if it does not taper."""
    if merge.taper_to is None:
        return 0.0
    return (merge.end_outer - merge.outlet_outer) / (merge.end - merge.cone_end)


def end_frame(collector: Collector, merge: AnyMerge) -> Frame:
    """At the end of the outlet, z along the gas."""
    return replace(collector.frame, origin=point_in(collector.frame, (0.0, 0.0, merge.end)))
