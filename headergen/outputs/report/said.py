"""The wording of records in all forms of the report: verdict, gaps and meshes in shop words."""

from __future__ import annotations

from collections.abc import Iterable

from headergen.model.finding import LEVELS
from headergen.outputs.report.records.chassis import MeshRecord
from headergen.outputs.report.records.gaps import GapRecord
from headergen.outputs.report.records.job import CountsRecord, VerdictRecord

ALONE = "tubes only; nothing around them was given"
NOUNS = {"error": ("error", "errors"), "warning": ("warning", "warnings"), "info": ("note", "notes")}
UNITS_FROM = {
    "spec": "as stated",
    "format": "as its format says",
    "points": "told by its points",
    "size": "told by its size and place",
    "extent": "told by its extent",
}


def say_verdict(verdict: VerdictRecord, counts: CountsRecord) -> str:
    """One line: NOT CLEARED if there is an error, the number of findings of each level, and what was checked."""
    number = {level: getattr(counts, level) for level in LEVELS}
    said = [f"{n} {NOUNS[level][n != 1]}" for level, n in number.items() if n]
    of = f" ({ALONE})" if verdict.of == "tubes only" else ""
    if not verdict.clear:
        return f"NOT CLEARED{of}: " + ", ".join(said)
    return f"Clear{of}: " + ", ".join(["no errors", *said] if said else ["no findings"])


def degrees(angle: float, digits: int = 1) -> str:
    return f"{angle:.{digits}f}°"


def mesh_line(mesh: MeshRecord, size: str, away: str) -> str:
    """The assumptions for a chassis mesh; `size` and `away` (its distance from the header) as printed."""
    axes = {
        "file": "in its own place" if mesh.y_up else "axes and place as in the file",
        "spec": "placed as the spec says",
        "points": f"placed by {len(mesh.placed_by)} points",
    }[mesh.placed]
    if mesh.y_up:
        axes = f"turned from y up to z up, {axes}"
    distance = f"{away} from the header" if mesh.from_header_mm > 0 else "it meets the header"
    told = f"is in {mesh.units}, {UNITS_FROM[mesh.units_from]}"
    return f"{mesh.item}: {mesh.file} {told}; {size}; {axes}; {distance}."


def against(gap: GapRecord) -> str:
    """The other thing of a gap, in shop words."""
    return gap.b + (", at the collector" if gap.is_between_runs and gap.together else "")


def gap_word(gap: GapRecord) -> str:
    """What is wrong with a gap, in words; empty if nothing is."""
    if not gap.is_too_small:
        return ""
    if gap.runs_through:
        return "RUNS THROUGH"
    return "CROSSES" if gap.gap_mm < 0 else "TOO NEAR"


def worst_first(gaps: Iterable[GapRecord]) -> list[GapRecord]:
    """The gaps by their margin, smallest first; equal ones keep their order.

    Tubes that converge on their collector are meant to be near: their gaps are included only if something is wrong.
    """
    shown = [gap for gap in gaps if not gap.together or gap.is_too_small]
    return sorted(shown, key=lambda gap: round(gap.to_spare_mm, 6))
