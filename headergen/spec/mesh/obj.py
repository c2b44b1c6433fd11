"""OBJ files. They state no counts: a truncated file shows only by its last line, or by corners that no face uses."""

from __future__ import annotations

import re
from array import array
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from headergen.spec.mesh.raw import (
    MOST_LEFT_OUT,
    MOST_TRIANGLES,
    MOST_VERTICES,
    BrokenMeshError,
    RawMesh,
    as_stored,
    check_count,
    fan,
)
from headergen.spec.mesh.text import BLOCK, WHOLE, WHOLE_NUMBER, Block, lines_of, numbers_of, quoted

# Keywords that say nothing about the surface. Any others are curves and curved surfaces, or no OBJ keywords at all.
LEFT_ASIDE = frozenset(b"vt vn vp l p g o s mg usemtl mtllib usemap maplib bevel c_interp d_interp lod".split())
CURVED = frozenset(b"cstype deg bmat step curv curv2 surf parm trim hole scrv sp end con".split())
_BESIDE = re.compile(rb"/\S*")  # texture and normal index of a corner


def read_obj(content: bytes) -> RawMesh:
    """The triangles of an OBJ file; polygons become fans. Raises BrokenMeshError."""
    if not content.endswith((b"\n", b"\r")):
        message = "the last line has no end, as the line of a file that was cut"
        line = content.count(b"\n") + 1
        raise BrokenMeshError(message, 0, f"{WHOLE}, or end its last line with a line break if it is whole", line)
    if b"\\\n" in content or b"\\\r\n" in content:  # a line continued on the next one
        content = content.replace(b"\\\r\n", b" ").replace(b"\\\n", b" ")
    lines = lines_of(content)
    vertices = array("d")  # grows in place
    faces: list[NDArray[np.int32]] = []
    corners = triangles = 0
    while block := list(islice(lines, BLOCK)):
        words = [text.split(None, 1) for _, text in block]
        _check_words(block, words)
        is_corner = np.array([row[0] == b"v" for row in words])
        rows = [(n, row[1] if len(row) > 1 else b"") for (n, _), row in zip(block, words, strict=True)]
        if is_corner.any():
            own = _corners([row for row, ours in zip(rows, is_corner, strict=True) if ours])
            vertices.frombytes(own.tobytes())
        is_face = np.array([row[0] == b"f" for row in words])
        if is_face.any():
            known = corners + np.cumsum(is_corner)[is_face]
            faces.append(_faces([row for row, ours in zip(rows, is_face, strict=True) if ours], known))
            triangles += len(faces[-1])
        corners += int(is_corner.sum())
        check_count(corners, "corners", MOST_VERTICES, line=block[-1][0])
        check_count(triangles, "triangles", MOST_TRIANGLES, line=block[-1][0])
    return _whole(content, vertices, faces, corners)


def _whole(content: bytes, vertices: array[float], faces: list[NDArray[np.int32]], corners: int) -> RawMesh:
    if not faces:
        said = f"{corners} corners and no face" if corners else "no triangle"
        raise BrokenMeshError(
            f"the file holds {said}", 0, f"{WHOLE}; a cloud of points is read as PLY" if corners else ""
        )
    all_faces = np.concatenate(faces)
    if int(all_faces.max()) >= corners:
        raise BrokenMeshError(*_missing_corner(content, corners))
    used = np.zeros(corners, bool)
    used[all_faces.ravel()] = True
    loose = corners - int(used.sum())
    said = f"{loose} of its {corners} corners belong to no face"
    if loose > MOST_LEFT_OUT * corners:
        raise BrokenMeshError(said, 0, f"{WHOLE}; if it is whole, export it without loose corners, or as STL")
    doubts = (f"{said}: if the file was cut short, a part of its surface is missing",) if loose else ()
    return RawMesh(as_stored(np.frombuffer(vertices, float).reshape(-1, 3)), all_faces, doubts=doubts)


def _missing_corner(content: bytes, corners: int) -> tuple[str, int, str, int | None]:
    """The message for the first face with a corner that the file does not have; its line is searched for again."""
    for number, text in lines_of(content):
        word, *named = _BESIDE.sub(b"", text).split()
        if word == b"f" and (odd := [int(each) for each in named if int(each) > corners]):
            return f"a face names corner {odd[0]}, and the file has {corners}", 0, WHOLE, number
    return f"a face names a corner that is not among the {corners} of the file", 0, WHOLE, None


def _check_words(block: Block, words: list[list[bytes]]) -> None:
    for (number, _), row in zip(block, words, strict=True):
        word = row[0]
        if word in (b"v", b"f") or word in LEFT_ASIDE or word.startswith(b"#"):
            continue
        if word in CURVED:
            raise BrokenMeshError(
                f"{quoted(word)} belongs to a curved surface, and only triangles and polygons are read",
                0,
                "export it as a mesh",
                number,
            )
        raise BrokenMeshError(f"{quoted(word)} is where a line of an OBJ file should begin", 0, "", number)


def _corners(rows: Block) -> NDArray[np.float64]:
    """(n, 3) corners; a weight or a colour may follow x, y and z."""
    numbers = numbers_of(rows)
    columns = len(rows[0][1].split())
    if columns >= 3 and numbers.size == columns * len(rows):
        return numbers.reshape(-1, columns)[:, :3]
    out = np.empty((len(rows), 3))
    for k, (number, text) in enumerate(rows):
        of_row = text.split()
        if len(of_row) < 3:
            raise BrokenMeshError(f"a corner has {len(of_row)} of its three numbers", 0, WHOLE, number)
        out[k] = [float(word) for word in of_row[:3]]
    return out


def _faces(rows: Block, known: NDArray[np.int64]) -> NDArray[np.int32]:
    """(m, 3) counted from 0. `known`: number of corners before each face; negative numbers count back from there."""
    bare = [(n, _BESIDE.sub(b"", text) if b"/" in text else text) for n, text in rows]
    sizes = np.array([len(text.split()) for _, text in bare], np.int64)
    if (sizes < 3).any():
        k = int(np.argmax(sizes < 3))
        raise BrokenMeshError(f"a face has {sizes[k]} corners", 0, WHOLE, rows[k][0])
    numbers = numbers_of(bare, int)
    if numbers.size != sizes.sum():  # a sign without digits, or the like
        odd = (n for n, text in bare if not all(map(WHOLE_NUMBER.fullmatch, text.split())))
        raise BrokenMeshError("a face names a corner by something that is no number", 0, "", next(odd, rows[0][0]))
    back = numbers < 0
    if (numbers == 0).any():
        k = int(np.repeat(np.arange(len(rows)), sizes)[np.argmax(numbers == 0)])
        raise BrokenMeshError("a face names corner 0, and OBJ counts from 1", 0, "", rows[k][0])
    places = np.where(back, np.repeat(known, sizes) + numbers, numbers - 1)
    if (places < 0).any():
        k = int(np.argmax(places < 0))
        row = int(np.repeat(np.arange(len(rows)), sizes)[k])
        message = f"a face names corner {numbers[k]}, and there are {known[row]} before it"
        raise BrokenMeshError(message, 0, WHOLE, rows[row][0])
    return fan(places, sizes)
