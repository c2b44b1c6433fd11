"""The summary on the terminal: verdict, findings, primaries and the tightest clearances.

It reads the same without colour; colour shows the level of a finding and a gap that is too small, nothing else.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from headergen import __version__
from headergen.model import Result
from headergen.outputs.report.helpful import help_line, help_title, say_anew, say_nothing
from headergen.outputs.report.kinds.collector import merges, without_merge
from headergen.outputs.report.records.gaps import GapRecord
from headergen.outputs.report.records.job import FindingRecord
from headergen.outputs.report.records.report import Report, report_of
from headergen.outputs.report.records.runs import RunRecord
from headergen.outputs.report.said import (
    against,
    degrees,
    gap_word,
    mesh_line,
    say_verdict,
    worst_first,
)
from headergen.outputs.report.steps import sizes_said
from headergen.show.columns import Columns, Kind
from headergen.words.closing import of_hundred
from headergen.words.numbers import in_units

STYLES = {"error": "bold red", "warning": "yellow", "info": "cyan"}
UNIT_WORDS = {"mm": "mm", "in": "inches"}
SHOWN_GAPS = 10
SHOWN_HELPS = 6
SHOWN_LEFT = 3  # gaps by hand


def summary(result: Result, spec: str = "") -> RenderableType:
    """The summary of a result, for rich to print; fits 80 columns, and no number is broken in fewer.

    `spec`: the path of the file, for commands to be typed.
    """
    report = report_of(result, __version__)
    return Group(*_blocks(report, spec or report.spec.file))


def _blocks(report: Report, spec: str) -> Iterator[RenderableType]:
    job, tube, units = report.job, report.tube, report.shop_units
    size = " × ".join(in_units(length, units) for length in (tube.outside_diameter_mm, tube.wall_mm))
    yield _text(f"{job.title}, revision {job.revision}, {job.date} ({report.spec.file})")
    yield _text(f"Tube {size} {units}, {tube.material}")
    yield Text()
    verdict = report.verdict
    yield _text(say_verdict(verdict, report.counts), STYLES.get(verdict.worst_level or "", "bold"))
    if report.findings:
        yield _findings(report.findings)
    yield from _helps(report, spec)
    yield Text()
    yield _tubes(report.runs, units)
    yield from map(_text, sizes_said(report.runs, tube, units))
    yield from _gaps(report)
    yield from _by_hand(report)
    yield from _meshes(report)
    yield from _flow_and_weight(report)


def _helps(report: Report, spec: str) -> Iterator[RenderableType]:
    """For each gap that is too small, the changes that help; or why there are none."""
    units = report.shop_units
    if report.helps:
        yield Text()
        yield _text("What would help; each change was put in and measured, the rest of its path closed anew")
    for each in report.helps[:SHOWN_HELPS]:
        yield _text(f"{help_title(each, units)}:")
        lines = [help_line(one, each, units) for one in each.suggestions] or [say_nothing(each)]
        yield from (Padding(_text(line), (0, 0, 0, 2)) for line in lines)
    if len(report.helps) > SHOWN_HELPS:
        yield _text(f"{len(report.helps) - SHOWN_HELPS} more gaps are too small; report.json has what would help them.")
    elif any(one.values for each in report.helps for one in each.suggestions):
        yield _text("report.json and report.md have every value that changes with them.")
    yield from map(_text, say_anew(report.helps, spec))


def _by_hand(report: Report) -> Iterator[RenderableType]:
    """Where each tube is closed, and how often; the smallest gaps that nine of ten builds keep."""
    units, record = report.shop_units, report.by_hand
    if record is None or not record.runs:
        return
    yield Text()
    yield _text("By hand, each tube built from both ends and closed at one joint:")
    for run in record.runs:
        closing = run.closing
        said = "is one piece, cut to fit between its ends" if closing is None else f"closes at joint {closing.joint}"
        if closing is not None:
            bare, saddles = map(of_hundred, (closing.closes, closing.closes_with_saddles))
            said += f" in {bare} of 100 builds, with saddles in {saddles}"
        yield _text(f"  {run.run} {said}")
    gaps = record.tightest()[:SHOWN_LEFT]
    for gap in gaps:
        left, nominal = in_units(gap.left_mm, units), in_units(gap.nominal_mm, units)
        yield _text(f"  {gap.a} to {gap.b}: nine of ten builds leave {left} of {nominal} {units}")


def _meshes(report: Report) -> Iterator[RenderableType]:
    """A line for each mesh with its assumptions."""
    units = report.shop_units
    if report.meshes:
        yield Text()
    for mesh in report.meshes:
        size = " × ".join(in_units(each, units) for each in mesh.size_mm)
        away = in_units(mesh.from_header_mm, units)
        yield _text("Mesh " + mesh_line(mesh, f"{size} {units}", f"{away} {units}"))


def _flow_and_weight(report: Report) -> Iterator[RenderableType]:
    units, total = report.shop_units, report.weight
    merged, bare = list(merges(report.collectors)), without_merge(report.collectors)
    if merged or bare or total is not None:
        yield Text()
    for collector, merge in merged:
        least = merge.smallest
        after = f"{in_units(least.at_mm, units)} {units} after its plane"
        yield _text(
            f"Collector {collector.name} is narrowest {'in its outlet' if merge.is_narrowest_in_outlet else after}: "
            f"{least.to_one_bore:.2f} times the area of one inlet, "
            f"{least.to_all_bores:.2f} times that of its {len(collector.runs)} inlets added up."
        )
    yield from (_text(said) for said in bare)
    if total is not None:
        x, y, z = (in_units(value, units, 0) for value in total.centre_mm)
        yield _text(
            f"{len(report.parts)} parts weigh {total.mass_g / 1000:.2f} kg, centred {x} forward, {y} left and {z} up "
            f"({units}); {_moment(total.moment_at_flange_nm)}."
        )


def _moment(moment: float | None) -> str:
    if moment is None:
        return "the moment at the flanges is not computed"
    return f"moment at the flange if unsupported: {moment:.1f} N·m"


def _text(words: str, style: str = "") -> Text:
    """Text as it is: markup is not interpreted, and characters that cannot be printed become spaces."""
    return Text("".join(c if c.isprintable() else " " for c in words), style=style)


def _findings(findings: Sequence[FindingRecord]) -> Table:
    grid = Table.grid(padding=(0, 2))
    grid.add_column(no_wrap=True)
    grid.add_column(overflow="fold")
    for finding in findings:
        grid.add_row(_text(finding.level.upper(), STYLES[finding.level]), _text(finding.message))
    return grid


def _tubes(runs: Sequence[RunRecord], units: str) -> Columns:
    title = f"Tubes, lengths in {UNIT_WORDS[units]}; how each end meets its bore"
    heads = ("tube", "bore", "length", "off\ntarget", "bends", "turned", "end\nalong", "end\nacross", "end\nangle")
    rows = tuple(tuple(map(_text, _tube(run, units))) for run in runs)
    kinds: tuple[Kind, ...] = ("number", "words", *(("number",) * 7))
    return Columns(title, heads, rows, kinds)


def _tube(run: RunRecord, units: str) -> tuple[str, ...]:
    off, end = run.length_difference_mm, run.end
    return (
        run.short_name,
        run.arrives("{} {}"),
        in_units(run.developed_length_mm, units),
        "–" if off is None else in_units(off, units, 1, "+"),
        str(run.bends),
        degrees(run.bends_total_deg),
        in_units(end.along_mm, units, 2, "+"),
        in_units(end.across_mm, units, 2),
        degrees(end.angle_deg, 2),
    )


def _gaps(report: Report) -> Iterator[RenderableType]:
    units, gaps = report.shop_units, worst_first(report.gaps)
    if not gaps:
        return
    yield Text()
    heads = ("tube", "against", "gap", "required", "from\nstart", "step", "remark")
    shown = gaps[:SHOWN_GAPS]
    rows = tuple(_gap(report, gap) for gap in shown)
    kinds: tuple[Kind, ...] = ("number", "words", "number", "number", "number", "words", "words")
    yield Columns(f"Tightest clearances, in {UNIT_WORDS[units]}", heads, rows, kinds, named=2)
    if any(gap.gap_mm < 0 for gap in shown):
        yield _text("A negative gap is the depth of a crossing.")
    if any(gap.on_boundary for gap in shown):
        yield _text("* At the edge of a length that is not checked; may be closer inside it.")
    if len(gaps) > len(shown):
        yield _text(f"{len(gaps) - len(shown)} others have at least this margin.")


def _gap(report: Report, gap: GapRecord) -> tuple[Text, ...]:
    units, style = report.shop_units, STYLES["error"] if gap.is_too_small else ""
    return (
        _text(report.run(gap.a).short_name),
        _text(against(gap)),
        _text(in_units(gap.gap_mm, units, 2), style),
        _text(in_units(gap.required_mm, units, 2)),
        _text(in_units(gap.at[0].from_start_mm, units)),
        _text(report.step_word(gap.at[0])),
        _text(f"{gap_word(gap)} {'*' if gap.on_boundary else ''}".strip(), style),
    )
