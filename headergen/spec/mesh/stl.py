"""STL files, binary and text, read strictly: every fault is reported with its byte."""

from __future__ import annotations

import re
from array import array

import numpy as np

from headergen.geometry.mesh.triangles import Points
from headergen.spec.mesh.raw import BrokenMeshError, RawMesh, as_stored, check_count, finite_only

HEADER = 84  # bytes before the first triangle: 80 of title, and the count
BLOCK = 20_000  # triangles of a text file whose numbers are read at once
RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])

_VERTEX = rb"\s+vertex\s+(\S+)\s+(\S+)\s+(\S+)"
_FACET = re.compile(
    rb"\s*facet\s+normal\s+\S+\s+\S+\s+\S+\s+outer\s+loop" + 3 * _VERTEX + rb"\s+endloop\s+endfacet(?=\s)",
    re.IGNORECASE,
)
_START = re.compile(rb"\s*solid\b[^\r\n]*", re.IGNORECASE)
_END = re.compile(rb"\s*endsolid\b[^\r\n]*\s*", re.IGNORECASE)
_WORD = re.compile(rb"\S+")
_NUMBER = re.compile(rb"[-+]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][-+]?[0-9]+)?\Z")
_WORDS = b"facet normal # # # outer loop vertex # # # vertex # # # vertex # # # endloop endfacet".split()


def read_stl(content: bytes) -> RawMesh:
    """The triangles of an STL file, three vertices each. Raises BrokenMeshError."""
    if not content:
        raise BrokenMeshError("the file is empty", 0)
    if _is_text(content):
        return _text(content)
    return _binary(content)


def _is_text(content: bytes) -> bool:
    """Whether a file is text. Many binary files start with `solid` too; their size or their zero bytes tell."""
    starts = content[:512].lstrip()[:5].lower() == b"solid"
    return starts and b"\0" not in content[:512] and _expected_size(content) != len(content)


def _expected_size(content: bytes) -> int:
    return HEADER + RECORD.itemsize * int.from_bytes(content[80:84], "little")


def _binary(content: bytes) -> RawMesh:
    size, expected = len(content), _expected_size(content)
    if size < HEADER:
        raise BrokenMeshError(f"the file ends here, but an STL file has {HEADER} bytes before its first triangle", size)
    count, rest = int.from_bytes(content[80:84], "little"), (size - HEADER) % RECORD.itemsize
    if size != expected and (rest == 0 or expected > 100 * size):
        held = (size - HEADER) // RECORD.itemsize
        raise BrokenMeshError(
            f"the count says {count} triangles, but the file has room for {held}", 80, "export it again"
        )
    if size < expected:
        message = f"the file ends here, but its {count} triangles would end at byte {expected}"
        raise BrokenMeshError(message, size, "the copy or the export was cut short: fetch it again")
    if size > expected:
        raise BrokenMeshError(f"the {count} triangles end here, but the file goes on to byte {size}", expected)
    if count == 0:
        raise BrokenMeshError("the file holds no triangle", 80)
    check_count(count, "triangles", byte=80)
    corners = np.frombuffer(content, RECORD, count, HEADER)["corners"].reshape(-1, 3)
    return finite_only(RawMesh(corners, None, HEADER), lambda k: HEADER + RECORD.itemsize * k)


def _text(content: bytes) -> RawMesh:
    found = array("d")  # grows in place: a list of blocks would need the memory twice when joined
    numbers: list[bytes] = []
    starts = array("q")
    commas = _has_decimal_commas(content)
    start = _START.match(content)
    at = start.end() if start else 0
    while start:
        while facet := _FACET.match(content, at):
            numbers += facet.groups()
            starts.append(at)
            at = facet.end()
            if len(numbers) == 9 * BLOCK:
                found.frombytes(_corners(content, numbers, starts, commas).tobytes())
                numbers = []
                check_count(len(starts), "triangles", byte=at)
        end = _END.match(content, at)
        if end is None:
            raise _wrong_word(content, at) or BrokenMeshError("the text of a triangle runs on without a space", at)
        at = end.end()
        start = _START.match(content, at)
        at = start.end() if start else at
    if content[at : at + 1000].strip() or content[at:].strip():
        raise BrokenMeshError(f"{_quoted(content, at)} comes after the end of the solid", at)
    if not starts:
        raise BrokenMeshError("the file holds no triangle", at)
    if numbers:
        found.frombytes(_corners(content, numbers, starts, commas).tobytes())
    assumed = ("the commas in its numbers were read as decimal points",) if commas else ()
    points = as_stored(np.frombuffer(found, float).reshape(-1, 3))
    mesh = RawMesh(points, None, starts[0], assumed=assumed)
    return finite_only(mesh, lambda k: starts[k])


def _has_decimal_commas(content: bytes) -> bool:
    """Whether commas are decimal points: only if no number has a point."""
    return re.search(rb"[0-9],[0-9]", content) is not None and re.search(rb"[0-9]\.[0-9]", content) is None


def _corners(content: bytes, numbers: list[bytes], starts: array[int], commas: bool) -> Points:
    """(3m, 3) corners of the triangles found last."""
    if commas:
        numbers = [number.replace(b",", b".") for number in numbers]
    try:
        return np.array(numbers, dtype=bytes).astype(float).reshape(-1, 3)
    except ValueError:
        for at in starts[-len(numbers) // 9 :]:
            if wrong := _wrong_word(content, at):
                raise wrong from None
        raise BrokenMeshError("a corner of a triangle is not a number", starts[-1]) from None


def _wrong_word(content: bytes, at: int) -> BrokenMeshError | None:
    """The first word from `at` on that does not belong at its place in a text STL."""
    words = _WORD.finditer(content, at)
    for expected in _WORDS:
        word = next(words, None)
        what = "a number" if expected == b"#" else expected.decode()
        if word is None:
            return BrokenMeshError(f"the file ends here, where {what} should follow", len(content))
        if not (_NUMBER.match(word[0]) if expected == b"#" else word[0].lower() == expected):
            return BrokenMeshError(f"{_quoted(content, word.start())} is where {what} should be", word.start())
    return None


def _quoted(content: bytes, at: int) -> str:
    word = _WORD.search(content, at)
    return '"' + (word[0][:20].decode("ascii", "replace") if word else "") + '"'
