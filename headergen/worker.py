"""Work that takes seconds, in child processes: solids in one, the picture in another.

The CAD kernel holds the interpreter's lock and a renderer without a screen may end its process; in children neither
can freeze the progress bar, swallow Ctrl-C or take the run down. Children get plain data and paths, write into the
folder they are given, and send back what they did; only the parent renames and kills.
"""

from __future__ import annotations

import multiprocessing
import signal
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from multiprocessing.connection import Connection, wait
from pathlib import Path
from typing import Any

import numpy as np

from headergen.model import Draft, Header, Part, Result
from headergen.solve.effort import Effort as Effort

Report = Callable[[str, int, int], None]  # stage, done, total

SOLIDS, PICTURE = "solids", "picture"
PICTURE_FILE = "picture.png"
GLB_FILE = "header.glb"


class WorkError(RuntimeError):
    """A legal part could not be made."""


@dataclass(frozen=True)
class Made:
    """What came of the work: the parts, and what could not be made and why."""

    parts: tuple[Part, ...]
    not_made: tuple[tuple[str, str], ...]


def make(result: Result, meshes: Mapping[str, Any], without: frozenset[int], folder: Path, report: Report) -> Made:
    """Make every file of a checked header but its reports, in `folder`.

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
    try:
        answers = _run(jobs, report)
    finally:
        scratch.unlink(missing_ok=True)
    if isinstance(answers[SOLIDS], Failure):
        raise WorkError(answers[SOLIDS].why)
    not_made = _without_solid(without)
    if isinstance(answers[PICTURE], Failure):
        (folder / PICTURE_FILE).unlink(missing_ok=True)
        why = f"this machine cannot render: {answers[PICTURE].why}; the README names what it needs"
        not_made += ((PICTURE_FILE, why),)
    return Made(answers[SOLIDS], not_made)


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
    ours, theirs = context.Pipe(duplex=False)
    process = context.Process(target=_child, args=(theirs, _find, (draft, dict(meshes), effort)), daemon=True)
    process.start()
    theirs.close()
    best: Any = None
    try:
        while True:
            kind, content = ours.recv()
            if kind == "answer":
                if isinstance(content, Failure):
                    raise WorkError(content.why)
                return content
            best = content[1] if content[1] is not None else best
            watch(content[0])
    except EOFError:
        process.join()
        raise WorkError(f"the search ended early (exit code {process.exitcode})") from None
    except KeyboardInterrupt:
        if best is None:
            raise
        return replace(best, stopped=True)
    finally:
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
        news = None if best is last[0] else Routed(tuple(found.answers[: effort.answers]), found.rounds)
        last[0] = best
        report(Sofar(found.rounds, best.bends, best.degrees, best.spread, best.smallest_gap), news)

    return route(draft, meshes, effort, watch)
