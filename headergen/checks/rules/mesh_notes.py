"""The assumptions made for a chassis mesh, its faults, and the quality of its placement."""

from __future__ import annotations

from collections.abc import Iterator

from headergen.model import MeshFacts, Survey
from headergen.model.finding import Finding, Level
from headergen.model.scan import BESIDE, LARGEST_MESH, SMALLEST_MESH
from headergen.words.say import UNIT_NAMES, say_length, shown_length

SAID_BY = {"spec": "the spec says", "format": "its format says"}


def mesh_notes(survey: Survey) -> Iterator[Finding]:
    units = survey.header.draft.units
    for known in survey.meshes:
        yield from _units(known, units)
        yield from _size_and_place(known, survey.from_header(known), units)
        yield from _content(known, units)
        if known.residuals:
            yield from _placed_by_points(known, units)


def _units(known: MeshFacts, units: str) -> Iterator[Finding]:
    """How the units were found, and which others are possible."""
    if known.units_from in ("size", "extent"):
        size = (
            f"between {say_length(SMALLEST_MESH, units)} and {say_length(LARGEST_MESH, units)} long"
            if known.units_from == "size"
            else "as large as extent says"
        )
        yield _said(
            known,
            "mesh-units",
            "info",
            f"{_name(known)} does not say its units; they are taken to be {UNIT_NAMES[known.units]}: of mm, cm, m, in "
            f"and ft that is the only one in which it is {size} and less than {say_length(BESIDE, units)} from a port "
            f"or bore. Write units: {known.units} if that is right.",
        )
    if known.others and not known.measured:
        would = "; ".join(
            f"in {other.units} it would be {say_length(other.size, units)} long, {say_length(other.away, units)} away"
            for other in known.others
        )
        yield _said(
            known,
            "mesh-units",
            "warning",  # every gap to the mesh depends on it, and a tape measure settles it
            f"{_name(known)} is read in {UNIT_NAMES[known.units]}, as {SAID_BY[known.units_from]}: it is then "
            f"{say_length(max(known.size), units)} long, and {say_length(known.away, units)} from the nearest "
            f"port or bore. But {would}. Measure its largest dimension with a tape and write it as extent.",
        )


def _size_and_place(known: MeshFacts, away: float, units: str) -> Iterator[Finding]:
    if away > BESIDE:
        yield _said(
            known,
            "mesh-far",
            "warning",
            f"{_name(known)} lies {say_length(away, units)} from the header, farther than "
            f"{say_length(BESIDE, units)}, and no part of it is nearer. Check its "
            f"units ({known.units}) and its placement; if both are right, leave it out: it is too far away to matter.",
            (away, BESIDE),
            units,
        )
    if max(known.size) < SMALLEST_MESH and not known.measured:
        yield _said(
            known,
            "mesh-small",
            "warning",
            f"{_name(known)} is {say_length(max(known.size), units)} in its largest dimension, less than "
            f"{say_length(SMALLEST_MESH, units)}. Check its units ({known.units}); write its largest "
            "dimension by tape as extent, which settles them.",
            (max(known.size), SMALLEST_MESH),
            units,
        )


def _content(known: MeshFacts, units: str) -> Iterator[Finding]:
    content = known.content
    for assumed in content.assumed:
        yield _said(known, "mesh-read", "info", f"{_name(known)} was read with an assumption: {assumed}.")
    for doubt in content.doubts:
        yield _said(known, "mesh-read", "warning", f"{_name(known)} may not be whole: {doubt}.")
    if content.left_out:
        yield _said(
            known,
            "mesh-read",
            "warning",
            f"{_name(known)} has {content.triangles} triangles, of which {content.left_out} have a corner that is not "
            "a number and were left out; nothing was measured there.",
        )
    if content.no_area:
        yield _said(
            known,
            "mesh-read",
            "info",
            f"{_name(known)} has {content.triangles} triangles, of which {content.no_area} have no area; they were "
            "measured as lines and points.",
        )
    if content.points_only:
        yield _said(
            known,
            "mesh-points",
            "info",
            f"{_name(known)} has points and no surface: gaps are to its points, which are up to "
            f"{say_length(known.spacing, units)} apart; the surface between them may be nearer.",
        )


def _placed_by_points(known: MeshFacts, units: str) -> Iterator[Finding]:
    worst = max(known.residuals, key=lambda pair: pair.distance)
    each = ", ".join(f"{pair.name} {say_length(pair.distance, units)}" for pair in known.residuals)
    off = worst.distance > known.within
    again = (
        f"{worst.name} is off by more than {say_length(known.within, units)}: measure it again, or every gap to "
        f"{known.item} is wrong."
        if off
        else f"All are within the {say_length(known.within, units)} allowed."
    )
    yield Finding(
        rule="mesh-placed",
        level="error" if off else "info",
        where=known.item,
        value=shown_length(worst.distance, units),
        limit=shown_length(known.within, units),
        unit=units,
        message=(
            f"{_name(known)} is placed by {len(known.residuals)} points, which are off by: {each}. {again} "
            f"{_error(known, units)}"
        ),
    )
    if not known.tells_mirror:
        yield _said(known, "mesh-mirror", "warning", _mirror(known))


def _error(known: MeshFacts, units: str) -> str:
    """What the points say about the error where the tubes run."""
    said = f"At the header expect it to be off by up to {say_length(known.error, units)} (95 %)."
    if known.spread is None or not known.spread.assumed:
        return said
    assumed = say_length(known.spread.assumed, units)
    return (
        f"{said} Three points say little about their own accuracy: each was assumed to be within {assumed} "
        "(placement: within), or worse where they show it; a fourth point makes it surer."
    )


def _mirror(known: MeshFacts) -> str:
    count = len(known.residuals)
    if count == 3:
        why = "is placed by three points, which fit a mirrored scan as well"
    else:
        why = f"is placed by {count} points so nearly in one plane that they fit a mirrored scan about as well"
    return f"{_name(known)} {why}. Add a {'fourth ' if count == 3 else ''}point well off their plane."


def _name(known: MeshFacts) -> str:
    return f"The {known.item} ({known.file})"


def _said(
    known: MeshFacts,
    rule: str,
    level: Level,
    message: str,
    figures: tuple[float, float] | None = None,
    units: str = "",
) -> Finding:
    """`figures`: the value found and the one it is compared with, in millimetres."""
    value, limit = (None, None) if figures is None else (shown_length(each, units) for each in figures)
    return Finding(rule, level, known.item, value, limit, units, message)
