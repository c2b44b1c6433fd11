"""Work that takes seconds, in child processes: solids in one, the picture in another.

The CAD kernel holds the interpreter's lock and a renderer without a screen may end its process; in children neither
can freeze the progress bar, swallow Ctrl-C or take the run down. Children get plain data and paths, write into the
folder they are given, and send back what they did; only the parent renames and kills.
"""

from __future__ import annotations

import multiprocessing
import signal
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from multiprocessing.connection import Connection, wait
from pathlib import Path
from typing import Any

import numpy as np

from headergen.model import Header, MockSettings, Part, Result

Report = Callable[[str, int, int], None]  # stage, done, total

SOLIDS, PICTURE, MOCK, GUIDE = "solids", "picture", "mock", "mock pictures"
MOCK_SCRATCH = ".parts.npz"
PICTURE_FILE = "picture.png"
GLB_FILE = "header.glb"


class WorkError(RuntimeError):
    """A legal part could not be made."""


@dataclass(frozen=True)
class Made:
    """What came of the work: the parts, and what could not be made and why."""

    parts: tuple[Part, ...]
    not_made: tuple[tuple[str, str], ...]


def make(
    result: Result,
    meshes: Mapping[str, Any],
    without: frozenset[int],
    folder: Path,
    report: Report,
    mock: MockSettings | None = None,
) -> Made:
    """Make every file of a checked header but its reports, in `folder`; the fit mock, where wanted, in its own.

    `without` names the primaries of which no legal solid exists. Raises WorkError when a legal one failed.
    """
    header = buildable(result.header, without)
    if not header.primaries:
        return Made((), _without_solid(without))
    scratch = folder / ".meshes.npz"
    np.savez(scratch, *(array for mesh in meshes.values() for array in (mesh.vertices, mesh.faces)))
    errors = sum(finding.level == "error" for finding in result.findings)
    jobs: dict[str, tuple[Callable[..., Any], tuple[Any, ...]]] = {
        SOLIDS: (_make_parts, (header, folder)),
        PICTURE: (_make_picture, (header, errors, tuple(meshes), scratch, folder / PICTURE_FILE)),
    }
    if mock is not None:
        jobs[MOCK] = (_make_mock, (header, mock, errors, folder / MOCK))
    try:
        answers = _run(jobs, report)
    finally:
        scratch.unlink(missing_ok=True)
    for name in (SOLIDS, MOCK):
        if isinstance(answers.get(name), Failure):
            raise WorkError(answers[name].why)
    not_made = _without_solid(without)
    if isinstance(answers[PICTURE], Failure):
        (folder / PICTURE_FILE).unlink(missing_ok=True)
        why = f"this machine cannot render: {answers[PICTURE].why}; the README names what it needs"
        not_made += ((PICTURE_FILE, why),)
    if mock is not None:
        can_render = not isinstance(answers[PICTURE], Failure)
        not_made += _finish_mock(answers[MOCK], header, errors, folder / MOCK, report if can_render else None)
    return Made(answers[SOLIDS], not_made)


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
            ours, theirs = context.Pipe(duplex=False)
            process = context.Process(target=_child, args=(theirs, function, arguments), daemon=True)
            process.start()
            theirs.close()
            running[ours] = (name, process)
        while running:
            for ready in wait(list(running)):
                _receive(ready, running, answers, report)
    finally:
        for _, process in running.values():
            process.kill()
            process.join()
    return answers


def _receive(ready: Any, running: dict[Any, tuple[str, Any]], answers: dict[str, Any], report: Report) -> None:
    name, process = running[ready]
    try:
        kind, content = ready.recv()
    except EOFError:
        process.join()
        answers.setdefault(name, Failure(f"its process ended early (exit code {process.exitcode})"))
        del running[ready]
        return
    if kind == "progress":
        report(*content)
    else:
        answers[name] = content


def _child(connection: Connection, function: Callable[..., Any], arguments: tuple[Any, ...]) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent hears Ctrl-C and kills

    def report(*progress: Any) -> None:
        connection.send(("progress", progress))

    try:
        answer = function(*arguments, report)
    except Exception as error:  # whatever it is, the parent must hear of it in one line
        answer = Failure(f"{error}" if isinstance(error, RuntimeError) else f"{type(error).__name__}: {error}")
    connection.send(("answer", answer))
    connection.close()


def _make_parts(header: Header, folder: Path, report: Report) -> tuple[Part, ...]:
    from headergen.outputs.gltf import write_header_glb
    from headergen.outputs.stl import write_tube_stl
    from headergen.solids.build import make_primaries

    write_header_glb(folder / GLB_FILE, header)
    parts = []
    for solid, line in zip(make_primaries(header, folder, report), header.centrelines, strict=True):
        stl = f"primary_{line.primary}.stl"
        volume = write_tube_stl(folder / stl, line, header.draft.tube, header.draft.limits.chord_error)
        files = (*solid.files, stl, GLB_FILE)
        parts.append(Part(solid.name, "primary", files, solid.volume, volume, solid.closed))
    return tuple(parts)


def _make_mock(header: Header, settings: MockSettings, errors: int, folder: Path, report: Report) -> Any:
    """What the sheet of the mock has to say, or, as text, why one cannot be printed as asked."""
    from headergen.mock.build import make_mock
    from headergen.mock.part import in_place
    from headergen.mock.solid import MockError
    from headergen.outputs.mock_sheet import MockFacts
    from headergen.outputs.plate_dxf import write_plate_dxf
    from headergen.outputs.stl import write_stl

    try:
        mock = make_mock(header, settings, report)
    except MockError as error:
        return str(error)
    parts = folder / "parts"
    parts.mkdir(parents=True)
    for part in (*mock.parts, *mock.locating):
        write_stl(parts / f"{part.name}.stl", part.mesh, f"fit mock {part.name}")
    title = f"{header.draft.job.title} {header.draft.job.revision}{', NOT CLEAR' if errors else ''}"
    plates = _write_plates(folder, f"{title}: fit mock", "plate", ((*mock.parts, *mock.locating), mock.placed))
    _write_plates(folder, f"{title}: fit coupon", "coupon", (mock.coupon, mock.coupon_placed))
    for plate in (plate for pair in mock.pairs for plate in pair.plates):
        write_plate_dxf(folder / f"{plate.name}.dxf", plate, title)
    meshes = {part.name: in_place(part) for part in mock.parts}
    arrays = {f"{name} {what}": getattr(m, what) for name, m in meshes.items() for what in ("vertices", "faces")}
    np.savez(folder / MOCK_SCRATCH, **arrays)
    return MockFacts(header.draft.job, errors, settings, mock.facts, plates, mock.notes, mock.pairs)


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
    header: Header, errors: int, names: tuple[str, ...], scratch: Path, path: Path, report: Report
) -> None:
    from headergen.outputs.picture import can_render, render_header

    report(PICTURE, 0, 1)
    if not can_render():
        raise RuntimeError("the renderer draws nothing")
    with np.load(scratch) as arrays:
        chassis = {name: (arrays[f"arr_{2 * k}"], arrays[f"arr_{2 * k + 1}"]) for k, name in enumerate(names)}
    render_header(path, header, chassis, errors)
    report(PICTURE, 1, 1)
