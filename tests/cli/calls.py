"""The command line as a process of its own, and within this one where the process is not what is tested."""

from __future__ import annotations

import contextlib
import gc
import io
import os
import subprocess
import sys
from pathlib import Path
from unittest import mock

from headergen.commands import main

ROOT = Path(__file__).resolve().parents[2]
MAIN = "from headergen.commands import main; main()"
# what starts the tests may ignore Ctrl-C (nohup, a script's &), and children would inherit that
HEARING = "import signal; signal.signal(signal.SIGINT, signal.default_int_handler)\n"
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
