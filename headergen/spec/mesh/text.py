"""Text mesh files: their lines, and the numbers in them, in blocks to bound the memory."""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterator
from itertools import islice
from typing import Any

import numpy as np
from numpy.typing import NDArray

from headergen.spec.mesh.raw import BrokenMeshError, check_count, fan

BLOCK = 50_000  # lines whose numbers are read at once
LONGEST_LINE = 1_000_000  # bytes; a mesh has no longer line

Lines = Iterator[tuple[int, bytes]]  # the number of each line, counted from 1, and its text
Block = list[tuple[int, bytes]]
_NUMBER = re.compile(rb"[-+]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][-+]?[0-9]+)?\Z|[-+]?(nan|inf)\Z", re.IGNORECASE)
_TEXT = re.compile(rb"[\t\n\r\f\x20-\x7e\x80-\xff]*\Z")
WHOLE_NUMBER = re.compile(rb"[-+]?[0-9]{1,18}")
WHOLE = "the copy or the export was cut short: fetch it again"


def lines_of(content: bytes, at: int = 0, line: int = 1) -> Lines:
    """The non-empty lines from byte `at`; `line` is the number of the first. Raises BrokenMeshError."""
    end = b"\n" if b"\n" in content[at : at + LONGEST_LINE] else b"\r"
    size = len(content)
    while at < size:
        stop = content.find(end, at)
        stop = size if stop < 0 else stop
        if stop - at > LONGEST_LINE:
            raise BrokenMeshError(f"a line of {stop - at} bytes; at most {LONGEST_LINE} are read", at, "", line)
        text = content[at:stop].strip()
        if text:
            yield line, text
        at, line = stop + 1, line + 1


def blocks_of(lines: Lines, count: int, what: str) -> Iterator[Block]:
    """The next `count` lines in blocks. Raises BrokenMeshError, with both counts, if there are fewer."""
    left, last = count, 0
    while left:
        block = list(islice(lines, min(BLOCK, left)))
        left -= len(block)
        last = block[-1][0] if block else last
        if not block:
            message = f"the header promises {count} {what}, but the file ends after {count - left}"
            raise BrokenMeshError(message, 0, WHOLE, last or None)
        yield block


def numbers_of(block: Block, kind: type = float) -> NDArray[Any]:
    """(n,) all numbers in some lines, integers for `int`. Raises BrokenMeshError at the first word that is none."""
    text = b"\n".join(line for _, line in block)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", DeprecationWarning)  # numpy's way to report anything else
            return np.fromstring(text, dtype=np.int64 if kind is int else float, sep=" ")
    except (ValueError, DeprecationWarning):
        for number, line in block:
            for word in line.split():
                if not (_NUMBER.match(word) and (kind is float or WHOLE_NUMBER.fullmatch(word))):
                    raise BrokenMeshError(f"{quoted(word)} is where a number should be", 0, "", number) from None
        raise BrokenMeshError("something other than numbers", 0, "", block[0][0]) from None


def table_of(block: Block, columns: int, what: str) -> NDArray[np.float64]:
    """(n, columns) numbers of lines. Raises BrokenMeshError at the first line with another count of numbers."""
    numbers = numbers_of(block)
    if numbers.size != columns * len(block):
        counts = ((n, len(t.split())) for n, t in block)
        wrong, has = next((each for each in counts if each[1] != columns), (block[0][0], "other"))
        raise BrokenMeshError(f"{what} has {has} numbers here, and {columns} elsewhere", 0, WHOLE, wrong)
    return numbers.reshape(-1, columns)


def polygons_of(block: Block, before: int = 0) -> NDArray[np.int32]:
    """(m, 3) triangles of lines that each give a polygon's number of corners, then the corners.

    `before` words come first, and any number may follow. Raises BrokenMeshError at the first line that is cut short or
    wrong.
    """
    rows = [text.split() for _, text in block]
    words: list[bytes] = []
    sizes = np.empty(len(rows), np.int64)
    for k, row in enumerate(rows):
        said = row[before] if len(row) > before else b""
        size = int(said) if said.isdigit() and len(said) < 10 else 0
        if size < 3 or len(row) < before + 1 + size:
            has = f"promises {size} corners and has {max(len(row) - before - 1, 0)}" if size > 2 else "has no corners"
            raise BrokenMeshError(f"a face {has}", 0, WHOLE, block[k][0])
        sizes[k] = size
        words += row[before + 1 : before + 1 + size]
    check_count(int((sizes - 2).sum()), "triangles")
    try:
        return fan(np.array(words).astype(np.int64), sizes)
    except (ValueError, OverflowError):
        wrong = (n for (n, _), row in zip(block, rows, strict=True) if not all(map(WHOLE_NUMBER.fullmatch, row)))
        number = next(wrong, block[0][0])
        raise BrokenMeshError("a face names a corner by something that is no number", 0, "", number) from None


def check_end(lines: Lines, promised: str) -> None:
    """Raises BrokenMeshError if anything is left in the file."""
    more = next(lines, None)
    if more is not None:
        raise BrokenMeshError(
            f"the {promised} that the header promises end before this line, but the file goes on", 0, "", more[0]
        )


def is_text(content: bytes) -> bool:
    """Whether a file starts like readable text."""
    return bool(content) and _TEXT.match(content[:2000]) is not None


def quoted(word: bytes) -> str:
    return '"' + word[:20].decode("ascii", "replace") + '"'
