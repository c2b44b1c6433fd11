"""The jobs of pictures: of a header and its parts, of several answers of a search, of a single mesh."""

from __future__ import annotations

import os
import platform
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.jobs.outcome import Missing, NotMade, Report, WorkError, buildable, cannot_render, paired_arrays
from headergen.jobs.parts import BODIES, SKINS
from headergen.jobs.parts import SCRATCH as PARTS_SCRATCH
from headergen.jobs.process import Failure, Work, reuse_freed_memory, run
from headergen.jobs.schedule import Answers, Step
from headergen.model import Header, Result
from headergen.outputs.picture.marks import Mark, marks_of
from headergen.show.chassis import to_draw
from headergen.store.files import keep, taken, tidy, users_folder
from headergen.store.keys import key_of_values

SOLIDS, PICTURE, PICTURE_AGAIN = "solids", "picture", "picture again"
PICTURE_FILE = "picture.png"
RENDERER = "renderer"  # the child that draws
FIRST_JUDGED = "judged first"  # the step with the findings on a header with its parts, before common metal is known
JUDGED = "judged"  # the same with all findings
CHASSIS_SCRATCH = ".chassis.npz"
FORMAT = 2  # increased when what is kept of a picture changes
MOST_KEPT = 60_000_000  # bytes of kept pictures
LIBRARIES = ("vtk", "numpy")
PNG = b"\x89PNG\r\n\x1a\n"
DRIVERS = ("lib*/libgallium*", "lib*/libEGL_*", "lib*/*/libgallium*", "lib*/*/libEGL_*", "lib*/*/dri/*_dri.so")
CHOOSERS = ("LIBGL_", "GALLIUM_", "MESA_", "LP_", "VTK_", "__EGL_", "EGL_")  # prefixes of environment variables


def begin_pictures() -> Any:
    """Rooms that are open and warm. Raises RuntimeError if nothing is drawn; without GL, VTK ends the process."""
    from headergen.outputs.picture import can_render
    from headergen.outputs.picture.stage import warmed

    reuse_freed_memory()
    rooms = warmed()
    if not can_render(rooms):
        raise RuntimeError("the renderer draws nothing")
    return rooms


def picture_steps(
    chassis: Mapping[str, Any], without: frozenset[str], folder: Path, report: Report
) -> tuple[Step, Step]:
    """Make the picture of a header and its parts: without errors as soon as all bodies exist; with errors, which are
    marked on it, when it is known which parts share metal.

    A picture that was made of the same input before is taken from the cache.

    `chassis` holds the items that are meshes, indexed.
    """

    def of(result: Result, skins: Mapping[str, TriangleMesh]) -> Work | None:
        header, scratch = buildable(result.header, without), folder / CHASSIS_SCRATCH
        drawn = {name: to_draw(mesh, header) for name, mesh in chassis.items()}
        marks = marks_of(result.header, result.findings)  # including primaries without a solid
        meshes = [(name, mesh.vertices, mesh.faces) for name, mesh in (*drawn.items(), *skins.items())]
        key = key_of_values((FORMAT, header, marks, tuple(meshes), renderer()), LIBRARIES)
        if key is not None and (content := taken(kept_pictures(), key, _read_picture)) is not None:
            (folder / PICTURE_FILE).write_bytes(content)
            return None
        np.savez(scratch, *(array for mesh in drawn.values() for array in (mesh.vertices, mesh.faces)))
        arrays = (scratch, folder / PARTS_SCRATCH)
        return _make_picture, (header, marks, tuple(chassis), arrays, (folder / PICTURE_FILE, key))

    def again(answers: Answers) -> Work | None:
        marks = marks_of(answers[JUDGED].header, answers[JUDGED].findings)
        if isinstance(answers[PICTURE], Failure) or not marks:
            return None
        return of(answers[JUDGED], answers[SKINS].skins)

    def heard(*progress: Any) -> None:
        report(*progress)

    def first(answers: Answers) -> Work | None:
        result = answers[FIRST_JUDGED]
        if marks_of(result.header, result.findings):  # more marks are likely to come
            return None
        return of(result, answers[BODIES].skins)

    return (
        Step(PICTURE, first, RENDERER, (FIRST_JUDGED,), heard),
        Step(PICTURE_AGAIN, again, RENDERER, (PICTURE, JUDGED), heard),
    )


def drawn_at_last(answers: Answers) -> Any:
    """A Failure where there is no picture."""
    return answers[PICTURE_AGAIN] or answers[PICTURE]


def kept_pictures() -> Path:
    return users_folder("pictures")


def _read_picture(kept: Mapping[str, Any]) -> bytes:
    """Raises ValueError if it is not a PNG."""
    content: bytes = kept["png"].tobytes()
    if not content.startswith(PNG):
        raise ValueError("what was kept is no picture")
    return content


def renderer() -> tuple[Any, ...]:
    """What draws besides VTK: the system, the files of its GL drivers, and the variables that choose among them."""
    drivers = sorted(path for pattern in DRIVERS for path in Path("/usr").glob(pattern))
    stats = tuple((str(path), path.stat().st_size, path.stat().st_mtime_ns) for path in drivers if path.exists())
    chosen = tuple(sorted((k, v) for k, v in os.environ.items() if k.startswith(CHOOSERS)))
    return platform.platform(), stats, chosen


def none_to_draw() -> tuple[Step, Step]:
    """The steps for a header of which nothing is made."""
    return Step(PICTURE, lambda _: None), Step(PICTURE_AGAIN, lambda _: None)


def not_pictured(answer: Any, folder: Path) -> NotMade:
    """Why there is no picture, if there is none."""
    (folder / CHASSIS_SCRATCH).unlink(missing_ok=True)
    if not isinstance(answer, Failure):
        return ()
    (folder / PICTURE_FILE).unlink(missing_ok=True)
    return (Missing(PICTURE_FILE, cannot_render(answer)),)


def picture_mesh(mesh: Any, title: str, path: Path, report: Report) -> None:
    """Write a picture of one indexed mesh. Raises WorkError if this machine cannot render."""
    answer = run((_make_mesh_picture, (mesh, title, path)), report)
    if isinstance(answer, Failure):
        raise WorkError(cannot_render(answer))


def picture_answers(
    shown: Sequence[tuple[Header, str, str]], chassis: Mapping[str, Any], path: Path, report: Report
) -> NotMade:
    """Make one picture of several headers that differ only in their primaries, each with its name and its figures.

    Returns why that could not be done, if it could not. `chassis` as for picture_step.
    """
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
    to: tuple[Path, str | None],
    rooms: Any,
    report: Report,
) -> None:
    """`to`: the file, and the key under which the picture is kept."""
    from headergen.outputs.picture import render_header

    report(PICTURE, 0, 1)
    path, key = to
    chassis = dict(zip(names, paired_arrays(scratch[0]), strict=True))
    parts = [TriangleMesh(*pair, closed=True) for pair in paired_arrays(scratch[1])]
    render_header(path, header, chassis, marks, parts, rooms)
    if key is not None:
        keep(kept_pictures(), key, {"png": np.frombuffer(path.read_bytes(), np.uint8)})
        tidy(kept_pictures(), MOST_KEPT)
    report(PICTURE, 1, 1)


def _begin(report: Report) -> None:
    """Raises RuntimeError if the renderer draws nothing, so that every picture would be empty."""
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
