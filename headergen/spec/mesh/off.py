"""OFF files, read strictly: their content must match the counts in the header."""

from __future__ import annotations

import re

import numpy as np

from headergen.spec.mesh.raw import MOST_VERTICES, BrokenMeshError, RawMesh, as_stored, check_count, check_indices
from headergen.spec.mesh.text import Lines, blocks_of, check_end, lines_of, polygons_of, table_of

_HEAD = re.compile(rb"(ST)?(C)?(N)?OFF\b", re.IGNORECASE)


def read_off(content: bytes) -> RawMesh:
    """The triangles of an OFF file; polygons become fans. Raises BrokenMeshError."""
    lines = _without_comments(lines_of(content))
    number, first = next(lines, (1, b""))
    head = _HEAD.match(first)
    if head is None:
        raise BrokenMeshError("the file does not begin with OFF, as a mesh of that kind does", 0, "", number)
    counts = first[head.end() :].split()
    if not counts:
        number, second = next(lines, (number, b""))
        counts = second.split()
    if len(counts) < 2 or not all(word.isdigit() and len(word) < 19 for word in counts[:2]):
        raise BrokenMeshError("the counts of corners and faces should be here", 0, "", number)
    corners, faces = int(counts[0]), int(counts[1])
    check_count(corners, "corners", MOST_VERTICES, line=number)
    check_count(faces, "triangles", line=number)
    if not corners or not faces:
        raise BrokenMeshError(f"the header promises {corners} corners and {faces} faces: no triangle", 0, "", number)
    return _body(lines, corners, faces)


def _body(lines: Lines, corners: int, faces: int) -> RawMesh:
    vertices = np.empty((corners, 3))
    done, columns = 0, 0
    for block in blocks_of(lines, corners, "corners"):
        columns = columns or len(block[0][1].split())
        if columns < 3:
            raise BrokenMeshError(f"a corner has {columns} numbers", 0, "", block[0][0])
        vertices[done : done + len(block)] = table_of(block, columns, "a corner")[:, :3]
        done += len(block)
    found = []
    total = 0
    for block in blocks_of(lines, faces, "faces"):
        found.append(polygons_of(block))
        total += len(found[-1])
        check_count(total, "triangles", line=block[-1][0])
        check_indices(found[-1], corners, 0, block[0][0] if len(block) == 1 else None)
    check_end(lines, f"{corners} corners and {faces} faces")
    return RawMesh(as_stored(vertices), np.concatenate(found))


def _without_comments(lines: Lines) -> Lines:
    for number, text in lines:
        bare = text.split(b"#", 1)[0].strip() if b"#" in text else text
        if bare:
            yield number, bare
