"""Suggestions in the report for gaps that are too small: every change was applied and measured."""

from __future__ import annotations

import math
from typing import Annotated, Literal

from pydantic import Field

from headergen.model import Costs, GapThen, Help, NewPlace, NewValue, Suggestion
from headergen.model.suggestion import NewSetting
from headergen.outputs.report.records.base import Degrees, Mm, Ordinal, Point, Record
from headergen.outputs.report.records.job import FindingRecord, finding_record


class NewLengthRecord(Record):
    """A straight as it is, and as it is to be written into the spec."""

    run: str = Field(description="its name")
    step: Ordinal
    what: Literal["length"] = Field(description="which value of the step")
    before_mm: Mm = Field(description="as it is")
    after_mm: Mm = Field(description="as it is to be written, in place of a fit too")


class NewAngleRecord(Record):
    """An angle or a rotation of a bend as it is, and as it is to be written into the spec."""

    run: str = Field(description="its name")
    step: Ordinal
    what: Literal["angle", "rotation"] = Field(description="which value of the step")
    before_deg: Degrees = Field(description="as it is")
    after_deg: Degrees = Field(description="as it is to be written, in place of a fit too")


NewValueRecord = Annotated[NewLengthRecord | NewAngleRecord, Field(discriminator="what")]


class NewPlaceRecord(Record):
    """The origin of a collector's plane as it is, and as it is to be written into the spec."""

    collector: str = Field(description="its name")
    before_mm: Point
    after_mm: Point


class NewSettingRecord(Record):
    """A number that says where a part is, as it is and as it is to be written: a length, or an angle in degrees."""

    thing: str = Field(description="what it is of, as the spec names it")
    key: str = Field(description="key of its entry, with those that it stands under")
    unit: Literal["mm", "deg"] = Field(description="of both values")
    before: float = Field(description="as it is")
    after: float = Field(description="as it is to be written")


class NewPointRecord(Record):
    """A point of a path that the spec gives by points: as it is, and as it is to be written."""

    run: str = Field(description="its name")
    before_mm: Point
    after_mm: Point


class GapThenRecord(Record):
    """Another gap before a change and after it."""

    a: str = Field(description="name of the run or part")
    b: str = Field(description="name of the other run or part, or of the chassis item")
    before_mm: Mm | None = Field(description="null where it was too large to be measured")
    after_mm: Mm = Field(description="negative: depth")
    required_mm: Mm = Field(description="the least that is allowed")


class LengthenedRecord(Record):
    """A run that gets longer or shorter by a change."""

    run: str = Field(description="its name")
    by_mm: Mm = Field(description="negative: it gets shorter")


class SuggestionRecord(Record):
    """A change of the spec that was put in, closed, measured and judged, and what it costs elsewhere."""

    kind: Literal["rotation", "angle", "length", "swing", "path", "route", "collector", "part"] = Field(
        description="one value of a bend or straight, the whole tube swung about its two ends, a little of each value "
        "of a path, another path altogether, the collector moved, or a part moved along or round its tube"
    )
    what: str = Field(description="in words, lengths in the shop's unit")
    values: tuple[NewValueRecord, ...] = Field(description="all values of paths that are to be written into the spec")
    places: tuple[NewPlaceRecord, ...] = Field(description="of collectors that are to be written into the spec")
    settings: tuple[NewSettingRecord, ...] = Field(description="numbers of parts that are to be written into the spec")
    points: tuple[NewPointRecord, ...] = Field(
        description="what the values come to where a path is given by points: those that move"
    )
    mirrored: tuple[str, ...] = Field(
        description="runs whose path is the first bank's, mirrored: their values are those of `headergen resolve`"
    )
    gap_mm: Mm = Field(description="the gap that it is for, then")
    or_more: bool = Field(description="the gap is then too large to be measured: it is gap_mm or more")
    smaller_gaps: tuple[GapThenRecord, ...] = Field(description="other gaps that get smaller, least margin first")
    lengthened: tuple[LengthenedRecord, ...] = Field(description="by more than 0.05 mm")
    more_bends: int = Field(description="how many bends there are more; negative: fewer")
    findings: tuple[FindingRecord, ...] = Field(description="errors and warnings that come, or get worse")
    also_clears: tuple[GapThenRecord, ...] = Field(description="other gaps that are then as large as required")


class HelpRecord(Record):
    """A gap that is too small, and what would help, the best first."""

    a: str = Field(description="name of the run or part")
    b: str = Field(description="name of the other run or part, or of the chassis item")
    together: bool = Field(description="between tubes, where those of one collector converge")
    gap_mm: Mm = Field(description="as it is")
    required_mm: Mm = Field(description="the least that is allowed")
    suggestions: tuple[SuggestionRecord, ...]
    tried: tuple[str, ...] = Field(description="what was tried and did not help, in words")
    cut_short: bool = Field(description="more might have been tried, had the time of a check allowed it")
    anew: tuple[Ordinal, ...] = Field(
        description="numbers of the primaries for which `headergen route SPEC --only NUMBER` looks for another path; "
        "that takes longer than a check and was not tried"
    )


def help_record(each: Help) -> HelpRecord:
    return HelpRecord(
        a=each.a,
        b=each.b,
        together=each.together,
        gap_mm=each.gap,
        required_mm=each.required,
        suggestions=tuple(map(_suggestion, each.suggestions)),
        tried=each.tried,
        cut_short=each.cut_short,
        anew=each.anew,
    )


def _suggestion(each: Suggestion) -> SuggestionRecord:
    costs: Costs = each.costs
    return SuggestionRecord(
        kind=each.kind,
        what=each.what,
        values=tuple(map(_value, each.values)),
        places=tuple(map(_place, each.places)),
        settings=tuple(map(_setting, each.settings)),
        points=tuple(NewPointRecord(run=p.run, before_mm=p.before, after_mm=p.after) for p in each.points),
        mirrored=each.mirrored,
        gap_mm=each.gap,
        or_more=each.or_more,
        smaller_gaps=tuple(map(_gap, costs.gaps)),
        lengthened=tuple(LengthenedRecord(run=run, by_mm=by) for run, by in costs.lengths),
        more_bends=costs.bends,
        findings=tuple(map(finding_record, costs.findings)),
        also_clears=tuple(map(_gap, each.clears)),
    )


def _value(each: NewValue) -> NewLengthRecord | NewAngleRecord:
    if each.what == "length":
        return NewLengthRecord(run=each.run, step=each.step, what="length", before_mm=each.before, after_mm=each.after)
    before, after = math.degrees(each.before), math.degrees(each.after)
    return NewAngleRecord(run=each.run, step=each.step, what=each.what, before_deg=before, after_deg=after)


def _setting(each: NewSetting) -> NewSettingRecord:
    before, after = (math.degrees(x) if each.is_angle else x for x in (each.before, each.after))
    unit: Literal["mm", "deg"] = "deg" if each.is_angle else "mm"
    return NewSettingRecord(thing=each.thing, key=each.key, unit=unit, before=before, after=after)


def _place(each: NewPlace) -> NewPlaceRecord:
    return NewPlaceRecord(collector=each.collector, before_mm=each.before, after_mm=each.after)


def _gap(each: GapThen) -> GapThenRecord:
    return GapThenRecord(a=each.a, b=each.b, before_mm=each.before, after_mm=each.after, required_mm=each.required)
