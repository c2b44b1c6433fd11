"""Every step of every tube: its length, its rotation, and its bend angle."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from headergen.outputs.report.records.runs import RunRecord
from headergen.outputs.report.said import degrees
from headergen.outputs.report.sections import Section, Table
from headergen.words.numbers import both

HEADS = ("Tube", "Step", "Kind", "Length", "Rotation", "Angle", "CLR")


def steps_section(runs: Sequence[RunRecord], units: str) -> Section:
    """The paths as read at the bench."""
    rows = [row for run in runs for row in _rows(run, units)]
    said = (
        "Rotation turns a bend against the one before it, the first one against the flange's x axis; positive is "
        "clockwise, seen looking from the flange along the tube. The length of a bend is that of its centreline."
    )
    return Section("Steps", (Table(HEADS, rows), said))


def _rows(run: RunRecord, units: str) -> Iterator[tuple[str, ...]]:
    for step in run.steps:
        if step.kind == "straight":
            yield run.short_name, str(step.step), step.kind, both(units, step.length_mm), "", "", ""
        else:
            turns = degrees(step.rotation_deg, 2), degrees(step.angle_deg, 2)
            length, radius = both(units, step.length_mm), both(units, step.radius_mm)
            yield run.short_name, str(step.step), step.kind, length, *turns, radius
