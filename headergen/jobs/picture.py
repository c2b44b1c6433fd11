"""Pictures: of a header and its parts, of several answers of a search, of a mesh by itself."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.jobs.outcome import Missing, NotMade, Report, WorkError, buildable, cannot_render, paired_arrays
from headergen.jobs.parts import Made
from headergen.jobs.process import Failure, run
from headergen.model import Header, Result
from headergen.outputs.picture.marks import Mark, marks_of
from headergen.show.chassis import to_draw

SOLIDS, PICTURE = "solids", "picture"
PICTURE_FILE = "picture.png"


def make_picture(
    result: Result, chassis: Mapping[str, Any], made: Made, without: frozenset[str], folder: Path, report: Report
) -> NotMade:
    """Make the picture of a header and its parts; what comes back is why that could not be done, where it could not.

    `chassis` holds the items that are meshes, indexed.
    """
    header = buildable(result.header, without)
    if not header.primaries:
        return ()
    scratch = (folder / ".meshes.npz", folder / ".parts.npz")
    drawn = [to_draw(mesh, header) for mesh in chassis.values()]
    for path, meshes in zip(scratch, (drawn, made.skins.values()), strict=True):
        np.savez(path, *(array for mesh in meshes for array in (mesh.vertices, mesh.faces)))
    marks = marks_of(result.header, result.findings)  # also of primaries of which no solid is made
    path = folder / PICTURE_FILE
    try:
        answer = run((_make_picture, (header, marks, tuple(chassis), scratch, path)), report)
    finally:
        for each in scratch:
            each.unlink(missing_ok=True)
    if not isinstance(answer, Failure):
        return ()
    path.unlink(missing_ok=True)
    return (Missing(PICTURE_FILE, cannot_render(answer)),)


def picture_mesh(mesh: Any, title: str, path: Path, report: Report) -> None:
    """Write a picture of one indexed mesh. Raises WorkError when this machine cannot render."""
    answer = run((_make_mesh_picture, (mesh, title, path)), report)
    if isinstance(answer, Failure):
        raise WorkError(cannot_render(answer))


def picture_answers(
    shown: Sequence[tuple[Header, str, str]], chassis: Mapping[str, Any], path: Path, report: Report
) -> NotMade:
    """Make one picture of several headers that differ in their primaries alone, each with its name and its figures;
    what comes back is why that could not be done, where it could not. `chassis` as for make_picture."""
    first = shown[0][0]
    around = run((_make_skins_around, (first,)), report)
    skins = () if isinstance(around, Failure) else around  # tubes alone are better than no picture
    drawn = {name: to_draw(mesh, first) for name, mesh in chassis.items()}
    beside = path.with_name(f".{path.name}.new")
    try:
        answer = run((_make_answers_picture, (shown, drawn, skins, beside)), report)
        if isinstance(answer, Failure):
            return (Missing(path.name, cannot_render(answer)),)
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)
    return ()


def _make_picture(
    header: Header,
    marks: Sequence[Mark],
    names: tuple[str, ...],
    scratch: tuple[Path, Path],
    path: Path,
    report: Report,
) -> None:
    from headergen.outputs.picture import render_header

    _begin(report)
    chassis = dict(zip(names, paired_arrays(scratch[0]), strict=True))
    parts = [TriangleMesh(*pair, closed=True) for pair in paired_arrays(scratch[1])]
    render_header(path, header, chassis, marks, parts)
    report(PICTURE, 1, 1)


def _begin(report: Report) -> None:
    """Raises RuntimeError where the renderer draws nothing, and so every picture would be empty."""
    from headergen.outputs.picture import can_render

    report(PICTURE, 0, 1)
    if not can_render():
        raise RuntimeError("the renderer draws nothing")


def _make_skins_around(header: Header, report: Report) -> tuple[TriangleMesh, ...]:
    from headergen.solids.build import skins_around

    report(SOLIDS, 0, 1)
    return skins_around(header)


def _make_answers_picture(
    shown: Sequence[tuple[Header, str, str]],
    chassis: Mapping[str, TriangleMesh],
    parts: Sequence[TriangleMesh],
    path: Path,
    report: Report,
) -> None:
    from headergen.outputs.picture.answers import Shown, render_answers
    from headergen.show.chassis import chassis_meshes

    _begin(report)
    meshes = {name: (mesh.vertices, mesh.faces) for name, mesh in chassis.items()}
    items = chassis_meshes(shown[0][0].draft.chassis, meshes)
    render_answers(path, [Shown(*each) for each in shown], items, parts)
    report(PICTURE, 1, 1)


def _make_mesh_picture(mesh: Any, title: str, path: Path, report: Report) -> None:
    from headergen.outputs.picture import render_mesh
    from headergen.show.chassis import with_spots

    _begin(report)
    render_mesh(path, with_spots(mesh), title)
    report(PICTURE, 1, 1)
