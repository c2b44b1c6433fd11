"""Work that fails in its child process, called as the jobs call their own; here, so that a child can import it."""

from __future__ import annotations

import errno
import os
import shutil
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from headergen.jobs import parts

make_parts = parts._make_parts  # taken before any test puts another in its place
FLANGE = "flange"


def die_at_the_flange(
    header: Any, folder: Path, skins: Path, without: frozenset[str], chassis: Any, report: Callable[..., None]
) -> Any:
    """A kernel that takes its process down at one part, and makes the others."""

    def heard(*said: Any) -> None:
        report(*said)
        if said[-1] == FLANGE and FLANGE not in without:
            os._exit(9)

    return make_parts(header, folder, skins, without, chassis, heard)


def no_mock(_header: Any, _settings: Any, _errors: int, folder: Path, _report: Callable[..., None]) -> Any:
    """A mock that fails when some of it is there."""
    folder.mkdir()
    (folder / "half.stl").write_bytes(b"")
    raise AssertionError("two holes cross")


def full_disk(_header: Any, folder: Path, *_: Any) -> Any:
    raise OSError(errno.ENOSPC, "No space left on device", str(folder / "primary_1.step"))


def no_library(*_: Any) -> Any:
    raise ImportError("libGL.so.1: cannot open shared object file: No such file or directory")


def never_ends(*arguments: Any) -> Any:
    """As one call of the kernel may seem to; where it works in a folder, it leaves the number of its process there."""
    if len(arguments) > 1:
        folder: Path = arguments[1]
        (folder / "part").write_text(str(os.getpid()), encoding="ascii")
        (folder / "part").rename(folder / "child")
    arguments[-1]("begun", 0, 1, "it")
    while True:
        time.sleep(60.0)


def ends_without_a_word(_report: Callable[..., None]) -> None:
    os._exit(5)


def begin_with_nothing() -> None:
    pass


def begin_with_a_folder() -> Path:
    return Path(tempfile.mkdtemp())


def cannot_begin() -> None:
    no_library()


def says(word: str, _report: Callable[..., None]) -> str:
    return word


def waits_for_a_file(folder: Path, report: Callable[..., None]) -> str:
    """What somebody else writes, once this is half way."""
    report("half", folder / "word")
    while not (folder / "word").exists() or not (word := (folder / "word").read_text(encoding="utf-8")):
        time.sleep(0.01)
    shutil.rmtree(folder)
    return word
