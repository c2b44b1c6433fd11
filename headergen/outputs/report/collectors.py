"""What a report says of each collector: its flow area along the axis, and where its tubes are cut."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from headergen.geometry.merge.design import has_merge, possible_merge
from headergen.geometry.merge.flow import FlowArea, flow_areas, smallest
from headergen.geometry.merge.measures import Merge
from headergen.model import Collector, Draft, Tube


@dataclass(frozen=True)
class MergeFlow:
    """The merge of a collector, its sections square to the axis, mm², and the bore of one tube that goes in."""

    merge: Merge
    areas: tuple[FlowArea, ...]
    one_bore: float

    @property
    def smallest(self) -> FlowArea:
        return smallest(self.areas)

    @property
    def to_one(self) -> float:
        """The smallest section as a multiple of that one bore."""
        return self.smallest.area / self.one_bore

    @property
    def to_all(self) -> float:
        """The smallest section as a share of all bores together."""
        return self.to_one / self.merge.count


def merge_flow(tube: Tube, collector: Collector) -> MergeFlow | None:
    """None where a collector has no merge, or none can be made."""
    merge = possible_merge(tube, collector)
    if merge is None:
        return None
    arrives = collector.arriving or tube
    return MergeFlow(merge, flow_areas(merge), math.pi * (arrives.radius - arrives.wall) ** 2)


def merge_flows(draft: Draft) -> Iterator[tuple[Collector, MergeFlow]]:
    for collector in draft.collectors:
        flow = merge_flow(draft.tube, collector)
        if flow is not None:
            yield collector, flow


def without_merge(draft: Draft) -> list[str]:
    """A sentence for each collector that several tubes go into and that no merge is made for."""
    return [
        f"Collector {collector.name}: no merge is made. Its keys half_angle and outlet make one."
        for collector in draft.collectors
        if len(collector.bores) > 1 and not has_merge(collector)
    ]
