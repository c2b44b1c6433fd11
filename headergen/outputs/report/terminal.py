"""The summary on the terminal: verdict, findings, primaries and the gaps with least to spare.

Reads the same without colour; colour is used for the level of a finding and for a gap that is too small, nothing else.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from pathlib import Path

from rich import box
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from headergen.model import Result
from headergen.model.finding import Finding, sort_findings, worst_level
from headergen.outputs.report.collectors import merge_flows, without_merge
from headergen.outputs.report.facts import (
    against,
    bends,
    gap_word,
    in_units,
    mesh_line,
    short_name,
    step_word,
    target,
    verdict,
    weight,
    worst_first,
)

STYLES = {"error": "bold red", "warning": "yellow", "info": "cyan"}
UNIT_WORDS = {"mm": "mm", "in": "inches"}
SHOWN_GAPS = 10


def summary(result: Result) -> RenderableType:
    """What a person wants to know of a result, for rich to print; fits 80 columns."""
    return Group(*_blocks(result))


def _blocks(result: Result) -> Iterator[RenderableType]:
    draft = result.header.draft
    job, tube, units = draft.job, draft.tube, draft.units
    size = " × ".join(in_units(length, units) for length in (tube.outside_diameter, tube.wall))
    yield _text(f"{job.title}, revision {job.revision}, {job.date} ({Path(result.source.file).name})")
    yield _text(f"Tube {size} {units}, {tube.material}")
    yield Text()
    findings = sort_findings(result.findings)
    yield _text(verdict(findings, draft), STYLES.get(worst_level(findings) or "", "bold"))
    if findings:
        yield _findings(findings)
    yield Text()
    yield _primaries(result)
    yield from _gaps(result)
    yield from _meshes(result)
    yield from _flow_and_weight(result)


def _meshes(result: Result) -> Iterator[RenderableType]:
    """A line for each mesh: what it was taken for."""
    units = result.header.draft.units
    if result.survey.meshes:
        yield Text()
    for known in result.survey.meshes:
        size = " × ".join(in_units(each, units) for each in known.size)
        away = in_units(result.survey.from_header(known), units)
        yield _text("Mesh " + mesh_line(result, known, f"{size} {units}", f"{away} {units}"))


def _flow_and_weight(result: Result) -> Iterator[RenderableType]:
    units = result.header.draft.units
    flows = list(merge_flows(result.header.draft))
    total, bare = weight(result), without_merge(result.header.draft)
    if flows or bare or total is not None:
        yield Text()
    for collector, flow in flows:
        least = flow.smallest
        at_outlet = least.at >= flow.merge.cone_end - 1e-6
        where = "in its outlet" if at_outlet else f"{in_units(least.at, units)} {units} after its plane"
        yield _text(
            f"Collector {collector.name} is narrowest {where}: {flow.to_one:.2f} times the area of one inlet, "
            f"{flow.to_all:.2f} times that of its {flow.merge.count} inlets added up."
        )
    yield from (_text(said) for said in bare)
    if total is not None:
        x, y, z = (in_units(value, units, 0) for value in total.centre)
        yield _text(
            f"{len(result.parts)} parts weigh {total.grams / 1000:.2f} kg, centred {x} forward, {y} left and {z} up "
            f"({units}); moment at the flange if unsupported: {total.moment:.1f} N·m."
        )


def _text(words: str, style: str = "") -> Text:
    """Text as it is: no markup is read from it, and what cannot be printed becomes a space."""
    return Text("".join(c if c.isprintable() else " " for c in words), style=style)


def _table(title: str, heads: Sequence[tuple[str, bool]]) -> Table:
    """An empty table; each head says whether its column holds numbers."""
    table = Table(
        title=_text(title),
        title_justify="left",
        box=box.SIMPLE_HEAD,
        pad_edge=False,
        show_edge=False,
        collapse_padding=True,
    )
    for head, numbers in heads:
        table.add_column(head, justify="right" if numbers else "left", no_wrap=numbers, overflow="fold")
    return table


def _findings(findings: Sequence[Finding]) -> Table:
    grid = Table.grid(padding=(0, 2))
    grid.add_column(no_wrap=True)
    grid.add_column(overflow="fold")
    for finding in findings:
        grid.add_row(_text(finding.level.upper(), STYLES[finding.level]), _text(finding.message))
    return grid


def _primaries(result: Result) -> Table:
    header, units = result.header, result.header.draft.units
    heads = ("length", "off\ntarget", "bends", "turned", "end\nalong", "end\nacross", "end\nangle")
    title = f"Tubes, lengths in {UNIT_WORDS[units]}; how each end meets its bore"
    table = _table(title, [("tube", True), ("bore", False), *((head, True) for head in heads)])
    rows = zip(header.runs, result.survey.lengths, result.survey.ends, strict=True)
    for run, length, end in rows:
        count, turned = bends(run)
        wanted = target(header, run)
        table.add_row(
            short_name(header, run.name),
            _text(f"{run.end.collector} {run.end.number}"),
            in_units(length, units),
            "–" if wanted is None else in_units(length - wanted, units, 1, "+"),
            str(count),
            f"{math.degrees(turned):.1f}°",
            in_units(end.along, units, 2, "+"),
            in_units(end.across, units, 2),
            f"{math.degrees(end.angle):.2f}°",
        )
    return table


def _gaps(result: Result) -> Iterator[RenderableType]:
    header, units = result.header, result.header.draft.units
    gaps = worst_first(result.survey.gaps)
    if not gaps:
        return
    yield Text()
    heads = [("tube", True), ("against", False), ("gap", True), ("wanted", True), ("from\nstart", True)]
    title = f"Tightest clearances, in {UNIT_WORDS[units]}"
    table = _table(title, [*heads, ("step", False), ("remark", False)])
    shown = gaps[:SHOWN_GAPS]
    for gap in shown:
        style = STYLES["error"] if gap.is_too_small else ""
        table.add_row(
            short_name(header, gap.a),
            _text(against(gap)),
            _text(in_units(gap.value, units, 2), style),
            in_units(gap.required, units, 2),
            in_units(gap.place.at, units),
            step_word(header, gap.place),
            _text(f"{gap_word(gap)} {'*' if gap.on_boundary else ''}".strip(), style),
        )
    yield table
    if any(gap.value < 0 for gap in shown):
        yield _text("A negative gap is the depth of a crossing.")
    if any(gap.on_boundary for gap in shown):
        yield _text("* At the edge of a length that is not checked; may be closer inside it.")
    if len(gaps) > len(shown):
        yield _text(f"{len(gaps) - len(shown)} others have at least this margin.")
