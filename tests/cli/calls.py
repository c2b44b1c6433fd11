"""The command line as a process of its own, and within this one where the process is not what is tested."""

from __future__ import annotations

import contextlib
import gc
import io
import os
import subprocess
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any
from unittest import mock

from headergen.commands import main

ROOT = Path(__file__).resolve().parents[2]
MAIN = "from headergen.commands import main; main()"
# what starts the tests may ignore Ctrl-C (nohup, a script's &), and children would inherit that
HEARING = "import signal; signal.signal(signal.SIGINT, signal.default_int_handler)\n"
PLAIN = "from tests.cli.calls import without_pictures; without_pictures(setattr)\n"  # before MAIN
Done = subprocess.CompletedProcess[str]


def run(*arguments: str | Path, cwd: Path = ROOT, **environment: str) -> Done:
    return subprocess.run(
        [sys.executable, "-c", MAIN, *map(str, arguments)],
        cwd=cwd,
        env={**os.environ, "PYTHONPATH": str(ROOT), **environment},
        capture_output=True,
        text=True,
        encoding="utf-8",
    )


def called(*arguments: str | Path, cwd: Path = ROOT) -> Done:
    """What `run` gives, of the same `main`, without loading the libraries anew."""
    said, complained = io.StringIO(), io.StringIO()
    line = ["headergen", *map(str, arguments)]
    threshold, hook = gc.get_threshold(), sys.unraisablehook
    try:
        with (
            contextlib.chdir(cwd),
            mock.patch.object(sys, "argv", line),
            contextlib.redirect_stdout(said),
            contextlib.redirect_stderr(complained),
        ):
            main()
    except SystemExit as end:
        code = end.code if isinstance(end.code, int) else int(end.code is not None)
        return subprocess.CompletedProcess(line, code, said.getvalue(), complained.getvalue())
    finally:
        gc.set_threshold(*threshold)
        sys.unraisablehook = hook
    raise AssertionError("main always ends by an exit")


def without_pictures(put: Callable[..., None]) -> None:
    """Builds of this process draw nothing, which is half of their work: for tests of other things. `put` is setattr, or
    one that takes back what it did."""
    from headergen.jobs import picture, schedule

    crew_of, none = schedule.crew_of, picture.none_to_draw()

    def without_renderer(begins: Any, at_once: Sequence[str]) -> Any:
        return crew_of(begins, [name for name in at_once if name != picture.RENDERER])

    put(picture, "picture_steps", lambda *_: none)
    put(schedule, "crew_of", without_renderer)


def refuse_difference(one: Path, other: Path) -> None:
    """Every file of two folders has the same bytes."""
    files = [{path.relative_to(folder) for path in folder.rglob("*") if path.is_file()} for folder in (one, other)]
    assert files[0] == files[1] != set()
    for name in sorted(files[0]):
        assert (one / name).read_bytes() == (other / name).read_bytes(), name
