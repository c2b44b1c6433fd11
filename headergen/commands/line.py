"""The command line: all commands, and one place where trouble becomes an exit code."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager

import click

from headergen.commands import banks, build, check, correct, hand, init, mesh, resolve, route, schema, study, watch
from headergen.commands.codes import BROKEN, INTERRUPTED, NOT_LOADED, STOPPED, UNREADABLE
from headergen.commands.group import commands
from headergen.commands.pipe import utf_8
from headergen.commands.say import complain, file_trouble

__all__ = [
    "banks",
    "build",
    "check",
    "commands",
    "correct",
    "hand",
    "init",
    "mesh",
    "resolve",
    "route",
    "run",
    "schema",
    "study",
    "watch",
]


def run() -> None:
    """The command that was given, with UTF-8 on every pipe; it always ends the process."""
    sys.stdout, sys.stderr = utf_8(sys.stdout), utf_8(sys.stderr)
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
        complain(STOPPED)
        sys.exit(INTERRUPTED)
    except ImportError as wrong:
        complain(NOT_LOADED.format(wrong))
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
