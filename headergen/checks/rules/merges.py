"""A merge can be made, is closed in its middle, and is narrowest at its outlet."""

from __future__ import annotations

import math
from collections.abc import Iterator

from headergen.checks.words import say_length, shown_length
from headergen.finding import Finding, Level
from headergen.geometry.flow import flow_areas, smallest
from headergen.geometry.lobes import MergeError
from headergen.geometry.merging import has_merge, merge_of
from headergen.model import Collector, Draft, Header

SAME_BORE = 0.05  # mm of bore by which a place counts as narrower than the outlet


def merges(header: Header) -> Iterator[Finding]:
    for collector in header.draft.collectors:
        if has_merge(collector):
            yield from _merge(header.draft, collector)


def _merge(draft: Draft, collector: Collector) -> Iterator[Finding]:
    units = draft.units
    try:
        merge = merge_of(draft.tube, collector)
    except MergeError as no:
        what = f"cannot be made: {no.what} {say_length(no.value, units)}; {no.bound} {say_length(no.limit, units)}"
        yield _finding(draft, collector, rule="merge-possible", said=("error", no.value, no.limit, what))
        return
    if not merge.is_closed and not collector.spike:
        reach = (merge.outer + merge.inner) / 2 / math.cos(merge.half_angle)
        off, meet = say_length(merge.cut_ring, units), say_length(reach, units)
        what = (
            f"is open in the middle: its tubes are cut where they are {off} off its axis, and they meet at {meet}; "
            "ask for a spike, or a smaller outlet"
        )
        yield _finding(draft, collector, rule="merge-middle", said=("error", merge.cut_ring, reach, what))
    least = smallest(flow_areas(merge))
    bore, outlet = 2 * math.sqrt(least.area / math.pi), 2 * merge.outlet_inner
    if bore < outlet - SAME_BORE:
        what = (
            f"is narrowest {say_length(least.at, units)} after its plane, not at its outlet: there its area is that of "
            f"a bore of {say_length(bore, units)}; the outlet has {say_length(outlet, units)}"
        )
        yield _finding(draft, collector, rule="merge-throat", said=("warning", bore, outlet, what))


def _finding(draft: Draft, collector: Collector, rule: str, said: tuple[Level, float, float, str]) -> Finding:
    level, value, limit, what = said
    return Finding(
        rule=rule,
        level=level,
        where=f"collector {collector.name}",
        value=shown_length(value, draft.units),
        limit=shown_length(limit, draft.units),
        unit=draft.units,
        message=f"The collector {collector.name} {what}.",
        point=collector.frame.origin,
    )
