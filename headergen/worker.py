"""Work that takes seconds, in child processes: solids in one, the picture in another.

The CAD kernel holds the interpreter's lock and a renderer without a screen may end its process; in children neither
can freeze the progress bar, swallow Ctrl-C or take the run down. Children get plain data and paths, write into the
folder they are given, and send back what they did; only the parent renames and kills.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from headergen.children import Failure, run, talk, words_of
from headergen.geometry.merge.design import has_merge, possible_merge
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.geometry.mesh.tube import tube_mesh
from headergen.geometry.plate.flange import holes_are_apart, plate_of
from headergen.model import Draft, Header, MockSettings, Overlap, Part, Result
from headergen.outputs.picture.chassis import to_draw
from headergen.outputs.picture.marks import Mark, marks_of
from headergen.solve.effort import Effort as Effort

Report = Callable[[str, int, int], None]  # stage, done, total

SOLIDS, PICTURE, MOCK, GUIDE = "solids", "picture", "mock", "mock pictures"
MOCK_SCRATCH = ".parts.npz"
RUN_ROLES = ("primary", "secondary")  # what is measured and drawn as tubes
PICTURE_FILE = "picture.png"
DXF_FILE = "flange.dxf"
GLB_FILE = "header.glb"
FOR_SOLIDS = "apt-get install libgl1 libexpat1"  # what a slim Debian lacks, as the README has it
FOR_PICTURE = "apt-get install libegl1 libegl-mesa0 libgl1-mesa-dri"


class WorkError(RuntimeError):
    """A legal part could not be made."""


@dataclass(frozen=True)
class Missing:
    """Something that was not made, and why. `failed`: it should have been, which is no fault of the job."""

    what: str
    why: str
    failed: bool = False


NotMade = tuple[Missing, ...]


@dataclass(frozen=True, eq=False)
class Made:
    """What came of the solids: the parts, where two share metal, the meshes of parts that are not tubes, by name."""

    parts: tuple[Part, ...]
    overlaps: tuple[Overlap, ...]
    skins: Mapping[str, TriangleMesh]
    not_made: NotMade


def make_solids(header: Header, without: frozenset[str], folder: Path, report: Report) -> Made:
    """Make every file of a checked header but its picture and reports, in `folder`.

    `without` names the primaries of which no legal solid exists. A legal part that fails is left out and said to be
    missing. Raises WorkError when none could be made, OSError where the disk takes no more.
    """
    header, not_made = buildable(header, without), _without_solid(without)
    if not header.primaries:
        return Made((), (), {}, not_made)
    scratch = folder / ".parts.npz"
    try:
        (parts, overlaps, names), failed = _parts_that_come(header, (folder, scratch), report)
        meshes = [TriangleMesh(*pair, closed=True) for pair in _pairs(scratch)]
    finally:
        scratch.unlink(missing_ok=True)
    not_made += _not_possible(header) + tuple(Missing(what, why, failed=True) for what, why in failed.items())
    return Made(parts, overlaps, dict(zip(names, meshes, strict=True)), not_made)


def _parts_that_come(header: Header, places: tuple[Path, Path], report: Report) -> tuple[Any, dict[str, str]]:
    """What _make_parts answers, and the parts that failed, with why: also those at which the kernel took its process
    down, which is started again without them."""
    fatal: dict[str, str] = {}
    while True:
        under_way = [""]

        def heard(stage: str, done: int, total: int, name: str, under_way: list[str] = under_way) -> None:
            under_way[0] = name
            report(stage, done, total)

        answer = run((_make_parts, (header, *places, frozenset(fatal))), heard)
        if not isinstance(answer, Failure):
            made, failed = answer
            return made, {**fatal, **failed}
        if answer.lacks_library:
            raise WorkError(f"the CAD library cannot be loaded: {answer.why}; a slim Debian needs `{FOR_SOLIDS}`")
        if not answer.ended or not under_way[0]:
            raise WorkError(answer.why)
        fatal[under_way[0]] = answer.why


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


def cannot_render(failure: Failure) -> str:
    return f"this machine cannot render: {failure.why}; a slim Debian needs `{FOR_PICTURE}`"


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


def make_mock(
    result: Result, settings: MockSettings, without: frozenset[str], folder: Path, report: Report, drawn: bool
) -> NotMade:
    """Make the fit mock in a folder of its own; its pictures only if the machine has `drawn` one already.

    What comes back is what of it was not made; a mock that fails takes nothing else with it. Raises OSError where the
    disk takes no more.
    """
    header = buildable(result.header, without)
    if not header.primaries:
        return ()
    errors = sum(finding.level == "error" for finding in result.findings)
    answer = run((_make_mock, (header, settings, errors, folder / MOCK)), report)
    if isinstance(answer, Failure):
        shutil.rmtree(folder / MOCK, ignore_errors=True)
        return (Missing("fit mock", answer.why, failed=True),)
    failed = tuple(Missing(f"{what} of the fit mock", why, failed=True) for what, why in answer.failed)
    return failed + _finish_mock(answer, header, errors, folder / MOCK, report if drawn else None)


def _finish_mock(facts: Any, header: Header, errors: int, folder: Path, report: Report | None) -> NotMade:
    """The pictures of a mock, unless `report` is None for want of a renderer, and its sheet; what was not made."""
    from headergen.outputs.mock_sheet import write_mock_sheet

    scratch = folder / MOCK_SCRATCH
    pictures: Any = Failure("the picture of the header failed already")
    if report is not None:
        pictures = run((_make_guide, (header, errors, scratch, folder)), report)
    scratch.unlink(missing_ok=True)
    failed = isinstance(pictures, Failure)
    write_mock_sheet(
        folder / "mock.md", facts if failed else replace(facts, together=pictures[0], pictures=pictures[1])
    )
    return (Missing("pictures of the fit mock", cannot_render(pictures)),) if failed else ()


def _without_solid(names: frozenset[str]) -> NotMade:
    return tuple(Missing(f"solid of {name}", "no legal solid: see the findings") for name in sorted(names))


def _not_possible(header: Header) -> NotMade:
    made = []
    if not holes_are_apart(plate_of(header.draft.flange, header.draft.tube)):
        why = "its holes run into each other: see the findings"
        made += [Missing(name, why) for name in ("solid of flange", DXF_FILE)]
    for collector in header.draft.collectors:
        if has_merge(collector) and possible_merge(header.draft.tube, collector) is None:
            made.append(Missing(f"solid of collector {collector.name}", "no merge is possible: see the findings"))
    return tuple(made)


def buildable(header: Header, without: frozenset[str]) -> Header:
    """The header without the runs of which no legal solid exists."""
    return header.with_runs({run.name for run in header.runs} - without)


def _make_parts(
    header: Header, folder: Path, skins: Path, without: frozenset[str], report: Callable[..., None]
) -> tuple[tuple[tuple[Part, ...], tuple[Overlap, ...], tuple[str, ...]], dict[str, str]]:
    """Every part in its files but those in `without`, where two share metal, and the names of those whose meshes are
    put into `skins`; and what failed, with why."""
    from headergen.outputs.cad_script import write_cad_script
    from headergen.outputs.dxf import write_drawings
    from headergen.outputs.gltf import write_glb
    from headergen.outputs.stl import write_stl
    from headergen.solids.build import make_parts

    draft, written, others, parts, failed = header.draft, {}, {}, [], dict[str, str]()

    def on_failure(name: str, error: Exception) -> None:
        failed[name] = words_of(error).removeprefix(f"{name}: ")

    solids, overlaps = make_parts(header, folder, report, on_failure, without)
    if not solids:
        raise WorkError("; ".join(f"{name}: {why}" for name, why in failed.items()))
    drawings = write_drawings(folder, draft, {solid.name: Path(solid.files[0]).stem for solid in solids})
    for solid in solids:
        mesh = solid.mesh
        if mesh is None:
            assert solid.line is not None and solid.tube is not None
            radii = solid.tube.radius, solid.tube.radius - solid.tube.wall
            mesh = tube_mesh(solid.line, *radii, draft.limits.chord_error)
        if solid.role not in RUN_ROLES:
            others[solid.name] = mesh
        stl = Path(solid.files[0]).with_suffix(".stl").name
        volume = write_stl(folder / stl, mesh, solid.name, draft.limits.chord_error)
        more = (drawings[solid.name],) if solid.name in drawings else ()
        files = (*solid.files, stl, GLB_FILE, *more)
        parts.append(Part(solid.name, solid.role, files, solid.volume, volume, solid.closed, solid.centre))
        written[solid.name] = mesh
    write_glb(folder / GLB_FILE, written)
    write_cad_script(folder, header, [solid.name for solid in solids])
    np.savez(skins, *(array for mesh in others.values() for array in (mesh.vertices, mesh.faces)))
    return (tuple(parts), overlaps, tuple(others)), failed


def _make_mock(header: Header, settings: MockSettings, errors: int, folder: Path, report: Report) -> Any:
    """What the sheet of the mock has to say. Raises MockError where one cannot be printed as asked."""
    from headergen.mock.build import make_mock
    from headergen.mock.part import in_place
    from headergen.outputs.dxf import write_plate_dxf
    from headergen.outputs.mock_sheet import MockFacts
    from headergen.outputs.stl import write_stl

    failed: list[tuple[str, str]] = []
    mock = make_mock(header, settings, report, lambda name, error: failed.append((name, words_of(error))))
    parts = folder / "parts"
    parts.mkdir(parents=True)
    for part in mock.printed:
        write_stl(parts / f"{part.name}.stl", part.mesh, f"fit mock {part.name}")
    title = f"{header.draft.job.title} {header.draft.job.revision}{', NOT CLEAR' if errors else ''}"
    plates = _write_plates(folder, f"{title}: fit mock", "plate", (mock.printed, mock.placed))
    _write_plates(folder, f"{title}: fit coupon", "coupon", (mock.coupon, mock.coupon_placed))
    for plate in (plate for pair in mock.pairs for plate in pair.plates):
        write_plate_dxf(folder / f"{plate.name}.dxf", plate, title, header.draft.units)
    meshes = {part.name: in_place(part) for part in mock.printed if part not in mock.plugs}
    arrays = {f"{name} {what}": getattr(m, what) for name, m in meshes.items() for what in ("vertices", "faces")}
    np.savez(folder / MOCK_SCRATCH, **arrays)
    said = MockFacts(header.draft.job, errors, mock.settings, mock.facts, plates, mock.notes, mock.pairs, mock.cuts)
    return replace(said, failed=tuple(failed), units=header.draft.units)


def _make_guide(
    header: Header, errors: int, scratch: Path, folder: Path, report: Report
) -> tuple[str, tuple[tuple[int, str], ...]]:
    """The files of the pictures: the one of all parts, and each primary's."""
    from headergen.outputs.picture.guide import draw_guide
    from headergen.outputs.picture.together import draw_together

    with np.load(scratch) as arrays:
        names = dict.fromkeys(key.rpartition(" ")[0] for key in arrays.files)
        parts = {name: (arrays[f"{name} vertices"], arrays[f"{name} faces"]) for name in names}
    meshes = {name: TriangleMesh(*pair, closed=True) for name, pair in parts.items()}
    together = draw_together(folder, header, meshes, errors)
    return together, draw_guide(folder, header, parts, errors, lambda done, total: report(GUIDE, done, total))


def _write_plates(folder: Path, title: str, name: str, standing: tuple[Sequence[Any], Sequence[Any]]) -> int:
    """One 3MF a bed plate, of parts and where each is placed; how many there are."""
    from headergen.outputs.threemf import OnBed, write_3mf

    pairs = list(zip(*standing, strict=True))
    count: int = max((place.plate for _, place in pairs), default=0)
    for number in range(1, count + 1):
        here = [OnBed(p.name, p.mesh, place.turn, place.shift) for p, place in pairs if place.plate == number]
        write_3mf(folder / f"{name}_{number}.3mf", f"{title}, plate {number} of {count}", here)
    return count


def _make_picture(
    header: Header,
    marks: Sequence[Mark],
    names: tuple[str, ...],
    scratch: tuple[Path, Path],
    path: Path,
    report: Report,
) -> None:
    from headergen.outputs.picture import can_render, render_header

    report(PICTURE, 0, 1)
    if not can_render():
        raise RuntimeError("the renderer draws nothing")
    chassis = dict(zip(names, _pairs(scratch[0]), strict=True))
    parts = [TriangleMesh(*pair, closed=True) for pair in _pairs(scratch[1])]
    render_header(path, header, chassis, marks, parts)
    report(PICTURE, 1, 1)


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
    from headergen.outputs.picture import can_render
    from headergen.outputs.picture.answers import Shown, render_answers
    from headergen.outputs.picture.chassis import chassis_meshes

    report(PICTURE, 0, 1)
    if not can_render():
        raise RuntimeError("the renderer draws nothing")
    meshes = {name: (mesh.vertices, mesh.faces) for name, mesh in chassis.items()}
    items = chassis_meshes(shown[0][0].draft.chassis, meshes)
    render_answers(path, [Shown(*each) for each in shown], items, parts)
    report(PICTURE, 1, 1)


def _make_mesh_picture(mesh: Any, title: str, path: Path, report: Report) -> None:
    from headergen.outputs.picture import can_render, render_mesh
    from headergen.outputs.picture.chassis import with_spots

    report(PICTURE, 0, 1)
    if not can_render():
        raise RuntimeError("the renderer draws nothing")
    render_mesh(path, with_spots(mesh), title)
    report(PICTURE, 1, 1)


def _pairs(path: Path) -> list[tuple[Any, Any]]:
    """The arrays of a file two by two, in the order in which they were put in."""
    with np.load(path) as arrays:
        found = [arrays[f"arr_{k}"] for k in range(len(arrays.files))]
    return list(zip(found[::2], found[1::2], strict=True))


@dataclass(frozen=True)
class Sofar:
    """How a search for paths stands: tries, and of the best answer bends, degrees, spread and room; 0 bends: none."""

    rounds: int
    bends: int = 0
    degrees: float = 0.0
    spread: float = 0.0
    room: float = 0.0


def find_paths(draft: Draft, meshes: Mapping[str, Any], effort: Effort, watch: Callable[[Sofar], None]) -> Any:
    """Look for paths in a child process, as `solve.route.route` does; what it found, or a Routed of the best so far
    where Ctrl-C stopped it (rounds then count to that answer). Raises WorkError when the child failed."""
    best: Any = None
    try:
        with closing(talk((_find, (draft, dict(meshes), effort)))) as heard:
            for kind, content in heard:
                if kind == "progress":
                    best = content[1] if content[1] is not None else best
                    watch(content[0])
                elif isinstance(content, Failure):
                    raise WorkError(f"the search failed: {content.why}")
                else:
                    return content
    except KeyboardInterrupt:
        if best is None:
            raise
        return replace(best, stopped=True)
    raise AssertionError("the last that is heard is an answer")


def _find(draft: Draft, meshes: dict[str, Any], effort: Effort, report: Callable[..., None]) -> Any:
    from headergen.solve.route import Found, Routed, route

    last: list[Any] = [None]

    def watch(found: Found) -> None:
        best = found.best
        if best is None:
            report(Sofar(found.rounds), None)
            return
        news = None if best is last[0] else Routed(tuple(found.answers[: effort.answers]), found.rounds, found.places)
        last[0] = best
        report(Sofar(found.rounds, best.bends, best.degrees, best.spread, best.smallest_gap), news)

    return route(draft, meshes, effort, watch)
