"""What is printed, to a reader that may leave before the end, as `head` does."""

from __future__ import annotations

import errno
import io
import os
from typing import Any, TextIO


class LeavablePipe(io.RawIOBase):
    """A pipe. Once its reader has gone, what is written is dropped, so that a command still does all of its work.

    Any other trouble, as of a full disk, is raised once.
    """

    def __init__(self, pipe: io.RawIOBase) -> None:
        self._pipe = pipe
        self._is_open = True

    def writable(self) -> bool:
        return True

    def isatty(self) -> bool:
        return self._pipe.isatty()

    def fileno(self) -> int:
        return self._pipe.fileno()

    def write(self, data: Any) -> int | None:
        """How many bytes were written or dropped; None if the pipe takes none now."""
        if self._is_open:
            try:
                return self._pipe.write(data)
            except OSError as wrong:
                self._is_open = False
                if not _has_gone(wrong):
                    raise
        return len(data)


def _has_gone(wrong: OSError) -> bool:
    return isinstance(wrong, BrokenPipeError) or (os.name == "nt" and wrong.errno == errno.EINVAL)


def utf_8(stream: TextIO) -> TextIO:
    """The stream as UTF-8, its reader free to leave; names of files in it may not be valid text."""
    buffer = getattr(stream, "buffer", None)
    if buffer is None:  # there is none (pythonw), or it is kept in memory
        return stream
    pipe = io.BufferedWriter(LeavablePipe(getattr(buffer, "raw", buffer)))
    return io.TextIOWrapper(
        pipe, "utf-8", "backslashreplace", line_buffering=stream.isatty(), write_through=not hasattr(buffer, "raw")
    )
