"""A merge can be made, is closed in its middle, and is narrowest at its outlet."""

from __future__ import annotations

import math
from collections.abc import Iterator

from headergen.checks.part_findings import length_finding
from headergen.geometry.merge.design import AnyMerge, has_merge, is_even, merge_of
from headergen.geometry.merge.flow import flow_areas, smallest
from headergen.geometry.merge.lobes import MergeError
from headergen.geometry.merge.measures import LEAST_SPIKE, Merge, middle_closed
from headergen.geometry.merge.uneven import middle_opening, most_openings
from headergen.model import Collector, Draft, Header
from headergen.model.finding import Finding
from headergen.parts.collector import spike_has_room
from headergen.words.say import say_length

POSSIBLE = (
    "What can be made: bores beside each other without overlap, with the collector's axis among them; or a ring of "
    "them evenly round it; or collectors of fewer bores, whose outlets go into another collector"
)
SAME_BORE = 0.05  # mm of bore below which a place does not count as narrower than the outlet


def merges(header: Header) -> Iterator[Finding]:
    for collector in header.draft.collectors:
        if has_merge(collector):
            yield from _merge(header.draft, collector)


def _merge(draft: Draft, collector: Collector) -> Iterator[Finding]:
    units, name, point = draft.units, f"collector {collector.name}", collector.frame.origin
    try:
        merge = merge_of(draft.tube, collector)
    except MergeError as no:
        what = f"cannot be made: {no.what} {say_length(no.value, units)}; {no.bound} {say_length(no.limit, units)}"
        what += "" if is_even(collector) else f". {POSSIBLE}"
        yield length_finding(draft, name, (no.value, no.limit, what), point, rule="merge-possible")
        return
    if isinstance(merge, Merge) and not merge.is_closed and not collector.spike:
        reach = (merge.outer + merge.inner) / 2 / math.cos(merge.half_angle)
        off, meet = say_length(merge.cut_ring, units), say_length(reach, units)
        what = (
            f"is open in the middle: its tubes are cut where they are {off} off its axis, and they would meet at {meet}"
        )
        yield length_finding(draft, name, (merge.cut_ring, reach, what), point, rule="merge-middle")
    if collector.spike and not spike_has_room(merge):
        open_for, what = _no_room(merge, units)
        yield length_finding(draft, name, (open_for, LEAST_SPIKE, what), point, rule="merge-spike")
    least = smallest(flow_areas(merge))
    bore, outlet = 2 * math.sqrt(least.area / math.pi), 2 * min(merge.outlet_inner, merge.end_inner)
    if bore < outlet - SAME_BORE:
        what = (
            f"is narrowest {say_length(least.at, units)} after its plane, not at its outlet: its area there is that of "
            f"a bore of {say_length(bore, units)}; the outlet has {say_length(outlet, units)}"
        )
        yield length_finding(draft, name, (bore, outlet, what), point, rule="merge-throat", level="warning")
    arriving = [bore.tube or collector.arriving or draft.tube for bore in collector.bores]
    entering = max(tube.outside_diameter - 2 * tube.wall for tube in arriving)
    if outlet < entering - SAME_BORE:
        what = (
            f"has an outlet of {say_length(outlet, units)} inside for all its tubes, less than the "
            f"{say_length(entering, units)} of a single tube; check the unit of its outlet"
        )
        yield length_finding(draft, name, (outlet, entering, what), point, rule="merge-outlet", level="warning")


def _no_room(merge: AnyMerge, units: str) -> tuple[float, str]:
    """For how long the opening between the tubes lasts past their mitre, and what is wrong with it."""
    if isinstance(merge, Merge):
        open_for = max(middle_closed(merge) - merge.mitre, 0.0)
    else:
        opening = middle_opening(merge)
        if opening is None:
            count = most_openings(merge) or "no"
            return (
                0.0,
                f"has no room for its spike: its tubes leave {count} openings between them, and a spike fills one",
            )
        open_for = max(opening.closed - merge.mitre, 0.0)
    return open_for, (
        f"has no room for its spike: its tubes close the middle {say_length(open_for, units)} after their mitre, "
        f"and at least {say_length(LEAST_SPIKE, units)} is required"
    )
