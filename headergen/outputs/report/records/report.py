"""The whole report: every section of report.json, and the records made of a result."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from headergen.model import Result
from headergen.model.finding import sort_findings
from headergen.outputs.report.facts import weight
from headergen.outputs.report.kinds.boss import BossRecord, boss_records
from headergen.outputs.report.kinds.collector import CollectorRecord, collector_records
from headergen.outputs.report.kinds.fitted import FittedRecord, fitted_records
from headergen.outputs.report.kinds.made import PartRecord, WeightRecord, part_record, weight_record
from headergen.outputs.report.kinds.transition import TransitionRecord, transition_records
from headergen.outputs.report.records.base import Record, Units
from headergen.outputs.report.records.by_hand import ByHandRecord, by_hand_record
from headergen.outputs.report.records.chassis import ItemRecord, MeshRecord, item_record, mesh_record
from headergen.outputs.report.records.gaps import (
    GapRecord,
    OwnCrossingRecord,
    PartGapRecord,
    PlaceRecord,
    SecondOpinionRecord,
    gap_record,
    own_crossing_record,
    part_gap_record,
    second_opinion_record,
)
from headergen.outputs.report.records.help import HelpRecord, help_record
from headergen.outputs.report.records.job import (
    CountsRecord,
    FindingRecord,
    JobRecord,
    LimitsRecord,
    SpecRecord,
    ToolRecord,
    TubeRecord,
    VerdictRecord,
    counts_record,
    finding_record,
    job_record,
    limits_record,
    spec_record,
    tube_record,
    verdict_record,
)
from headergen.outputs.report.records.runs import RunRecord, run_record


class Report(Record):
    """What was measured and found of one header. Lengths in millimetres, angles in degrees."""

    format: Literal[3] = Field(description="raised when a key changes its name or meaning")
    tool: ToolRecord
    spec: SpecRecord
    job: JobRecord
    shop_units: Units = Field(description="in which messages say lengths; keys say their own unit")
    tube: TubeRecord
    limits: LimitsRecord
    verdict: VerdictRecord
    counts: CountsRecord
    findings: tuple[FindingRecord, ...]
    runs: tuple[RunRecord, ...] = Field(
        description="primaries, then tubes from one collector's outlet to another's bore"
    )
    chassis: tuple[ItemRecord, ...]
    gaps: tuple[GapRecord, ...]
    part_gaps: tuple[PartGapRecord, ...]
    made_part_gaps: tuple[PartGapRecord, ...] = Field(
        description="of made parts other than tubes, measured on their meshes"
    )
    helps: tuple[HelpRecord, ...] = Field(
        description="for each gap of tubes and simple envelopes that is too small, the worst first"
    )
    reach: tuple[PartGapRecord, ...] = Field(
        description="tools on bolts and plugs, and sensors, to what is nearest to each"
    )
    own_crossings: tuple[OwnCrossingRecord, ...]
    second_opinions: tuple[SecondOpinionRecord, ...]
    meshes: tuple[MeshRecord, ...]
    transitions: tuple[TransitionRecord, ...]
    collectors: tuple[CollectorRecord, ...]
    bosses: tuple[BossRecord, ...]
    fitted: tuple[FittedRecord, ...] = Field(description="parts that stand on runs, beside bosses")
    parts: tuple[PartRecord, ...]
    weight: WeightRecord | None = Field(description="null where no part was made, or a material is not known")
    by_hand: ByHandRecord | None = Field(description="null where the bench was not planned")

    def run(self, name: str) -> RunRecord:
        """The run with a name. Raises KeyError if there is none."""
        return {run.name: run for run in self.runs}[name]

    def step_word(self, place: PlaceRecord) -> str:
        """The step at a place, with its kind."""
        return f"step {place.step} ({self.run(place.run).steps[place.step - 1].kind})"


def report_of(result: Result, version: str) -> Report:
    """The records of a result; `version` is the tool's."""
    draft, survey = result.header.draft, result.survey
    findings = sort_findings(result.findings)
    ends = zip(result.header.runs, survey.lengths, survey.ends, strict=True)
    return Report(
        format=3,
        tool=ToolRecord(name="headergen", version=version),
        spec=spec_record(result.source),
        job=job_record(draft.job),
        shop_units=draft.units,
        tube=tube_record(draft.tube),
        limits=limits_record(draft.limits, draft.length.tolerance),
        verdict=verdict_record(findings, draft),
        counts=counts_record(findings),
        findings=tuple(map(finding_record, findings)),
        runs=tuple(run_record(result, run, length, end) for run, length, end in ends),
        chassis=tuple(map(item_record, draft.chassis)),
        gaps=tuple(map(gap_record, survey.gaps)),
        part_gaps=tuple(map(part_gap_record, survey.part_gaps)),
        made_part_gaps=tuple(map(part_gap_record, result.part_gaps)),
        helps=tuple(map(help_record, result.helps)),
        reach=tuple(map(part_gap_record, survey.reaches)),
        own_crossings=tuple(map(own_crossing_record, survey.crossings)),
        second_opinions=tuple(map(second_opinion_record, survey.second_opinions)),
        meshes=tuple(mesh_record(survey, known) for known in survey.meshes),
        transitions=transition_records(result.header),
        collectors=collector_records(draft),
        bosses=boss_records(draft),
        fitted=fitted_records(result.header),
        parts=tuple(part_record(part, draft.tube) for part in result.parts),
        weight=weight_record(weight(result)),
        by_hand=by_hand_record(result.by_hand),
    )
