"""Every step of every tube: its length, its rotation, and its bend angle."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from headergen.outputs.report.records.runs import RunRecord
from headergen.outputs.report.said import degrees
from headergen.outputs.report.sections import Section, Table
from headergen.words.numbers import both, in_units

HEADS = ("Tube", "Step", "Kind", "Length", "Rotation", "Angle", "CLR")


def steps_section(runs: Sequence[RunRecord], units: str) -> Section:
    """The paths as read at the bench."""
    rows = [row for run in runs for row in _rows(run, units)]
    said = (
        "Rotation turns a bend against the one before it, the first one against the flange's x axis; positive is "
        "clockwise, seen looking from the flange along the tube. The length of a bend is that of its centreline."
    )
    return Section("Steps", (Table(HEADS, rows), said, *growths_said(runs, units)))


def growths_said(runs: Sequence[RunRecord], units: str) -> Iterator[str]:
    """For each tube that grows, the lengths from its start at which its bore does."""
    for run in runs:
        if run.growths:
            places = " and ".join(
                f"to {in_units(size, units)} {units} at {in_units(at, units)} {units}"
                for size, at in ((each.outside_diameter_mm, each.from_start_mm) for each in run.growths)
            )
            yield f"{run.name[0].upper()}{run.name[1:]} grows {places} from {run.starts_at}, along its middle."


def _rows(run: RunRecord, units: str) -> Iterator[tuple[str, ...]]:
    for step in run.steps:
        if step.kind == "straight":
            yield run.short_name, str(step.step), step.kind, both(units, step.length_mm), "", "", ""
        elif step.kind == "step":
            size = f"{step.by} to {in_units(step.outside_diameter_mm, units)} × {in_units(step.wall_mm, units)} {units}"
            yield run.short_name, str(step.step), size, both(units, step.length_mm), "", "", ""
        else:
            turns = degrees(step.rotation_deg, 2), degrees(step.angle_deg, 2)
            length, radius = both(units, step.length_mm), both(units, step.radius_mm)
            yield run.short_name, str(step.step), step.kind, length, *turns, radius
