"""The commands, one in each file. Only this room prints and chooses exit codes; slow imports come late."""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import click

from headergen.commands import banks, build, check, correct, hand, init, mesh, resolve, route, schema, study, watch
from headergen.commands.group import commands
from headergen.commands.pipe import utf_8
from headergen.commands.say import BROKEN, INTERRUPTED, UNREADABLE, complain, file_trouble

__all__ = [
    "banks",
    "build",
    "check",
    "commands",
    "correct",
    "hand",
    "init",
    "main",
    "mesh",
    "resolve",
    "route",
    "schema",
    "study",
    "watch",
]


def main() -> None:
    """The command line as a process: UTF-8 on every pipe, and one place where trouble becomes an exit code."""
    sys.stdout, sys.stderr = utf_8(sys.stdout), utf_8(sys.stderr)
    sys.unraisablehook = _hear_again
    gc.set_threshold(100_000)  # a command lives for seconds; collection during imports would cost a tenth of that
    with _trouble_as_exit_code():
        sys.exit(commands.main(standalone_mode=False))


@contextmanager
def _trouble_as_exit_code() -> Iterator[None]:
    try:
        yield
    except click.ClickException as wrong:
        wrong.show()
        sys.exit(wrong.exit_code)
    except (KeyboardInterrupt, click.Abort):
        complain("interrupted; nothing already made was changed")
        sys.exit(INTERRUPTED)
    except ImportError as wrong:
        complain(f"a library cannot be loaded ({wrong}); install headergen again as the README says")
        sys.exit(BROKEN)
    except OSError as wrong:
        complain(f"{wrong.filename2 or wrong.filename or 'file system'}: {file_trouble(wrong)}")
        sys.exit(UNREADABLE)
    except Exception as wrong:
        if os.environ.get("HEADERGEN_TRACEBACK"):
            raise
        complain(f"headergen itself is at fault here ({type(wrong).__name__}: {wrong}); nothing was changed.")
        complain("Please report it with the spec; HEADERGEN_TRACEBACK=1 shows where.")
        sys.exit(BROKEN)


def _hear_again(lost: Any) -> None:
    """A Ctrl-C in a callback of the interpreter itself, as in imports, is printed and lost there."""
    if lost.exc_type is not KeyboardInterrupt:
        sys.__unraisablehook__(lost)
        return
    import signal
    import threading

    main_thread = threading.main_thread().ident
    again = signal.pthread_kill if hasattr(signal, "pthread_kill") else lambda _, number: signal.raise_signal(number)
    threading.Timer(0.02, again, (main_thread, signal.SIGINT)).start()  # by then the callback is over
