"""Suggestions in words: as lines for the terminal, and as a section for paper and page."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby

from headergen.outputs.report.records.gaps import GapRecord, PartGapRecord
from headergen.outputs.report.records.help import (
    GapThenRecord,
    HelpRecord,
    NewAngleRecord,
    NewLengthRecord,
    NewSettingRecord,
    SuggestionRecord,
)
from headergen.outputs.report.records.job import SpecRecord
from headergen.outputs.report.records.report import Report
from headergen.outputs.report.said import degrees
from headergen.outputs.report.sections import Block, Bullets, Section, Sight, Strong, Table
from headergen.words.numbers import INCH, both, in_units
from headergen.words.say import capital

TITLE = "What would help"
TOLD = 2  # of the other gaps that get smaller, on a line
TRIED = 3  # of the changes that did not help, on a line


def helps_section(report: Report) -> Iterator[Section]:
    """For each gap that is too small: what would help, its cost, and what is then written into the spec."""
    if report.helps:
        note = "Each change was put in, the rest of its path closed anew at its length, and all measured and judged."
        yield Section(TITLE, (note, *(block for each in report.helps for block in _blocks(report, each))))


def _blocks(report: Report, each: HelpRecord) -> Iterator[Block]:
    units = report.shop_units
    yield Strong(help_title(each, units))
    if not each.suggestions:
        yield say_nothing(each)
        yield from say_anew([each], report.spec.file)
        return
    rows = [
        (
            f"{number}. {one.what}",
            f"{both(units, one.gap_mm)}{_more(one)}",
            capital(say_costs(one, each, units)),
        )
        for number, one in enumerate(each.suggestions, 1)
    ]
    yield Table(("Change", "Gap then", "What it costs"), rows, [_sight(report, each)] * len(rows))
    for number, one in enumerate(each.suggestions, 1):
        yield f"Change {number} in the spec:"
        yield Bullets(tuple(spec_lines(one, units)))
        yield from say_where(one, report.spec)
    yield from say_anew([each], report.spec.file)


def _sight(report: Report, each: HelpRecord) -> Sight | None:
    """The place of the gap."""
    of_runs = [gap for gap in report.gaps if gap.together == each.together]
    gaps: list[GapRecord | PartGapRecord] = [*of_runs, *report.part_gaps, *report.reach]
    found = next((gap for gap in gaps if (gap.a, gap.b) == (each.a, each.b)), None)
    return None if found is None else Sight(found.points_mm, found.gap_mm)


def help_title(each: HelpRecord, units: str) -> str:
    """The name of the gap: "Primary 3 to sump, 5.2 of 8.0 mm"."""
    return f"{capital(each.a)} to {each.b}, {in_units(each.gap_mm, units)} of {_length(each.required_mm, units)}"


def help_line(one: SuggestionRecord, each: HelpRecord, units: str) -> str:
    """A change on one line: "Turn bend 2 of primary 3 by 2.5° more (…): gap 8.1 mm, primary 4 then 6.4 mm away"."""
    return f"{one.what}: gap {_length(one.gap_mm, units)}{_more(one)}, {say_costs(one, each, units)}."


def _more(one: SuggestionRecord) -> str:
    return " or more" if one.or_more else ""


def say_costs(one: SuggestionRecord, each: HelpRecord, units: str) -> str:
    """The cost of a change elsewhere, and the other gaps it clears."""
    said = [_gap_then(gap, each, units) for gap in one.smaller_gaps[:TOLD]] or ["no other gap much smaller"]
    said += [
        f"{run.run} {_length(abs(run.by_mm), units)} {'longer' if run.by_mm > 0 else 'shorter'}"
        for run in one.lengthened
    ]
    if one.more_bends:
        said.append(f"{one.more_bends:+d} bends")
    said += [f"{gap.a} to {gap.b} cleared as well" for gap in one.also_clears]
    if one.findings:
        brought = "; ".join(finding.message.split(";")[0].rstrip(".") for finding in one.findings)
        said.append(f"but it brings {'a finding' if len(one.findings) == 1 else 'findings'}: {brought}")
    return ", ".join(said)


def say_nothing(each: HelpRecord) -> str:
    """What was tried, if nothing was found; empty otherwise."""
    if each.suggestions:
        return ""
    tried = "; ".join(each.tried[:TRIED]) or "nothing yet"
    more = f"; and {len(each.tried) - TRIED} more" if len(each.tried) > TRIED else ""
    end = "; the others were left untried, to keep the check quick" if each.cut_short else ""
    return f"Nothing was found to help. Tried: {tried}{more}{end}."


def spec_lines(one: SuggestionRecord, units: str) -> Iterator[str]:
    """What to write into the spec: each place of a collector, each step of a path."""
    for place in one.places:
        before, after = (", ".join(_exact(x, units) for x in at) for at in (place.before_mm, place.after_mm))
        yield f"collector {place.collector}, origin of its plane: [{before}] becomes [{after}]"
    for setting in one.settings:
        yield f"{setting.thing}, {setting.key}: {_set_to(setting.before, setting, units)} becomes " + _set_to(
            setting.after, setting, units
        )
    for point in one.points:
        before, after = (", ".join(_exact(x, units) for x in at) for at in (point.before_mm, point.after_mm))
        yield f"{point.run}, point [{before}] becomes [{after}]"
    by_points = {point.run for point in one.points}
    by_steps = [each for each in one.values if each.run not in by_points]
    for (run, step), values in groupby(by_steps, key=lambda each: (each.run, each.step)):
        yield f"{run}, step {step}: {', '.join(_becomes(each, units) for each in values)}"


def _set_to(value: float, setting: NewSettingRecord, units: str) -> str:
    return degrees(value, 4) if setting.unit == "deg" else _exact(value, units)


def say_where(one: SuggestionRecord, spec: SpecRecord) -> Iterator[str]:
    """The place for figures that are on no line of the spec, because it mirrors another one."""
    if spec.mirror_of is None or not (one.mirrored or one.places or one.settings):
        return
    full = f"`headergen resolve {spec.file} --to full.yaml` writes this bank out in full"
    turned = [each for each in one.values if each.run in one.mirrored and isinstance(each, NewAngleRecord)]
    turned = [each for each in turned if each.what == "rotation"]
    said = ", ".join(
        f"{each.run} step {each.step} {degrees(-each.before_deg, 4)} to {degrees(-each.after_deg, 4)}"
        for each in turned[:TOLD]
    )
    there = f", where rotations have the other sign ({said})" if said else ""
    runs = f" or give {' and '.join(one.mirrored)} a path of its own here under primaries," if one.mirrored else ""
    yield (
        f"These figures are this bank's, and it is the mirror of {spec.mirror_of}: {full},{runs} or change "
        f"{spec.mirror_of}{there}; the first bank then changes too, and that was not tried."
    )


def say_anew(helps: Iterable[HelpRecord], spec: str) -> Iterator[str]:
    """The command that searches for another path; `spec`: the file as it should be in the command."""
    numbers = dict.fromkeys(number for each in helps for number in each.anew)
    if numbers:
        commands = " or ".join(f"`headergen route {spec} --only {number}`" for number in numbers)
        yield f"Another path altogether takes longer to look for than a check, and was not tried: {commands}"


def _becomes(value: NewLengthRecord | NewAngleRecord, units: str) -> str:
    if value.what == "length":
        return f"length {_exact(value.before_mm, units)} becomes {_exact(value.after_mm, units)}"
    return f"{value.what} {degrees(value.before_deg, 4)} becomes {degrees(value.after_deg, 4)}"


def _gap_then(gap: GapThenRecord, each: HelpRecord, units: str) -> str:
    """Another gap, seen from the changed tube if that is one of the two."""
    mine = {each.a, each.b}
    other = gap.b if gap.a in mine else gap.a if gap.b in mine else ""
    short = f" ({_length(gap.required_mm, units)} required)" if gap.after_mm < gap.required_mm else ""
    if gap.after_mm < 0:
        return f"{gap.a} and {gap.b} then {_length(-gap.after_mm, units)} deep in each other{short}"
    if other and other not in mine:
        return f"{other} then {_length(gap.after_mm, units)} away{short}"
    return f"{gap.a} then {_length(gap.after_mm, units)} from {gap.b}{short}"


def _exact(millimetres: float, units: str) -> str:
    """A length with the digits of a spec."""
    return f"{millimetres / INCH:.5f}" if units == "in" else f"{millimetres:.3f}"


def _length(millimetres: float, units: str) -> str:
    return f"{in_units(millimetres, units)} {units}"
