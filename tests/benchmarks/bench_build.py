"""What a build takes, in shares, and the whole process against a bare `import cadquery`.

    python tests/benchmarks/bench_build.py                       the three demos, and the Bogbean with its mock
    python tests/benchmarks/bench_build.py --rounds 5 withybed   some of them, so many times
    python tests/benchmarks/bench_build.py --tree OTHER …        the same of another checkout
    python tests/benchmarks/bench_build.py --timeline withybed   who does what when, in one build, and in the next

Each round runs, one after the other: a bare import of cadquery, a build that keeps nothing from before, the same
again with what the first one kept, one in which primary 1 is 1 mm longer, and one in which it is 1 mm longer still and
nothing can be drawn. Medians of seconds of wall clock and of processor time of all processes are printed, and their
ratio to those of the bare import beside them: a busy machine slows both. The shares come from another run, in which the
functions of the table below are timed from outside, each without those within it; they are processor time in all
processes of the build, by what is done there.
"""

from __future__ import annotations

import argparse
import atexit
import builtins
import functools
import importlib.abc
import importlib.machinery
import inspect
import json
import os
import re
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
SPOOL = "BENCH_BUILD_SPOOL"  # folder that timed processes write to
COMMAND = "from headergen.commands import main; main()"
ROUNDS = 3
NO_RENDERER = {"__EGL_VENDOR_LIBRARY_DIRS": "/nonexistent"}  # as on a machine that cannot draw; Mesa's on Linux
DEMOS = ("withybed", "glasswort_left", "bogbean", "bogbean --mock")
IMPORTS, REST = "imports", "all else"
TIMED = {  # "module:function" → the share it belongs to; those that a tree does not have are passed over
    "headergen.pipeline:check": "check",
    "headergen.checks.second_opinion:ask_second_opinion": "second opinion, gaps of made parts",
    "headergen.checks.made_parts:made_gaps": "second opinion, gaps of made parts",
    "headergen.solids.collector:merge_solid": "merge booleans",
    "headergen.solids.collector:spike_solid": "spikes",
    "headergen.solids.build:_drilled": "boss holes and their meshes",
    "headergen.solids.kept:key_of": "kept parts",
    "headergen.solids.mesh:solid_mesh": "meshes",
    "headergen.geometry.mesh.tube:tube_mesh": "meshes",
    "headergen.solids.build:_overlaps": "overlaps",
    "headergen.solids.inspect:measure": "validity and volumes",
    "headergen.solids.step:write_part": "STEP",
    "headergen.solids.step:write_assembly": "STEP",
    "headergen.outputs.stl:write_stl": "STL and GLB",
    "headergen.outputs.gltf:write_glb": "STL and GLB",
    "headergen.geometry.plate.lettering:with_room": "DXF letters",
    "headergen.outputs.dxf.drawings:write_drawings": "rest of DXF",
    "headergen.outputs.cad_script:write_cad_script": "CAD script",
    "headergen.outputs.picture.stage:warmed": "warming the renderer",
    "headergen.outputs.picture:can_render": "picture",
    "headergen.outputs.picture:render_header": "picture",
    "headergen.outputs.report:write_reports": "reports",
    "headergen.build:_planned": "plan of the bench",
    "headergen.jobs.bench:write_numbers": "numbers of the bench",
    "headergen.jobs.bench:write_bench": "sheets of the bench",
    "headergen.jobs.pages:ready_for_pages": "getting ready for pages",
    "headergen.pipeline:judge_parts": "second opinion, gaps of made parts",
    "headergen.jobs.pages:shown_meshes": "meshes of pages",
    "headergen.jobs.pages:jpeg_of": "the picture as JPEG",
    "headergen.jobs.pages:make_pages": "pages",
    "headergen.jobs.pages:make_report_page": "pages",
    "headergen.pipeline:evidence": "pages",
    "headergen.mock.build:make_mock": "mock parts",
    "headergen.mock.strength:sections_at": "mock strength sections",
    "headergen.outputs.picture.guide:draw_guide": "mock pictures",
    "headergen.outputs.picture.together:draw_together": "mock pictures",
}


# ---- in a timed process ----


class Clock(threading.local):
    """What is being done, innermost last, and since when."""

    doing: list[str]
    since: tuple[float, float]

    def __init__(self) -> None:
        self.doing, self.since = [], (0.0, 0.0)


SPENT: dict[str, list[float]] = defaultdict(lambda: [0.0, 0.0])  # processor, wall
SPELLS: list[tuple[str, float, float, float]] = []  # outermost shares: began and ended by the clock, processor seconds
CLOCK = Clock()


@contextmanager
def timed(share: str) -> Iterator[None]:
    began = (time.time(), time.process_time())
    _turn()
    CLOCK.doing.append(share)
    try:
        yield
    finally:
        _turn()
        CLOCK.doing.pop()
        if not CLOCK.doing:  # a child is killed as soon as it has answered
            SPELLS.append((share, began[0], time.time(), time.process_time() - began[1]))
            _write_down()


def _turn() -> None:
    now = (time.process_time(), time.perf_counter())
    if CLOCK.doing:
        for k in (0, 1):
            SPENT[CLOCK.doing[-1]][k] += now[k] - CLOCK.since[k]
    CLOCK.since = now


def _write_down() -> None:
    path = Path(os.environ[SPOOL], f"{os.getpid()}.json")
    path.with_suffix(".new").write_text(json.dumps({"spent": SPENT, "spells": SPELLS}))
    path.with_suffix(".new").replace(path)  # a child may be killed while it writes


def _wrapped(function: Callable[..., Any], share: str) -> Callable[..., Any]:
    if inspect.isgeneratorfunction(function):

        @functools.wraps(function)
        def steps(*given: Any, **named: Any) -> Iterator[Any]:
            made = function(*given, **named)
            while True:
                with timed(share):
                    try:
                        each = next(made)
                    except StopIteration:
                        return
                yield each

        return steps

    @functools.wraps(function)
    def whole(*given: Any, **named: Any) -> Any:
        with timed(share):
            return function(*given, **named)

    return whole


class _Hook(importlib.abc.MetaPathFinder):
    """Wraps the functions of TIMED as soon as their module is loaded, before another takes them from there."""

    def find_spec(self, name: str, path: Any, target: Any = None) -> Any:
        wanted = {key.partition(":")[2]: share for key, share in TIMED.items() if key.partition(":")[0] == name}
        spec = importlib.machinery.PathFinder.find_spec(name, path) if wanted else None
        if spec is None or spec.loader is None:
            return None
        load = spec.loader.exec_module

        def loaded(module: Any) -> None:
            load(module)
            for function, share in wanted.items():
                if hasattr(module, function):
                    setattr(module, function, _wrapped(getattr(module, function), share))

        spec.loader.exec_module = loaded  # type: ignore[method-assign]
        return spec


def time_this_process() -> None:
    sys.meta_path.insert(0, _Hook())
    bare = builtins.__import__

    def importing(*given: Any, **named: Any) -> Any:
        if CLOCK.doing[-1:] == [IMPORTS]:
            return bare(*given, **named)
        with timed(IMPORTS):
            return bare(*given, **named)

    builtins.__import__ = importing  # type: ignore[assignment]
    atexit.register(_write_down)


# ---- the benchmark ----


@dataclass(frozen=True)
class Took:
    """Seconds of one process with all its children."""

    wall: float
    processor: float


def took(command: Sequence[str], environment: dict[str, str]) -> Took:
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run(command, env=environment, cwd=ROOT, stdout=subprocess.DEVNULL, check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    processor = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return Took(time.perf_counter() - start, processor)


def _with_bytecode() -> dict[str, str]:
    """The environment, in which modules are compiled once and not in every process, as they are for a user.

    The folder that a process stands in is no place for modules: they come from the tree that is measured.
    """
    return {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"} | {"PYTHONSAFEPATH": "1"}


def longer_by_a_millimetre(spec: str) -> str:
    """The spec with the first straight of its first primary changed by 1 mm, wherever that leads."""
    head, mark, primaries = spec.partition("\nprimaries:")
    found = re.search(r"straight: (?:\{fit: )?(\d+(?:\.\d+)?)", primaries)
    assert mark and found is not None
    start, end = found.span(1)
    return f"{head}{mark}{primaries[:start]}{float(found[1]) + 1:g}{primaries[end:]}"


def rounds(demo: str, tree: Path, count: int) -> dict[str, list[Took]]:
    name, *options = demo.split()
    found: dict[str, list[Took]] = defaultdict(list)
    for _ in range(count):
        with tempfile.TemporaryDirectory() as scratch:
            environment = _with_bytecode() | {"PYTHONPATH": str(tree), "XDG_CACHE_HOME": str(Path(scratch, "cache"))}
            out = ["--out", str(Path(scratch, "out")), *options]
            specs = Path(scratch, "specs")
            for folder in ("specs", "shared"):  # what a spec names stands in both
                shutil.copytree(tree / folder, Path(scratch, folder))
            spec = specs / f"{name}.yaml"
            build = [sys.executable, "-c", COMMAND, "build", str(spec), *out]
            found["import cadquery"].append(took([sys.executable, "-c", "import cadquery"], environment))
            found["build"].append(took(build, environment))
            found["again"].append(took(build, environment))
            spec.write_text(longer_by_a_millimetre(spec.read_text(encoding="utf-8")), encoding="utf-8")
            with_findings = [sys.executable, "-c", _any_code(COMMAND), *build[3:]]
            found["one primary changed"].append(took(with_findings, environment))
            spec.write_text(longer_by_a_millimetre(spec.read_text(encoding="utf-8")), encoding="utf-8")
            found["changed, no picture"].append(took(with_findings, environment | NO_RENDERER))
    return found


def _any_code(command: str) -> str:
    """The command, whatever it has to say of the header: a changed one need not be clear."""
    indented = command.replace("; ", "\n    ")
    return f"import sys\ntry:\n    {indented}\nexcept SystemExit as end:\n    sys.exit(0 if end.code in (0, 1) else 5)"


def timed_builds(demo: str, tree: Path, count: int) -> Iterator[tuple[Took, list[Any]]]:
    """What a build takes, and what each of its processes wrote down; then the same again with what that one kept."""
    name, *options = demo.split()
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as scratch:
        spec, out = str(tree / "specs" / f"{name}.yaml"), str(Path(scratch, "out"))
        for k in range(count):
            spool = Path(scratch, f"spool{k}")
            spool.mkdir()
            environment = _with_bytecode() | {"PYTHONPATH": str(tree), SPOOL: str(spool)}
            environment |= {"XDG_CACHE_HOME": str(Path(scratch, "cache"))}
            whole = took([sys.executable, __file__, "build", spec, "--out", out, *options], environment)
            yield whole, [json.loads(file.read_text()) for file in spool.glob("*.json")]


def shares(demo: str, tree: Path) -> dict[str, tuple[float, float]]:
    """Processor and wall seconds of each share in one run, by name."""
    [(whole, processes)] = timed_builds(demo, tree, 1)
    found: dict[str, list[float]] = defaultdict(lambda: [0.0, 0.0])
    for process in processes:
        for share, (processor, wall) in process["spent"].items():
            found[share][0] += processor
            found[share][1] += wall
    found[REST] = [whole.processor - sum(processor for processor, _ in found.values()), 0.0]
    return {share: (spent[0], spent[1]) for share, spent in found.items()}


def said_of_timeline(demo: str, tree: Path) -> Iterator[str]:
    """Each process of two builds, one after the other: what it did, from when to when by the clock, and the processor
    seconds of it; what took less than 20 ms is left out."""
    for what, (whole, processes) in zip(("first build", "again"), timed_builds(demo, tree, 2), strict=True):
        yield f"{demo}, {what}: wall {whole.wall:.2f} s, processor {whole.processor:.2f} s"
        start = min(spell[1] for process in processes for spell in process["spells"])
        for process in sorted(processes, key=lambda process: process["spells"][0][1]):
            yield f"  process with {sum(spell[3] for spell in process['spells']):.2f} s of it"
            for share, began, ended, processor in process["spells"]:
                if processor >= 0.02 or ended - began >= 0.1:
                    yield f"    {began - start:6.2f} to {ended - start:6.2f}  processor {processor:5.2f}  {share}"


def said_of_rounds(demo: str, found: dict[str, list[Took]]) -> Iterator[str]:
    bare = found["import cadquery"]
    yield f"{demo}: medians of {len(bare)} rounds; load {os.getloadavg()[0]:.1f}"
    for what, each in found.items():
        wall, processor = (statistics.median(getattr(one, kind) for one in each) for kind in ("wall", "processor"))
        ratios = [
            statistics.median(getattr(a, kind) / getattr(b, kind) for a, b in zip(each, bare, strict=True))
            for kind in ("wall", "processor")
        ]
        said = f"  {what:<22} wall {wall:6.2f} s  processor {processor:6.2f} s"
        yield said if what == "import cadquery" else f"{said}  {ratios[0]:5.2f} and {ratios[1]:5.2f} bare imports"


def said_of_shares(found: dict[str, tuple[float, float]]) -> Iterator[str]:
    whole = sum(processor for processor, _ in found.values())
    for share, (processor, _) in sorted(found.items(), key=lambda each: -each[1][0]):
        yield f"  {100 * processor / whole:5.1f} %  {processor:6.2f} s  {share}"


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("demos", nargs="*", default=DEMOS)
    asked.add_argument("--rounds", type=int, default=ROUNDS)
    asked.add_argument("--tree", type=Path, default=ROOT)
    asked.add_argument("--no-shares", action="store_true")
    asked.add_argument("--timeline", action="store_true")
    given = asked.parse_args()
    if given.timeline:
        for line in (line for demo in given.demos for line in said_of_timeline(demo, given.tree.resolve())):
            print(line, flush=True)
        return
    for demo in given.demos:
        for line in said_of_rounds(demo, rounds(demo, given.tree.resolve(), given.rounds)):
            print(line, flush=True)
        if not given.no_shares:
            for line in said_of_shares(shares(demo, given.tree.resolve())):
                print(line, flush=True)


if SPOOL in os.environ:  # a build that is timed, or a child of it
    time_this_process()
    if __name__ == "__main__":
        from headergen.commands import main as build

        build()
elif __name__ == "__main__":
    main()
