"""The result of each section of evidence, for the line that is shown while the section is folded."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from headergen.outputs.report.kinds.collector import merges
from headergen.outputs.report.records.report import Report
from headergen.outputs.report.said import against, degrees, worst_first
from headergen.outputs.report.sections import Table
from headergen.words.numbers import both
from headergen.words.say import capital

FEW = 4  # lines of a table that are named one by one


def section_result(title: str, blocks: Sequence[object], report: Report) -> str:
    """The result in words.

    For a section without its own: the first cells of its table, or the number of lines; without a table, its first
    words.
    """
    own = RESULTS.get(title)
    said = "" if own is None else own(report)
    if said:
        return said
    tables = [block for block in blocks if isinstance(block, Table)]
    rows = tables[0].rows if tables else ()
    words = next((block for block in blocks if isinstance(block, str)), "")
    return ", ".join(row[0] for row in rows) if 0 < len(rows) <= FEW else f"{len(rows)} lines" if rows else words


def _tightest(report: Report) -> str:
    """The gap with the smallest margin."""
    gaps = worst_first(report.gaps)
    if not gaps:
        return "none was measured"
    least, units = gaps[0], report.shop_units
    return f"tightest: {least.a} to {against(least)}, {both(units, least.gap_mm)} of {both(units, least.required_mm)}"


def _short(report: Report) -> str:
    """The number of gaps that are smaller than required."""
    gaps = worst_first(report.gaps)
    short = sum(each.is_too_small for each in gaps)
    return f"{len(gaps)} gaps, {short or 'none'} nearer than required"


def _lengths(report: Report) -> str:
    runs, units = [run for run in report.runs if run.role == "primary"], report.shop_units
    lengths = [run.developed_length_mm for run in runs]
    if not lengths:
        return ""
    off = [abs(run.length_difference_mm) for run in runs if run.length_difference_mm is not None]
    said = f"{len(runs)}, {both(units, min(lengths))} to {both(units, max(lengths))} long"
    return f"{said}; at most {both(units, max(off))} off target" if off else said


def _bends(report: Report) -> str:
    total = sum(run.bends_total_deg for run in report.runs)
    return f"{sum(run.bends for run in report.runs)} bends, {degrees(total, 0)} together"


def _collectors(report: Report) -> str:
    found = [(collector.name, merge.smallest) for collector, merge in merges(report.collectors)]
    each = (f"{capital(name)}: narrowest {least.to_one_bore:.2f} times the area of one inlet" for name, least in found)
    return "; ".join(each)


def _meshes(report: Report) -> str:
    return ", ".join(mesh.item for mesh in report.meshes)


RESULTS: dict[str, Callable[[Report], str]] = {
    "Smallest gap of each tube to everything": _short,
    "Gap picture": lambda _: "the tubes by how near they come to anything",
    "Gaps along the tubes": lambda report: f"a plot for each of {len(report.runs)} tubes, against what is required",
    "Gaps": _tightest,
    "Primaries": _lengths,
    "Steps": _bends,
    "Collectors": _collectors,
    "Meshes": _meshes,
    "The job": lambda report: f"{report.job.title}, revision {report.job.revision}, from {report.spec.file}",
}
