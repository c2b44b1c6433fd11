"""PLY files, text and binary, read strictly: their content must match the counts in the header exactly."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from headergen.spec.mesh.raw import (
    MOST_VERTICES,
    BrokenMeshError,
    RawMesh,
    as_stored,
    check_count,
    check_indices,
    fan,
    points_mesh,
)
from headergen.spec.mesh.text import WHOLE, Lines, blocks_of, check_end, lines_of, polygons_of, quoted, table_of

LONGEST_HEADER = 100_000  # bytes
MOST_CORNERS = 1_000_000  # of one polygon; more means damage
CODES = {
    **dict.fromkeys(("char", "int8"), "i1"),
    **dict.fromkeys(("uchar", "uint8"), "u1"),
    **dict.fromkeys(("short", "int16"), "i2"),
    **dict.fromkeys(("ushort", "uint16"), "u2"),
    **dict.fromkeys(("int", "int32"), "i4"),
    **dict.fromkeys(("uint", "uint32"), "u4"),
    **dict.fromkeys(("float", "float32"), "f4"),
    **dict.fromkeys(("double", "float64"), "f8"),
}
ORDERS = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}
CORNER_LISTS = ("vertex_indices", "vertex_index")


@dataclass(frozen=True)
class Property:
    """`code`: the type of a number, or of each number of a list; `length`: of a list's count, empty if no list."""

    name: str
    code: str
    length: str = ""


@dataclass(frozen=True)
class Element:
    name: str
    count: int
    properties: tuple[Property, ...]

    @property
    def lists(self) -> int:
        return sum(bool(each.length) for each in self.properties)

    def place(self, name: str) -> int:
        """The column of a property; −1 if it is missing."""
        return next((k for k, each in enumerate(self.properties) if each.name == name), -1)

    @property
    def corners(self) -> int:
        """The column of the list of a face's corners."""
        places = (k for k, each in enumerate(self.properties) if each.length and each.name in CORNER_LISTS)
        return next(places, -1)

    @property
    def called(self) -> str:
        return {"vertex": "corners", "face": "faces", "tristrips": "strips"}.get(self.name, f"{self.name} entries")


@dataclass(frozen=True)
class Head:
    order: str  # byte order; empty for text
    elements: tuple[Element, ...]
    end: int  # byte at which the first element starts
    lines: int  # in the header

    def element(self, name: str) -> Element | None:
        return next((each for each in self.elements if each.name == name), None)


def read_ply(content: bytes) -> RawMesh:
    """Triangles of a PLY file, or its points if it has no faces; polygons become fans. Raises BrokenMeshError."""
    head = _head(content)
    vertex, face = head.element("vertex"), head.element("face")
    if vertex is None or min(vertex.place(axis) for axis in "xyz") < 0 or vertex.lists:
        raise BrokenMeshError("the header names no corners with x, y and z", 0, "", 1)
    if (strips := head.element("tristrips")) is not None and strips.count:
        raise BrokenMeshError(
            "its triangles are stored as strips, which are not read", 0, "export it as plain triangles", 1
        )
    if face is not None and face.count and face.corners < 0:
        raise BrokenMeshError("the header names faces without a list of their corners", 0, "", 1)
    if not vertex.count:
        raise BrokenMeshError("the header promises no corner", 0, "", 1)
    check_count(vertex.count, "corners", MOST_VERTICES, line=1)
    check_count(face.count if face else 0, "triangles", line=1)
    vertices, faces = _text(content, head) if head.order == "" else _binary(content, head)
    if faces is None or not len(faces):
        return points_mesh(vertices)
    check_indices(faces, len(vertices), 0 if head.order == "" else head.end)
    return RawMesh(as_stored(vertices), faces, 0 if head.order == "" else head.end)


def _head(content: bytes) -> Head:
    if not re.match(rb"ply\s", content):
        raise BrokenMeshError("the file does not begin with ply, as a mesh of that kind does", 0, "", 1)
    found = re.compile(rb"\bend_header[ \t]*(\r\n|\n|\r)").search(content, 0, LONGEST_HEADER)
    if found is None:
        raise BrokenMeshError("the header has no end", min(len(content), LONGEST_HEADER), WHOLE)
    order: str | None = None
    elements: list[tuple[str, int, list[Property]]] = []
    lines = re.split(rb"\r\n|\n|\r", content[: found.start()])
    for number, line in enumerate(lines[1:], 2):
        words = line.decode("ascii", "replace").split()
        match words:
            case [] | ["comment", *_] | ["obj_info", *_]:
                continue
            case ["format", kind, _] if kind in ORDERS:
                order = ORDERS[kind]
            case ["element", name, count] if count.isdecimal() and len(count) < 19:
                elements.append((name, int(count), []))
            case ["property", "list", length, code, name] if elements and length in CODES and code in CODES:
                elements[-1][2].append(Property(name, CODES[code], CODES[length]))
            case ["property", code, name] if elements and code in CODES:
                elements[-1][2].append(Property(name, CODES[code]))
            case _:
                raise BrokenMeshError(f"{quoted(line)} is no line of a PLY header", 0, "", number)
    if order is None:
        raise BrokenMeshError("the header does not say its format", 0, "", 1)
    plain = tuple(Element(name, count, tuple(of)) for name, count, of in elements)
    return Head(order, plain, found.end(), len(lines))


def _text(content: bytes, head: Head) -> tuple[NDArray[np.float64], NDArray[np.int32] | None]:
    lines = lines_of(content, head.end, head.lines + 1)
    vertices, faces = np.empty((0, 3)), None
    for element in head.elements:
        if element.name == "vertex":
            vertices = _text_corners(lines, element)
        elif element.name == "face" and element.count:
            faces = _text_faces(lines, element)
        else:
            for _ in blocks_of(lines, element.count, element.called):
                pass
    check_end(lines, " and ".join(f"{each.count} {each.called}" for each in head.elements))
    return vertices, faces


def _text_corners(lines: Lines, element: Element) -> NDArray[np.float64]:
    out, done = np.empty((element.count, 3)), 0
    places = [element.place(axis) for axis in "xyz"]
    for block in blocks_of(lines, element.count, element.called):
        out[done : done + len(block)] = table_of(block, len(element.properties), "a corner")[:, places]
        done += len(block)
    return out


def _text_faces(lines: Lines, element: Element) -> NDArray[np.int32]:
    before = element.properties[: element.corners]
    if any(each.length for each in before):
        raise BrokenMeshError("the corners of its faces come after another list", 0, "export it without that", 1)
    found, total = [], 0
    for block in blocks_of(lines, element.count, element.called):
        found.append(polygons_of(block, len(before)))
        total += len(found[-1])
        check_count(total, "triangles", line=block[-1][0])
    return np.concatenate(found)


def _binary(content: bytes, head: Head) -> tuple[Any, NDArray[np.int32] | None]:
    at = head.end
    vertices: Any = np.empty((0, 3))
    faces = None
    for element in head.elements:
        rows, ends = _rows(content, at, element, head.order)
        if element.name == "vertex":
            vertices = np.column_stack([rows[f"p{element.place(axis)}"] for axis in "xyz"])
            single = vertices.dtype.newbyteorder("=") == np.float32
            vertices = vertices.astype(np.float32 if single else np.float64, copy=False)
        elif element.name == "face" and element.count:
            faces = _binary_faces(rows, element)
        at = ends
    if at < len(content):
        promised = " and ".join(f"{each.count} {each.called}" for each in head.elements)
        message = f"the {promised} that the header promises end here, but the file goes on to byte {len(content)}"
        raise BrokenMeshError(message, at)
    return vertices, faces


def _binary_faces(rows: Any, element: Element) -> NDArray[np.int32]:
    if isinstance(rows, tuple):
        sizes, corners = rows
        if (sizes < 3).any():
            raise BrokenMeshError(f"face {int(np.argmax(sizes < 3)) + 1} has {int(sizes.min())} corners", 0)
        check_count(int((sizes - 2).sum()), "triangles")
        return fan(corners, sizes)
    return np.asarray(rows[f"p{element.corners}"], np.int64).astype(np.int32)


def _rows(content: bytes, at: int, element: Element, order: str) -> tuple[Any, int]:
    """The rows of an element and the byte after them: a record array, or (sizes, corners) if list lengths differ."""
    for size in (3, 4) if element.name == "face" and element.lists == 1 else (3,) * (not element.lists):
        kind = _record(element, order, size)
        if at + kind.itemsize * element.count > len(content):
            if not element.lists:
                raise _cut(content, element, (len(content) - at) // kind.itemsize)
            continue
        rows = np.frombuffer(content, kind, element.count, at)
        if not element.lists or (rows["n"] == size).all():
            if size == 4:
                sizes = np.full(len(rows), 4)
                return (sizes, rows[f"p{element.corners}"].astype(np.int64).ravel()), at + rows.nbytes
            return rows, at + rows.nbytes
    return _walked(content, at, element, order)


def _record(element: Element, order: str, size: int) -> np.dtype[Any]:
    """The type of one row whose list has `size` numbers."""
    fields: list[Any] = []
    for k, each in enumerate(element.properties):
        if each.length:
            fields += [("n", order + each.length), (f"p{k}", order + each.code, (size,))]
        else:
            fields.append((f"p{k}", order + each.code))
    return np.dtype(fields)


def _walked(content: bytes, at: int, element: Element, order: str) -> tuple[Any, int]:
    """The same row by row, for lists of different lengths."""
    from array import array

    sizes, corners = array("q"), array("q")
    readers = [_reader(each, order) for each in element.properties]
    for number in range(element.count):
        for k, reader in enumerate(readers):
            try:
                found, at = reader(content, at)
            except ValueError:
                raise _cut(content, element, number) from None
            if k == element.corners and element.name == "face":
                sizes.append(len(found))
                corners.extend(found.tolist())
        check_count(len(corners) - 2 * len(sizes), "triangles")
    return (np.array(sizes, np.int64), np.array(corners, np.int64)), at


def _reader(each: Property, order: str) -> Callable[[bytes, int], tuple[NDArray[Any], int]]:
    one = np.dtype(order + each.code)
    count = np.dtype(order + each.length) if each.length else None

    def read(content: bytes, at: int) -> tuple[NDArray[Any], int]:
        many = 1
        if count is not None:
            many = int(np.frombuffer(content, count, 1, at)[0])
            at += count.itemsize
        if not 0 <= many <= MOST_CORNERS:
            raise ValueError(many)
        found = np.frombuffer(content, one, many, at) if many else np.empty(0, one)
        return found, at + one.itemsize * many

    return read


def _cut(content: bytes, element: Element, came: int) -> BrokenMeshError:
    message = f"the header promises {element.count} {element.called}, but the file ends after {came}"
    return BrokenMeshError(message, len(content), WHOLE)
