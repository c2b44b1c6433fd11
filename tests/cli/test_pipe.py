"""A reader that leaves before the end, as `head` does, takes nothing but the printed lines with it."""

from __future__ import annotations

import errno
import io
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from headergen.commands.pipe import LeavablePipe, utf_8
from tests.cli.calls import MAIN, ROOT
from tests.cli.test_correct import spec


def unread(*words: object, unbuffered: str = "") -> subprocess.CompletedProcess[bytes]:
    """A command whose standard output nobody reads."""
    reader, writer = os.pipe()
    os.close(reader)
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": unbuffered}
    try:
        return subprocess.run(
            [sys.executable, "-c", MAIN, *map(str, words)], env=environment, stdout=writer, stderr=subprocess.PIPE
        )
    finally:
        os.close(writer)


@pytest.mark.slow
def test_what_a_command_makes_is_made_though_nobody_reads_its_lines(tmp_path: Path) -> None:
    done = unread("correct", spec(tmp_path))
    assert (done.returncode, done.stderr) == (0, b"")
    made = {path.name for path in tmp_path.iterdir()} - {"half.yaml"}
    assert made == {"half_as_built.yaml", "half_correction.pdf", "half_record.json"}


@pytest.mark.slow
def test_the_exit_code_is_that_of_the_work() -> None:
    done = unread("check", ROOT / "tests" / "bad_demo" / "ten_troubles.yaml", unbuffered="1")
    assert (done.returncode, done.stderr) == (1, b"")


@pytest.mark.parametrize("is_buffered", [True, False])
def test_what_comes_after_the_reader_has_gone_is_dropped(is_buffered: bool) -> None:
    reader, writer = os.pipe()
    pipe: Any = os.fdopen(writer, "wb", 8192 if is_buffered else 0)
    own = io.TextIOWrapper(pipe, "ascii", write_through=not is_buffered)
    stream = utf_8(own)
    stream.write("31° ")
    stream.flush()
    assert os.read(reader, 100) == "31° ".encode()
    os.close(reader)
    for _ in range(3):
        stream.write("and more\n" * 10_000)
        stream.flush()
    stream.close()


def test_a_full_disk_is_said_and_only_once() -> None:
    class Full(io.RawIOBase):
        def write(self, data: Any) -> int:
            raise OSError(errno.ENOSPC, "full")

    stream = io.TextIOWrapper(io.BufferedWriter(LeavablePipe(Full())))
    stream.write("a line")
    with pytest.raises(OSError, match="full"):
        stream.flush()
    stream.flush()
    stream.close()
