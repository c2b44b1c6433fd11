"""Every step of every tube: its length, its rotation, and its bend angle."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from headergen.outputs.report.records.job import TubeRecord
from headergen.outputs.report.records.runs import RunRecord
from headergen.outputs.report.said import degrees
from headergen.outputs.report.sections import Section, Table
from headergen.words.numbers import both, in_units
from headergen.words.say import capital

HEADS = ("Tube", "Step", "Kind", "Length", "Rotation", "Angle", "CLR")


def steps_section(runs: Sequence[RunRecord], tube: TubeRecord, units: str) -> Section:
    """The paths as read at the bench; `tube`: that of the header."""
    rows = [row for run in runs for row in _rows(run, units)]
    said = (
        "Rotation turns a bend against the one before it, the first one against the flange's x axis; positive is "
        "clockwise, seen looking from the flange along the tube. The length of a bend is that of its centreline."
    )
    return Section("Steps", (Table(HEADS, rows), said, *sizes_said(runs, tube, units)))


def sizes_said(runs: Sequence[RunRecord], tube: TubeRecord, units: str) -> Iterator[str]:
    """The primaries with a tube of their own, and for each run that grows, the lengths at which its bore does.

    `tube`: that of the header; lengths count from the start of a run.
    """
    for run in runs:
        own = run.outside_diameter_mm, run.wall_mm
        if run.role == "primary" and own != (tube.outside_diameter_mm, tube.wall_mm):
            wide, wall = (in_units(length, units) for length in own)
            yield f"{capital(run.name)} begins with tube {wide} × {wall} {units}."
        if run.growths:
            places = " and ".join(
                f"to {in_units(size, units)} {units} at {in_units(at, units)} {units}"
                for size, at in ((each.outside_diameter_mm, each.from_start_mm) for each in run.growths)
            )
            yield f"{capital(run.name)} grows {places} from {run.starts_at}, along its middle."


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
