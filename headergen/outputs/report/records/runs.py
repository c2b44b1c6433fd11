"""Runs in the report: their steps, lengths, ends and smallest gaps."""

from __future__ import annotations

import math
from typing import Annotated, Literal

from pydantic import Field

from headergen.geometry.curves.stepped import GrowthPlace, growth_places
from headergen.model import End, Outlet, Result, Run, Step, Straight
from headergen.outputs.report.facts import bends, run_mass, smallest_gap, target
from headergen.outputs.report.records.base import (
    Count,
    Degrees,
    Mm,
    Ordinal,
    Point,
    PositiveGrams,
    PositiveMm,
    Record,
)


class StraightRecord(Record):
    """A straight of a path."""

    step: Ordinal
    kind: Literal["straight"] = Field(description="of step")
    length_mm: Mm = Field(description="its length")


class BendRecord(Record):
    """A bend of a path."""

    step: Ordinal
    kind: Literal["bend"] = Field(description="of step")
    length_mm: Mm = Field(description="along the centreline")
    angle_deg: Degrees = Field(description="bend angle")
    radius_mm: PositiveMm = Field(description="centre-line radius")
    rotation_deg: Degrees = Field(
        description="turn of the bend plane about the incoming travel direction, right-hand positive"
    )


class GrowthRecord(Record):
    """Where the tube grows within a path."""

    step: Ordinal
    kind: Literal["step"] = Field(description="of step")
    by: Literal["slip", "cone"] = Field(
        description="slip: the larger tube is pushed over the smaller; cone: a cone is welded between them"
    )
    length_mm: Mm = Field(description="along the centreline: of the overlap, or of the cone")
    outside_diameter_mm: PositiveMm = Field(description="of the tube from here on")
    wall_mm: PositiveMm = Field(description="of the tube from here on")
    from_start_mm: Mm = Field(
        description="centreline length from the start of the run to where the bore grows: the end of the inner tube, "
        "or the start of the cone"
    )


StepRecord = Annotated[StraightRecord | BendRecord | GrowthRecord, Field(discriminator="kind")]


class EndRecord(Record):
    """How a run meets its bore."""

    along_mm: Mm = Field(description="miss along the bore's axis; positive: past the collector plane")
    across_mm: Mm = Field(description="miss across the bore's axis")
    angle_deg: Degrees = Field(description="angle between tube and bore")
    point_mm: Point


class RunRecord(Record):
    """A tube that goes from somewhere to somewhere: a primary from a port to a bore, a secondary from the outlet of one
    collector to a bore of another."""

    name: str = Field(description="as findings and parts call it")
    role: Literal["primary", "secondary"] = Field(
        description="primary: from a port; secondary: from a collector's outlet"
    )
    number: Ordinal | None = Field(description="a primary's, which is its port's")
    from_collector: str | None = Field(description="whose outlet a secondary comes from")
    leaves: str | None = Field(description="the run whose side it begins on")
    joins: str | None = Field(description="the run whose side it ends on")
    outside_diameter_mm: PositiveMm = Field(description="outside diameter, at its start")
    wall_mm: PositiveMm = Field(description="nominal wall, at its start")
    collector: str = Field(description="name of the collector it ends in")
    bore: Ordinal = Field(description="its number in that collector")
    ends_run: bool = Field(description="it ends in a place of its own, and `collector` is the name of that run")
    locked: bool = Field(description="its steps are not to be changed")
    steps: tuple[StepRecord, ...] = Field(description="the path from its start")
    bends: Count = Field(description="how many")
    bends_total_deg: Degrees = Field(description="sum of the bend angles")
    developed_length_mm: Mm = Field(description="centreline length, port face to collector plane")
    target_length_mm: PositiveMm | None = Field(description="length required; null when none is")
    length_difference_mm: Mm | None = Field(description="centreline length less target")
    mass_g: PositiveGrams | None = Field(description="at nominal wall; null when the material is not known")
    smallest_gap_to_chassis_mm: Mm | None = Field(description="negative: depth; null when none was measured")
    smallest_gap_to_tubes_mm: Mm | None = Field(description="negative: depth; null when none was measured")
    end: EndRecord = Field(description="how it meets the bore")

    @property
    def short_name(self) -> str:
        """Its name in a column of runs: a primary's number, else its name."""
        return self.name if self.number is None else str(self.number)

    @property
    def growths(self) -> tuple[GrowthRecord, ...]:
        """Where its tube grows."""
        return tuple(step for step in self.steps if step.kind == "step")

    @property
    def starts_at(self) -> str:
        """Where its lengths count from."""
        return "the port" if self.role == "primary" else "its joint" if self.leaves else "the outlet"

    def arrives(self, form: str) -> str:
        """Collector and bore in this form; "its place" if it ends in a place of its own."""
        return "its place" if self.ends_run else form.format(self.collector, self.bore)


def run_record(result: Result, run: Run, length: float, end: End) -> RunRecord:
    required = target(result.header, run)
    count, turned = bends(run)
    leaves = run.start.side.run if isinstance(run.start, Outlet) and run.start.side is not None else None
    to_chassis, to_tubes = (smallest_gap(result, run.name, tubes) for tubes in (False, True))
    return RunRecord(
        name=run.name,
        role=run.role,
        number=run.number if run.is_primary else None,
        from_collector=None if leaves else run.source or None,
        leaves=leaves,
        joins=None if run.end.side is None else run.end.side.run,
        outside_diameter_mm=run.tube.outside_diameter,
        wall_mm=run.tube.wall,
        collector=run.end.collector,
        bore=run.end.number,
        ends_run=run.end.ends_run,
        locked=run.locked,
        steps=_steps(run),
        bends=count,
        bends_total_deg=math.degrees(turned),
        developed_length_mm=length,
        target_length_mm=required,
        length_difference_mm=None if required is None else length - required,
        mass_g=run_mass(run, length),
        smallest_gap_to_chassis_mm=None if to_chassis is None else to_chassis.value,
        smallest_gap_to_tubes_mm=None if to_tubes is None else to_tubes.value,
        end=_end(end),
    )


def _steps(run: Run) -> tuple[StraightRecord | BendRecord | GrowthRecord, ...]:
    grown = {place.step: _growth(place) for place in growth_places(run)}
    return tuple(grown.get(number) or _step(number, step) for number, step in enumerate(run.steps, 1))


def _growth(place: GrowthPlace) -> GrowthRecord:
    return GrowthRecord(
        step=place.step,
        kind="step",
        by=place.by,
        length_mm=place.end - place.start,
        outside_diameter_mm=place.after.outside_diameter,
        wall_mm=place.after.wall,
        from_start_mm=place.bore_grows,
    )


def _step(number: int, step: Step) -> StraightRecord | BendRecord:
    if isinstance(step, Straight):
        return StraightRecord(step=number, kind="straight", length_mm=step.length)
    return BendRecord(
        step=number,
        kind="bend",
        length_mm=step.radius * step.angle,
        angle_deg=math.degrees(step.angle),
        radius_mm=step.radius,
        rotation_deg=math.degrees(step.rotation),
    )


def _end(end: End) -> EndRecord:
    return EndRecord(along_mm=end.along, across_mm=end.across, angle_deg=math.degrees(end.angle), point_mm=end.point)
