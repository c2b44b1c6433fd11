"""Bosses in the report: the place of each, and its drill and thread."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from pydantic import Field

from headergen.model import Boss, Draft
from headergen.outputs.report.records.base import Degrees, Mm, PositiveMm, Record
from headergen.outputs.report.said import degrees
from headergen.outputs.report.sections import Section, Table
from headergen.words.numbers import both


class BossRecord(Record):
    """A round boss on a run or on the outlet of a collector."""

    name: str = Field(description="as the spec calls it")
    run: str | None = Field(description="on this run")
    collector: str | None = Field(description="on the outlet of this collector")
    at_mm: Mm = Field(description="along the gas from the flange face, or from where outlet or secondary begins")
    clock_deg: Degrees = Field(
        description="turned from up, or from forward on an upright tube, right-handed about the gas"
    )
    outside_diameter_mm: PositiveMm = Field(description="of the boss")
    height_mm: PositiveMm = Field(description="over the tube's skin")
    hole_mm: PositiveMm = Field(description="as drilled")
    thread: str | None = Field(description="that the hole is tapped to")
    for_sensor: bool = Field(description="checked as an oxygen sensor's")


def boss_records(draft: Draft) -> tuple[BossRecord, ...]:
    return tuple(_record(boss) for boss in draft.bosses)


def _record(boss: Boss) -> BossRecord:
    return BossRecord(
        name=boss.name,
        run=None if boss.on_outlet else boss.host,
        collector=boss.host if boss.on_outlet else None,
        at_mm=boss.at,
        clock_deg=math.degrees(boss.clock),
        outside_diameter_mm=boss.outside_diameter,
        height_mm=boss.height,
        hole_mm=boss.hole,
        thread=boss.thread or None,
        for_sensor=boss.sensor,
    )


def bosses_section(bosses: Sequence[BossRecord], units: str) -> Iterator[Section]:
    rows = []
    for each in bosses:
        host = f"outlet of {each.collector}" if each.run is None else each.run
        size = f"{both(units, each.outside_diameter_mm)} × {both(units, each.height_mm)}"
        place = (both(units, each.at_mm), degrees(each.clock_deg))
        rows.append((each.name, host, *place, size, both(units, each.hole_mm, 2), each.thread or "none"))
    if rows:
        heads = ("Boss", "On", "At", "Clock", "Outside, over the skin", "Drill", "Tap")
        yield Section("Bosses", (Table(heads, rows),))
