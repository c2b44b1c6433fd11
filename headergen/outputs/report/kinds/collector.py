"""Collectors in the report: what goes in, the flow area along the axis, and where the tubes are cut."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import Literal

from pydantic import Field

from headergen.geometry.merge.design import AnyMerge, has_merge, possible_merge
from headergen.geometry.merge.divided import half_areas, half_of_round, why_undivided
from headergen.geometry.merge.flow import FlowArea, flow_areas, smallest
from headergen.geometry.merge.measures import Merge, cut_line
from headergen.geometry.merge.uneven import UnevenMerge, uneven_cut_line
from headergen.geometry.plate.outline import area as outline_area
from headergen.geometry.plate.outline import port_outline
from headergen.model import Collector, Draft, OutletPlate, Tube
from headergen.outputs.report.records.base import Degrees, Mm, PositiveDegrees, PositiveMm, PositiveMm2, Record
from headergen.outputs.report.said import degrees
from headergen.outputs.report.sections import Block, Section, Table
from headergen.parts.outlet_plate import openings_of, wall_turn
from headergen.words.numbers import area, both


class FlowAreaRecord(Record):
    """A section of the gas."""

    at_mm: Mm = Field(description="downstream of the collector plane")
    area_mm2: PositiveMm2 = Field(description="square to the axis")


class SmallestAreaRecord(FlowAreaRecord):
    """The smallest section of the gas; of equal ones the last."""

    to_one_bore: float = Field(gt=0, description="as a multiple of that one bore")
    to_all_bores: float = Field(gt=0, description="as a share of all bores together")


class CutRecord(Record):
    """The ends of a collector tube, at one place round it."""

    around_deg: Degrees = Field(description="round the collector tube, from the side farthest off the axis")
    mitre_mm: Mm = Field(description="mitre of the leaning tube, along it from the middle of the mitre")
    end_mm: Mm = Field(description="its other end, counted the same way")


class CollectorTubeRecord(Record):
    """One collector tube, where they are not alike."""

    bore: int = Field(description="its bore")
    inside_mm: PositiveMm = Field(description="its inside diameter")
    lean_deg: Degrees = Field(description="between the tube past its turn and the axis")
    turn_deg: Degrees = Field(description="by which it turns; 0: it arrives leaning, or goes straight on")
    cut_line: tuple[CutRecord, ...] = Field(description="its cuts on its outside, for a wrap template")


class MergeRecord(Record):
    """How the tubes of a collector become one."""

    half_angle_deg: PositiveDegrees = Field(description="between a collector tube and the axis")
    mitre_mm: Mm = Field(
        description="where the middles of the collector tubes turn inward, downstream of the collector plane"
    )
    cut_mm: Mm = Field(description="where the collector tubes end and the cone begins")
    outlet_from_mm: Mm = Field(description="where the outlet begins")
    outlet_to_mm: Mm = Field(description="where it ends")
    closed_in_the_middle: bool = Field(
        description="the collector tubes meet before they are cut; else the spike closes the middle"
    )
    one_bore_mm2: PositiveMm2 = Field(description="of one tube that goes in")
    smallest: SmallestAreaRecord = Field(description="the smallest section of the gas")
    areas: tuple[FlowAreaRecord, ...] = Field(description="sections of the gas from the collector plane to the outlet")
    cut_line: tuple[CutRecord, ...] = Field(
        description="cuts of one collector tube on its outside, for a wrap template; empty where each has its own"
    )
    tubes: tuple[CollectorTubeRecord, ...] = Field(
        description="each collector tube, where they are not alike; else empty"
    )

    @property
    def is_narrowest_in_outlet(self) -> bool:
        return self.smallest.at_mm >= self.outlet_from_mm - 1e-6


class DividedRecord(Record):
    """The halves of the gas beside the wall of a divided outlet; areas are those of each half."""

    wall_mm: PositiveMm = Field(description="thickness of the wall")
    from_mm: Mm = Field(description="where the wall begins, downstream of the collector plane")
    opening_mm2: PositiveMm2 = Field(description="in the plate")
    outlet_mm2: PositiveMm2 = Field(description="at the end of the outlet")
    smallest: FlowAreaRecord = Field(description="the smallest from where the wall begins to the end of the outlet")
    to_its_bores: float = Field(gt=0, description="the smallest as a share of half of all bores together")
    not_in_the_merge: str = Field(description="why the wall goes through the transition only; empty if it goes on")


class CollectorRecord(Record):
    """What several tubes go into."""

    name: str = Field(description="as the spec calls it")
    join: Literal["slip", "weld"] = Field(description="how its tubes are joined to it")
    runs: tuple[str, ...] = Field(description="in bore 1, 2, 3, …")
    merge: MergeRecord | None = Field(description="null where none is made")
    divided: DividedRecord | None = Field(description="null where no wall divides its outlet, or no merge is made")
    has_merge: bool = Field(exclude=True, description="the spec asks for a merge; said on paper alone")
    spike: bool = Field(exclude=True, description="a spike fills its middle; said on paper alone")


def collector_records(draft: Draft) -> tuple[CollectorRecord, ...]:
    return tuple(_record(collector, draft.tube) for collector in draft.collectors if not collector.mouth)


def _record(collector: Collector, tube: Tube) -> CollectorRecord:
    merge = possible_merge(tube, collector)
    return CollectorRecord(
        name=collector.name,
        join=collector.join,
        runs=tuple(bore.run for bore in collector.bores),
        merge=None if merge is None else _merge(merge, collector, tube),
        divided=None if merge is None else _divided(merge, collector, tube),
        has_merge=has_merge(collector),
        spike=collector.spike,
    )


def _divided(merge: AnyMerge, collector: Collector, tube: Tube) -> DividedRecord | None:
    plate = collector.end
    if not isinstance(plate, OutletPlate) or not plate.divider or not plate.transition:
        return None
    why = why_undivided(merge, wall_turn(plate))
    outlet = FlowArea(merge.end, half_of_round(merge.end_inner, plate.divider))
    areas = half_areas(merge, plate.divider) if isinstance(merge, Merge) and not why else (outlet,)
    least, (_, opening) = smallest(areas), openings_of(plate)[0]
    arriving = (bore.tube or collector.arriving or tube for bore in collector.bores)
    bores = math.fsum(math.pi * (each.radius - each.wall) ** 2 for each in arriving)
    return DividedRecord(
        wall_mm=plate.divider,
        from_mm=areas[0].at,
        opening_mm2=outline_area(port_outline(opening)),
        outlet_mm2=outlet.area,
        smallest=_area(least),
        to_its_bores=2 * least.area / bores,
        not_in_the_merge=why,
    )


def _merge(merge: AnyMerge, collector: Collector, tube: Tube) -> MergeRecord:
    """`tube`: that of the primaries. Of bores of two sizes, the largest counts as one bore."""
    arriving = (bore.tube or collector.arriving or tube for bore in collector.bores)
    bores = [math.pi * (each.radius - each.wall) ** 2 for each in arriving]
    areas, one_bore = flow_areas(merge), max(bores)
    least = smallest(areas)
    to_one, to_all = least.area / one_bore, least.area / math.fsum(bores)
    return MergeRecord(
        half_angle_deg=math.degrees(merge.half_angle),
        mitre_mm=merge.mitre,
        cut_mm=merge.cut,
        outlet_from_mm=merge.cone_end,
        outlet_to_mm=merge.end,
        closed_in_the_middle=merge.is_closed,
        one_bore_mm2=one_bore,
        smallest=SmallestAreaRecord(at_mm=least.at, area_mm2=least.area, to_one_bore=to_one, to_all_bores=to_all),
        areas=tuple(_area(each) for each in areas),
        cut_line=() if isinstance(merge, UnevenMerge) else _cuts(cut_line(merge)),
        tubes=tuple(_tubes(merge, collector)) if isinstance(merge, UnevenMerge) else (),
    )


def _cuts(line: Iterable[tuple[float, float, float]]) -> tuple[CutRecord, ...]:
    return tuple(CutRecord(around_deg=math.degrees(around), mitre_mm=mitre, end_mm=end) for around, mitre, end in line)


def _tubes(merge: UnevenMerge, collector: Collector) -> Iterator[CollectorTubeRecord]:
    for number, (bore, tube) in enumerate(zip(collector.bores, merge.tubes, strict=True)):
        yield CollectorTubeRecord(
            bore=bore.number,
            inside_mm=2 * tube.inner,
            lean_deg=math.degrees(tube.lean),
            turn_deg=math.degrees(tube.turn),
            cut_line=_cuts(uneven_cut_line(merge, number)),
        )


def _area(section: FlowArea) -> FlowAreaRecord:
    return FlowAreaRecord(at_mm=section.at, area_mm2=section.area)


def merges(collectors: Sequence[CollectorRecord]) -> Iterator[tuple[CollectorRecord, MergeRecord]]:
    """Each collector that has a merge, with it."""
    return ((each, each.merge) for each in collectors if each.merge is not None)


def without_merge(collectors: Sequence[CollectorRecord]) -> list[str]:
    """A sentence for each collector of several tubes that has no merge."""
    return [
        f"Collector {each.name}: no merge is made. Its keys half_angle and outlet make one."
        for each in collectors
        if len(each.runs) > 1 and not each.has_merge
    ]


def collectors_section(collectors: Sequence[CollectorRecord], units: str) -> Iterator[Section]:
    merged, bare = list(merges(collectors)), without_merge(collectors)
    if merged or bare:
        yield Section("Collectors", (*bare, *(_merges(merged, units) if merged else ())))


def _merges(merged: Sequence[tuple[CollectorRecord, MergeRecord]], units: str) -> Iterator[Block]:
    rows = []
    for collector, merge in merged:
        least = merge.smallest
        where = "in the outlet" if merge.is_narrowest_in_outlet else f"{both(units, least.at_mm)} after the plane"
        rows.append(
            (
                collector.name,
                f"{len(collector.runs)}, {degrees(merge.half_angle_deg)}",
                both(units, merge.cut_mm),
                both(units, merge.outlet_from_mm),
                f"{area(units, least.area_mm2)}, {where}",
                f"{least.to_one_bore:.2f}",
                f"{least.to_all_bores:.2f}",
            )
        )
    heads = ("Collector", "Bores, half angle", "Tubes cut at", "Outlet from", "Smallest flow area")
    yield Table((*heads, "Area ÷ one inlet", "Area ÷ all inlets"), rows)
    yield "Lengths count from the collector plane. Flow areas are sections square to the collector's axis:"
    for collector, merge in merged:
        yield f"Collector {collector.name}: {_stations(merge, units)}."
        if collector.divided is not None:
            yield _said_of_halves(collector.name, collector.divided, units)
        if collector.join == "weld" and len(collector.runs) > 2:
            yield f"Collector {collector.name} is welded on. {_welded_order(collector)}"


def _said_of_halves(name: str, divided: DividedRecord, units: str) -> str:
    wall, begins = both(units, divided.wall_mm), both(units, divided.from_mm)
    if divided.not_in_the_merge:
        how = f"goes through the transition only, since {divided.not_in_the_merge}: the gas mixes before it"
    else:
        how = f"goes on through the outlet to {begins} after the plane, where the tubes part: the halves never meet"
    least = divided.smallest
    return (
        f"The wall of {wall} at the end of collector {name} {how}. Flow area of each half: "
        f"{area(units, divided.opening_mm2)} in the plate, {area(units, divided.outlet_mm2)} at the end of the outlet; "
        f"smallest {area(units, least.area_mm2)} at {both(units, least.at_mm, 0)}, {divided.to_its_bores:.2f} times "
        "that of its inlets."
    )


def _welded_order(collector: CollectorRecord) -> str:
    """No torch reaches the middle between the tubes once the collector is on."""
    closer = "its spike, which belongs to the tubes," if collector.spike else "a piece of plate cut to fit"
    return (
        "Before it goes on, tack the tubes in their bundle and close the middle between them from their open ends with "
        f"{closer} welded to every tube all round; then put the collector on and weld round the outside."
    )


def _stations(merge: MergeRecord, units: str) -> str:
    shown = [each for k, each in enumerate(merge.areas) if k % 6 == 0 or each is merge.areas[-1]]
    return ", ".join(f"{area(units, each.area_mm2)} at {both(units, each.at_mm, 0)}" for each in shown)
