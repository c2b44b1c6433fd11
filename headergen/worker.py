"""Work that takes seconds, in child processes: solids in one, the picture in another.

The CAD kernel holds the interpreter's lock and a renderer without a screen may end its process; in children neither
can freeze the progress bar, swallow Ctrl-C or take the run down. Children get plain data and paths, write into the
folder they are given, and send back what they did; only the parent renames and kills.
"""

from __future__ import annotations

import multiprocessing
import signal
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from multiprocessing.connection import Connection, wait
from pathlib import Path
from typing import Any

import numpy as np

from headergen.geometry.merging import has_merge, possible_merge
from headergen.geometry.mesh import TriangleMesh
from headergen.geometry.plate import holes_are_apart, plate_of
from headergen.geometry.secondary import can_be_made
from headergen.geometry.tube_mesh import tube_mesh
from headergen.model import Draft, Header, MockSettings, Overlap, Part, Result
from headergen.outputs.picture.chassis import to_draw
from headergen.solve.effort import Effort as Effort

Report = Callable[[str, int, int], None]  # stage, done, total

SOLIDS, PICTURE, MOCK, GUIDE = "solids", "picture", "mock", "mock pictures"
MOCK_SCRATCH = ".parts.npz"
PICTURE_FILE = "picture.png"
DXF_FILE = "flange.dxf"
GLB_FILE = "header.glb"


class WorkError(RuntimeError):
    """A legal part could not be made."""


NotMade = tuple[tuple[str, str], ...]  # what, and why


@dataclass(frozen=True, eq=False)
class Made:
    """What came of the solids: the parts, where two share metal, the meshes of parts that are not tubes, by name."""

    parts: tuple[Part, ...]
    overlaps: tuple[Overlap, ...]
    skins: Mapping[str, TriangleMesh]
    not_made: NotMade


def make_solids(header: Header, without: frozenset[int], folder: Path, report: Report) -> Made:
    """Make every file of a checked header but its picture and reports, in `folder`.

    `without` names the primaries of which no legal solid exists. Raises WorkError when a legal one failed.
    """
    header, not_made = buildable(header, without), _without_solid(without)
    if not header.primaries:
        return Made((), (), {}, not_made)
    scratch = folder / ".parts.npz"
    try:
        answer = _run({SOLIDS: (_make_parts, (header, folder, scratch))}, report)[SOLIDS]
        if isinstance(answer, Failure):
            raise WorkError(answer.why)
        meshes = [TriangleMesh(*pair, closed=True) for pair in _pairs(scratch)]
    finally:
        scratch.unlink(missing_ok=True)
    parts, overlaps, names = answer
    return Made(parts, overlaps, dict(zip(names, meshes, strict=True)), not_made + _not_possible(header))


def make_picture(
    result: Result, chassis: Mapping[str, Any], made: Made, without: frozenset[int], folder: Path, report: Report
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
    errors = sum(finding.level == "error" for finding in result.findings)
    path = folder / PICTURE_FILE
    try:
        answer = _run({PICTURE: (_make_picture, (header, errors, tuple(chassis), scratch, path))}, report)[PICTURE]
    finally:
        for each in scratch:
            each.unlink(missing_ok=True)
    if not isinstance(answer, Failure):
        return ()
    path.unlink(missing_ok=True)
    return ((PICTURE_FILE, f"this machine cannot render: {answer.why}; the README names what it needs"),)


def picture_mesh(mesh: Any, title: str, path: Path, report: Report) -> None:
    """Write a picture of one indexed mesh. Raises WorkError when this machine cannot render."""
    answer = _run({PICTURE: (_make_mesh_picture, (mesh, title, path))}, report)[PICTURE]
    if isinstance(answer, Failure):
        raise WorkError(f"this machine cannot render: {answer.why}; the README names what it needs")


def picture_answers(
    shown: Sequence[tuple[Header, str, str]], chassis: Mapping[str, Any], path: Path, report: Report
) -> NotMade:
    """Make one picture of several headers that differ in their primaries alone, each with its name and its figures;
    what comes back is why that could not be done, where it could not. `chassis` as for make_picture."""
    first = shown[0][0]
    around = _run({SOLIDS: (_make_skins_around, (first,))}, report)[SOLIDS]
    skins = () if isinstance(around, Failure) else around  # tubes alone are better than no picture
    drawn = {name: to_draw(mesh, first) for name, mesh in chassis.items()}
    beside = path.with_name(f".{path.name}.new")
    try:
        answer = _run({PICTURE: (_make_answers_picture, (shown, drawn, skins, beside))}, report)[PICTURE]
        if isinstance(answer, Failure):
            return ((path.name, f"this machine cannot render: {answer.why}; the README names what it needs"),)
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)
    return ()


def make_mock(
    result: Result, settings: MockSettings, without: frozenset[int], folder: Path, report: Report, drawn: bool
) -> NotMade:
    """Make the fit mock in a folder of its own; its pictures only if the machine has `drawn` one already.

    Raises WorkError when a legal part of it failed.
    """
    header = buildable(result.header, without)
    if not header.primaries:
        return ()
    errors = sum(finding.level == "error" for finding in result.findings)
    facts = _run({MOCK: (_make_mock, (header, settings, errors, folder / MOCK))}, report)[MOCK]
    if isinstance(facts, Failure):
        raise WorkError(facts.why)
    return _finish_mock(facts, header, errors, folder / MOCK, report if drawn else None)


def _finish_mock(
    facts: Any, header: Header, errors: int, folder: Path, report: Report | None
) -> tuple[tuple[str, str], ...]:
    """The pictures of a mock, unless `report` is None for want of a renderer, and its sheet; what was not made."""
    from headergen.outputs.mock_sheet import write_mock_sheet

    if isinstance(facts, str):
        return (("fit mock", facts),)
    scratch = folder / MOCK_SCRATCH
    pictures: Any = Failure("this machine cannot render; the README names what it needs")
    if report is not None:
        pictures = _run({GUIDE: (_make_guide, (header, errors, scratch, folder))}, report)[GUIDE]
    scratch.unlink(missing_ok=True)
    failed = isinstance(pictures, Failure)
    write_mock_sheet(folder / "mock.md", facts if failed else replace(facts, pictures=pictures))
    return (("pictures of the fit mock", pictures.why),) if failed else ()


def _without_solid(numbers: frozenset[int]) -> tuple[tuple[str, str], ...]:
    return tuple((f"solid of primary {number}", "no legal solid: see the findings") for number in sorted(numbers))


def _not_possible(header: Header) -> tuple[tuple[str, str], ...]:
    made = []
    if not holes_are_apart(plate_of(header.draft.flange, header.draft.tube)):
        made += [(name, "its holes run into each other: see the findings") for name in ("solid of flange", DXF_FILE)]
    for collector in header.draft.collectors:
        if has_merge(collector) and possible_merge(header.draft.tube, collector) is None:
            made.append((f"solid of collector {collector.name}", "no merge is possible: see the findings"))
    made += [
        (f"solid of {each.name}", "no legal solid: see the findings")
        for each in header.secondaries
        if not can_be_made(each)
    ]
    return tuple(made)


def buildable(header: Header, without: frozenset[int]) -> Header:
    """The header without the primaries of which no legal solid exists."""
    kept = [
        (primary, line)
        for primary, line in zip(header.primaries, header.centrelines, strict=True)
        if primary.number not in without
    ]
    return replace(header, primaries=tuple(p for p, _ in kept), centrelines=tuple(line for _, line in kept))


@dataclass(frozen=True)
class Failure:
    why: str


def _run(jobs: Mapping[str, tuple[Callable[..., Any], tuple[Any, ...]]], report: Report) -> dict[str, Any]:
    """Run each job in its own spawned process; answers by name, a Failure where one did not come through."""
    context = multiprocessing.get_context("spawn")
    running: dict[Any, tuple[str, Any]] = {}
    answers: dict[str, Any] = {}
    try:
        for name, (function, arguments) in jobs.items():
            ours, theirs = context.Pipe()
            process = context.Process(target=_child, args=(theirs,), daemon=True)
            running[ours] = (name, process)
            failure = _start(process, ours, theirs, (function, arguments))
            if failure is not None:
                answers[name] = failure
                del running[ours]
        while running:
            for ready in wait(list(running)):
                _receive(ready, running, answers, report)
    finally:
        for _, process in running.values():
            if process.pid is not None:
                process.kill()
                process.join()
    return answers


def _start(process: Any, ours: Connection, theirs: Connection, work: tuple[Any, ...]) -> Failure | None:
    """Start a child and hand it its work, a function and its arguments; why not, where it ended before it had it.

    Ctrl-C waits for the start alone: cut off half way, the child would find nothing and say so in a traceback. It
    never hears it itself, from its first moment on. The work is sent after that, since it may be large.
    """
    from multiprocessing import resource_tracker

    resource_tracker.ensure_running()  # started later, it would let the signal in again
    with _interrupts_held():
        process.start()
    theirs.close()
    try:
        ours.send(work)
    except ConnectionError:
        process.join()
        return Failure(f"its process ended early (exit code {process.exitcode})")
    return None


@contextmanager
def _interrupts_held() -> Iterator[None]:
    """Ctrl-C is heard after what stands within; processes started there have it blocked."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    heard: list[int] = []
    before = signal.signal(signal.SIGINT, lambda number, _: heard.append(number))
    has_mask = hasattr(signal, "pthread_sigmask")
    mask = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT}) if has_mask else set()
    try:
        yield
    finally:
        if has_mask:
            signal.pthread_sigmask(signal.SIG_SETMASK, mask)
        signal.signal(signal.SIGINT, before)
    if heard:
        raise KeyboardInterrupt


def _receive(ready: Any, running: dict[Any, tuple[str, Any]], answers: dict[str, Any], report: Report) -> None:
    name, process = running[ready]
    try:
        kind, content = ready.recv()
    except (EOFError, ConnectionError):
        process.join()
        answers.setdefault(name, Failure(f"its process ended early (exit code {process.exitcode})"))
        del running[ready]
        return
    if kind == "progress":
        report(*content)
    else:
        answers[name] = content


def _child(connection: Connection) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent hears Ctrl-C and kills
    try:
        function, arguments = connection.recv()
    except (EOFError, ConnectionError):  # the parent was stopped before it had sent the work
        return

    def report(*progress: Any) -> None:
        connection.send(("progress", progress))

    try:
        answer = function(*arguments, report)
    except Exception as error:  # whatever it is, the parent must hear of it in one line
        answer = Failure(f"{error}" if isinstance(error, RuntimeError) else f"{type(error).__name__}: {error}")
    connection.send(("answer", answer))
    connection.close()


def _make_parts(
    header: Header, folder: Path, skins: Path, report: Report
) -> tuple[tuple[Part, ...], tuple[Overlap, ...], tuple[str, ...]]:
    """Every part in its files, where two share metal, and the names of those whose meshes are put into `skins`."""
    from headergen.outputs.dxf import write_drawings
    from headergen.outputs.gltf import write_glb
    from headergen.outputs.stl import write_stl
    from headergen.solids.build import make_parts

    draft, written, others, parts = header.draft, {}, {}, []
    solids, overlaps = make_parts(header, folder, report)
    drawings = write_drawings(folder, draft, {solid.name: Path(solid.files[0]).stem for solid in solids})
    for solid in solids:
        mesh = solid.mesh
        if mesh is None:
            assert solid.line is not None
            radii = draft.tube.radius, draft.tube.radius - draft.tube.wall
            mesh = tube_mesh(solid.line, *radii, draft.limits.chord_error)
        if solid.role != "primary":
            others[solid.name] = mesh
        stl = Path(solid.files[0]).with_suffix(".stl").name
        volume = write_stl(folder / stl, mesh, solid.name, draft.limits.chord_error)
        more = (drawings[solid.name],) if solid.name in drawings else ()
        files = (*solid.files, stl, GLB_FILE, *more)
        parts.append(Part(solid.name, solid.role, files, solid.volume, volume, solid.closed, solid.centre))
        written[solid.name] = mesh
    write_glb(folder / GLB_FILE, written)
    np.savez(skins, *(array for mesh in others.values() for array in (mesh.vertices, mesh.faces)))
    return tuple(parts), overlaps, tuple(others)


def _make_mock(header: Header, settings: MockSettings, errors: int, folder: Path, report: Report) -> Any:
    """What the sheet of the mock has to say, or, as text, why one cannot be printed as asked."""
    from headergen.mock.build import make_mock
    from headergen.mock.part import in_place
    from headergen.mock.solid import MockError
    from headergen.outputs.dxf import write_plate_dxf
    from headergen.outputs.mock_sheet import MockFacts
    from headergen.outputs.stl import write_stl

    try:
        mock = make_mock(header, settings, report)
    except MockError as error:
        return str(error)
    parts = folder / "parts"
    parts.mkdir(parents=True)
    for part in mock.printed:
        write_stl(parts / f"{part.name}.stl", part.mesh, f"fit mock {part.name}")
    title = f"{header.draft.job.title} {header.draft.job.revision}{', NOT CLEAR' if errors else ''}"
    plates = _write_plates(folder, f"{title}: fit mock", "plate", (mock.printed, mock.placed))
    _write_plates(folder, f"{title}: fit coupon", "coupon", (mock.coupon, mock.coupon_placed))
    for plate in (plate for pair in mock.pairs for plate in pair.plates):
        write_plate_dxf(folder / f"{plate.name}.dxf", plate, title)
    meshes = {part.name: in_place(part) for part in (*mock.parts, *mock.collectors)}
    arrays = {f"{name} {what}": getattr(m, what) for name, m in meshes.items() for what in ("vertices", "faces")}
    np.savez(folder / MOCK_SCRATCH, **arrays)
    return MockFacts(header.draft.job, errors, mock.settings, mock.facts, plates, mock.notes, mock.pairs, mock.cuts)


def _make_guide(
    header: Header, errors: int, scratch: Path, folder: Path, report: Report
) -> tuple[tuple[int, str], ...]:
    from headergen.outputs.picture.guide import draw_guide

    with np.load(scratch) as arrays:
        names = dict.fromkeys(key.rpartition(" ")[0] for key in arrays.files)
        parts = {name: (arrays[f"{name} vertices"], arrays[f"{name} faces"]) for name in names}
    return draw_guide(folder, header, parts, errors, lambda done, total: report(GUIDE, done, total))


def _write_plates(folder: Path, title: str, name: str, standing: tuple[Sequence[Any], Sequence[Any]]) -> int:
    """One 3MF a bed plate, of parts and where each is placed; how many there are."""
    from headergen.outputs.threemf import OnBed, write_3mf

    pairs = list(zip(*standing, strict=True))
    count: int = max(place.plate for _, place in pairs)
    for number in range(1, count + 1):
        here = [OnBed(p.name, p.mesh, place.turn, place.shift) for p, place in pairs if place.plate == number]
        write_3mf(folder / f"{name}_{number}.3mf", f"{title}, plate {number} of {count}", here)
    return count


def _make_picture(
    header: Header, errors: int, names: tuple[str, ...], scratch: tuple[Path, Path], path: Path, report: Report
) -> None:
    from headergen.outputs.picture import can_render, render_header

    report(PICTURE, 0, 1)
    if not can_render():
        raise RuntimeError("the renderer draws nothing")
    chassis = dict(zip(names, _pairs(scratch[0]), strict=True))
    parts = [TriangleMesh(*pair, closed=True) for pair in _pairs(scratch[1])]
    render_header(path, header, chassis, errors, parts)
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
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=_child, args=(theirs,), daemon=True)
    best: Any = None
    try:
        failure = _start(process, ours, theirs, (_find, (draft, dict(meshes), effort)))
        if failure is not None:
            raise WorkError(failure.why)
        while True:
            kind, content = ours.recv()
            if kind == "answer":
                if isinstance(content, Failure):
                    raise WorkError(content.why)
                return content
            best = content[1] if content[1] is not None else best
            watch(content[0])
    except (EOFError, ConnectionError):
        process.join()
        raise WorkError(f"the search ended early (exit code {process.exitcode})") from None
    except KeyboardInterrupt:
        if best is None:
            raise
        return replace(best, stopped=True)
    finally:
        if process.pid is not None:
            process.kill()
            process.join()


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
