"""A merge can be made, is closed in its middle, and is narrowest at its outlet."""

from __future__ import annotations

import math
from collections.abc import Iterator

from headergen.checks.part_findings import length_finding
from headergen.geometry.frames import cross, norm, subtract, unit
from headergen.geometry.merge.design import UnevenError, has_merge, merge_of
from headergen.geometry.merge.flow import flow_areas, smallest
from headergen.geometry.merge.lobes import MergeError
from headergen.geometry.merge.measures import LEAST_SPIKE, has_spike_room, middle_closed
from headergen.model import Collector, Draft, Header
from headergen.model.finding import Finding
from headergen.words.say import say_length

SAME_BORE = 0.05  # mm of bore below which a place does not count as narrower than the outlet


def merges(header: Header) -> Iterator[Finding]:
    for collector in header.draft.collectors:
        if has_merge(collector):
            yield from _merge(header.draft, collector)


def _merge(draft: Draft, collector: Collector) -> Iterator[Finding]:
    units, name, point = draft.units, f"collector {collector.name}", collector.frame.origin
    try:
        merge = merge_of(draft.tube, collector)
    except UnevenError as no:
        found = no.value, no.limit, _uneven(collector, no, units)
        yield length_finding(draft, name, found, point, rule="merge-possible")
        return
    except MergeError as no:
        what = f"cannot be made: {no.what} {say_length(no.value, units)}; {no.bound} {say_length(no.limit, units)}"
        yield length_finding(draft, name, (no.value, no.limit, what), point, rule="merge-possible")
        return
    if not merge.is_closed and not collector.spike:
        reach = (merge.outer + merge.inner) / 2 / math.cos(merge.half_angle)
        off, meet = say_length(merge.cut_ring, units), say_length(reach, units)
        what = (
            f"is open in the middle: its tubes are cut where they are {off} off its axis, and they would meet at {meet}"
        )
        yield length_finding(draft, name, (merge.cut_ring, reach, what), point, rule="merge-middle")
    if collector.spike and not has_spike_room(merge):
        open_for = max(middle_closed(merge) - merge.mitre, 0.0)
        what = (
            f"has no room for its spike: its tubes close the middle {say_length(open_for, units)} after their mitre, "
            f"and at least {say_length(LEAST_SPIKE, units)} is required"
        )
        yield length_finding(draft, name, (open_for, LEAST_SPIKE, what), point, rule="merge-spike")
    least = smallest(flow_areas(merge))
    bore, outlet = 2 * math.sqrt(least.area / math.pi), 2 * merge.outlet_inner
    if bore < outlet - SAME_BORE:
        what = (
            f"is narrowest {say_length(least.at, units)} after its plane, not at its outlet: its area there is that of "
            f"a bore of {say_length(bore, units)}; the outlet has {say_length(outlet, units)}"
        )
        yield length_finding(draft, name, (bore, outlet, what), point, rule="merge-throat", level="warning")
    arriving = collector.arriving or draft.tube
    entering = arriving.outside_diameter - 2 * arriving.wall
    if outlet < entering - SAME_BORE:
        what = (
            f"has an outlet of {say_length(outlet, units)} inside for all its tubes, less than the "
            f"{say_length(entering, units)} of a single tube; check the unit of its outlet"
        )
        yield length_finding(draft, name, (outlet, entering, what), point, rule="merge-outlet", level="warning")


def _uneven(collector: Collector, no: MergeError, units: str) -> str:
    """What can be made of bores in a line or unevenly spaced: no merge as they are, but something similar."""
    count, where = len(collector.bores), "in a line" if _are_in_line(collector) else "at unequal places"
    pattern = "square or ring" if count == 4 else "ring"
    ways = [f"pattern {pattern}, with bores evenly round the axis"]
    if count > 3:
        pairs = "two collectors" if count == 4 else "collectors"
        ways.append(f"{pairs} of two or three bores each, whose outlets go into another collector")
    ways.append("the bores alone as they stand, with half angle and outlet left out")
    return (
        f"has {count} bores {where}, so no merge is made: one is {say_length(no.value, units)} off an even place "
        f"round the axis ({say_length(no.limit, units)} allowed). What can be made: {'; or '.join(ways)}"
    )


def _are_in_line(collector: Collector) -> bool:
    places = [bore.frame.origin for bore in collector.bores]
    along = max((subtract(place, places[0]) for place in places), key=norm)
    return all(norm(cross(subtract(place, places[0]), unit(along))) < SAME_BORE for place in places)
