"""What was assumed of a chassis mesh, what is wrong with it, and how well it is placed."""

from __future__ import annotations

from collections.abc import Iterator

from headergen.checks.words import say_length, shown_length
from headergen.finding import Finding, Level
from headergen.model import MeshFacts, Survey

WHY_UNITS = {
    "format": "as its format says",
    "points": "since that is how far its points are apart",
    "size": "the only unit in which it has a chassis's size and lies by the header",
}


def mesh_notes(survey: Survey) -> Iterator[Finding]:
    for known in survey.meshes:
        yield from _taken_as(known)
        if known.residuals:
            yield _placed_by_points(known, survey.header.draft.units)


def _taken_as(known: MeshFacts) -> Iterator[Finding]:
    content = known.content
    if known.units_from != "spec":
        x, y, z = (f"{size:.0f}" for size in known.size)
        yield _said(
            known,
            "mesh-units",
            "info",
            f"{known.file} is taken to be in {known.units}, {WHY_UNITS[known.units_from]}: it is {x} × {y} × {z} mm "
            f"then, and {known.away:.0f} mm from the nearest port or bore. Say units: {known.units} if that is right.",
        )
    for assumed in content.assumed:
        yield _said(known, "mesh-read", "info", f"{known.file}: {assumed}.")
    if content.left_out:
        yield _said(
            known,
            "mesh-read",
            "warning",
            f"{known.file}: {content.left_out} of its {content.triangles} triangles have a corner that is not a "
            "number and were left out; nothing was measured there.",
        )
    if content.no_area:
        yield _said(
            known,
            "mesh-read",
            "info",
            f"{known.file}: {content.no_area} of its {content.triangles} triangles have no area; they were measured as "
            "lines and points.",
        )
    if content.points_only:
        yield _said(
            known,
            "mesh-points",
            "info",
            f"{known.file} has points and no surface: gaps are to its points, which stand up to {known.spacing:.1f} mm "
            "apart, and the surface between them may be nearer.",
        )


def _placed_by_points(known: MeshFacts, units: str) -> Finding:
    worst = max(known.residuals, key=lambda pair: pair.distance)
    each = ", ".join(f"{pair.name} {say_length(pair.distance, units)}" for pair in known.residuals)
    off = worst.distance > known.within
    flat = " They lie in one plane, so a mirrored scan would not show: add one well off it." * known.in_a_plane
    verdict = (
        f"{worst.name} is off by more than {say_length(known.within, units)}: measure it again, or every gap to "
        f"{known.item} is wrong by as much."
        if off
        else f"The scan lies within about {say_length(known.rms, units)} of where it was on the vehicle."
    )
    return Finding(
        rule="mesh-placed",
        level="error" if off else "info",
        where=known.item,
        value=shown_length(worst.distance, units),
        limit=shown_length(known.within, units),
        unit=units,
        message=f"{known.file} is placed by {len(known.residuals)} points, which are off by: {each}. {verdict}{flat}",
    )


def _said(known: MeshFacts, rule: str, level: Level, message: str) -> Finding:
    return Finding(rule, level, known.item, None, None, "", message)
