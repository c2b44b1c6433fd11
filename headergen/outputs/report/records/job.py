"""The subject of the report: the spec, the job, its tube, its limits; and the findings, in short and in full."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from pydantic import Field

from headergen.model import Draft, Job, Limits, Source, Tube
from headergen.model.finding import LEVELS, Finding, Level, worst_level
from headergen.model.materials import material_called
from headergen.outputs.report.records.base import (
    Count,
    Degrees,
    Mm,
    Point,
    PositiveDensity,
    PositiveMm,
    Record,
    Sha256,
)


class ToolRecord(Record):
    """What made the report."""

    name: Literal["headergen"] = Field(description="its name")
    version: str = Field(description="its version")


class SpecRecord(Record):
    """The file that the header is written in."""

    file: str = Field(description="its name, without its folder")
    sha256: Sha256 = Field(description="hash of its bytes")
    mirror_of: str | None = Field(description="the spec of the first bank, relative to it; null where it mirrors none")


class JobRecord(Record):
    """What the header is for."""

    title: str = Field(description="name of the job")
    revision: str = Field(description="as the spec says")
    date: str = Field(description="ISO 8601")
    customer: str = Field(description="as the spec says; may be empty")
    notes: str = Field(description="as the spec says; may be empty")


class TubeRecord(Record):
    """The tube of the primaries."""

    outside_diameter_mm: PositiveMm = Field(description="outside diameter")
    wall_mm: PositiveMm = Field(description="nominal wall")
    material: str = Field(description="as the spec says")
    density_kg_m3: PositiveDensity | None = Field(description="null when the material is not known")
    density_source: str | None = Field(description="where that is from")


class LimitsRecord(Record):
    """What was allowed."""

    min_straight_mm: Mm = Field(description="shortest straight that can be made")
    end_position_mm: Mm = Field(description="how far an end may miss its bore")
    end_angle_deg: Degrees = Field(description="how far an end may lean against its bore")
    between_tubes_mm: Mm = Field(description="required gap between primaries")
    together_mm: Mm = Field(
        description="the length before the collector plane over which tubes of one collector may converge: there the "
        "required gap falls to what the bores leave"
    )
    chord_error_mm: Mm = Field(description="chordal deviation of the written meshes")
    length_tolerance_mm: Mm = Field(description="how far a centreline length may be off its target")
    nine_in_ten_mm: Mm | None = Field(description="gap to be left in nine of ten builds; null: not judged")


class VerdictRecord(Record):
    """Whether the header is clear, and of what that is said."""

    clear: bool = Field(description="there is no error finding")
    worst_level: Level | None = Field(description="null when nothing was found")
    of: str = Field(
        description="of what it is said: tubes and chassis, or tubes only where nothing around them was given"
    )


class CountsRecord(Record):
    """How many findings there are of each level."""

    error: Count = Field(description="how many")
    warning: Count = Field(description="how many")
    info: Count = Field(description="how many")


class FindingRecord(Record):
    """One thing that the check has to say; worst first."""

    rule: str = Field(description="short code of the rule that found it")
    level: Level = Field(description="an error keeps the header from being clear")
    where: str = Field(description="the primary or item")
    value: float | None = Field(description="what was found, in `unit`")
    limit: float | None = Field(description="what is allowed, in `unit`")
    unit: str = Field(description="of value and limit")
    message: str = Field(description="as it is said, lengths in the shop's unit")
    point_mm: Point | None = Field(description="where it is; null where it is nowhere in particular")


def spec_record(source: Source) -> SpecRecord:
    of = source.others[0][0] if ("mirror_of",) in source.marks else None  # it comes first
    return SpecRecord(file=Path(source.file).name, sha256=source.sha256, mirror_of=of)


def job_record(job: Job) -> JobRecord:
    return JobRecord(title=job.title, revision=job.revision, date=job.date, customer=job.customer, notes=job.notes)


def tube_record(tube: Tube) -> TubeRecord:
    known = material_called(tube.material)
    return TubeRecord(
        outside_diameter_mm=tube.outside_diameter,
        wall_mm=tube.wall,
        material=tube.material,
        density_kg_m3=None if known is None else known.density,
        density_source=None if known is None else known.source,
    )


def limits_record(limits: Limits, length_tolerance: float) -> LimitsRecord:
    return LimitsRecord(
        min_straight_mm=limits.min_straight,
        end_position_mm=limits.end_position,
        end_angle_deg=math.degrees(limits.end_angle),
        between_tubes_mm=limits.between_tubes,
        together_mm=limits.together,
        chord_error_mm=limits.chord_error,
        length_tolerance_mm=length_tolerance,
        nine_in_ten_mm=limits.nine_in_ten,
    )


def verdict_record(findings: Sequence[Finding], draft: Draft) -> VerdictRecord:
    level = worst_level(findings)
    of = "tubes and chassis" if draft.chassis else "tubes only"
    return VerdictRecord(clear=level != "error", worst_level=level, of=of)


def counts_record(findings: Sequence[Finding]) -> CountsRecord:
    levels = [finding.level for finding in findings]
    error, warning, info = (levels.count(level) for level in LEVELS)
    return CountsRecord(error=error, warning=warning, info=info)


def finding_record(finding: Finding) -> FindingRecord:
    return FindingRecord(
        rule=finding.rule,
        level=finding.level,
        where=finding.where,
        value=finding.value,
        limit=finding.limit,
        unit=finding.unit,
        message=finding.message,
        point_mm=finding.point,
    )
