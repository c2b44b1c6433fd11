"""Results written as lines to a file as they end, so that work goes on where it was stopped and files can be joined."""

from __future__ import annotations

import json
import os
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import BinaryIO

from pydantic import TypeAdapter, ValidationError


@dataclass(frozen=True)
class KnownLine:
    """`key`: the hash of all that the result depends on; `text`: a routed spec; None: `why` there is none."""

    key: str
    case: str
    text: str | None
    why: tuple[str, ...]


_LINE = TypeAdapter(KnownLine)


def known_lines(files: Iterable[Path]) -> tuple[dict[str, KnownLine], tuple[str, ...]]:
    """The lines of several files by their keys, the last of each, and complaints about lines that are not whole.

    Raises OSError if a file cannot be read.
    """
    known: dict[str, KnownLine] = {}
    troubles = []
    for file in files:
        for number, text in enumerate(file.read_bytes().split(b"\n"), 1):
            try:
                line = _LINE.validate_json(text) if text.strip() else None
            except ValidationError:
                troubles.append(f"{file}:{number}: not a whole line; it is left out")
                continue
            if line is not None:
                known[line.key] = line  # a later one is of a new try
    return known, tuple(troubles)


def add_line(file: Path, line: KnownLine) -> None:
    """Writes a line at the end of a file, on the disk when this returns. Raises OSError."""
    content = json.dumps(asdict(line), ensure_ascii=False).encode()
    with file.open("ab+") as end:
        torn = end.tell() > 0 and _last_byte(end) != b"\n"  # an earlier run was killed while it wrote
        end.write((b"\n" if torn else b"") + content + b"\n")
        end.flush()
        os.fsync(end.fileno())


def _last_byte(file: BinaryIO) -> bytes:
    file.seek(-1, os.SEEK_END)
    return file.read(1)
