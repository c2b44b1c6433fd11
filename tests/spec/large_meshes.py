"""Writes the largest mesh that may be read, in every format; a process of its own, since its memory would be counted.

python tests/spec/large_meshes.py KIND FILE
"""

from __future__ import annotations

import json
import struct
import sys
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import IO

import numpy as np

TRIANGLES = 5_000_000
ACROSS, ALONG = 2500, 1000  # squares of the sheet, of two triangles each
ROWS = 100  # of squares that are written at once
HIGH = -260.0  # mm; where the sheet lies
KINDS = ("stl", "text.stl", "ply", "text.ply", "points.ply", "obj", "soup.obj", "off", "glb", "3mf")


def corners(first: int, last: int) -> np.ndarray:
    """((last − first)·(ACROSS + 1), 3) corners of some rows, with more digits than single precision holds."""
    y, x = np.meshgrid(np.arange(first, last) * 0.7, np.arange(ACROSS + 1) * 0.61, indexing="ij")
    return np.column_stack([x.ravel() - 700, y.ravel() - 300, (HIGH + np.sin(x * 0.07) * 9 + np.cos(y / 9)).ravel()])


def faces(first: int, last: int) -> np.ndarray:
    """Triangles of some rows of squares, by the numbers of their corners."""
    a = (np.arange(first, last)[:, None] * (ACROSS + 1) + np.arange(ACROSS)).ravel()
    b = a + ACROSS + 1
    return np.column_stack([a, a + 1, b + 1, a, b + 1, b]).reshape(-1, 3)


def blocks(most: int) -> Iterator[tuple[int, int]]:
    return ((low, min(low + ROWS, most)) for low in range(0, most, ROWS))


def text(table: np.ndarray, form: str) -> bytes:
    return (form * len(table) % tuple(table.ravel().tolist())).encode()


def write_text(file: IO[bytes], head: str, corner: str, face: str, base: int = 0) -> None:
    file.write(head.encode())
    for low, high in blocks(ALONG + 1):
        file.write(text(corners(low, high), corner))
    for low, high in blocks(ALONG):
        file.write(text(faces(low, high) + base, face))


def written(points: np.ndarray, form: str) -> list[str]:
    """Each point as text, once: most stand in six triangles."""
    return text(points, form + "\0").decode().split("\0")[:-1]


def write_soup(file: IO[bytes]) -> None:
    """Every triangle with corners of its own: the most corners that there may be."""
    for low, high in blocks(ALONG):
        points, ends = written(corners(low, high + 1), "v %.6f %.6f %.6f\n"), faces(low, high) - low * (ACROSS + 1)
        file.write("".join(points[k] for k in ends.ravel().tolist()).encode())
        first = 6 * low * ACROSS + 1
        file.write(text(np.arange(first, first + ends.size).reshape(-1, 3), "f %d %d %d\n"))


def write_stl(file: IO[bytes], as_text: bool) -> None:
    head, end = "facet normal 0 0 1\nouter loop\n", "endloop\nendfacet\n"
    file.write(b"solid a\n" if as_text else bytes(80) + struct.pack("<I", TRIANGLES))
    for low, high in blocks(ALONG):
        points, ends = corners(low, high + 1), faces(low, high) - low * (ACROSS + 1)
        if as_text:
            said = written(points, "vertex %.5f %.5f %.5f\n")
            file.write("".join(f"{head}{said[a]}{said[b]}{said[c]}{end}" for a, b, c in ends.tolist()).encode())
            continue
        found = points[ends]
        records = np.zeros(len(found), np.dtype([("n", "<f4", 3), ("c", "<f4", (3, 3)), ("a", "<u2")]))
        records["c"] = found
        file.write(records.tobytes())
    file.write(b"endsolid a\n" if as_text else b"")


def ply_head(form: str, points: int, count: int) -> str:
    axes = "".join(f"property double {axis}\n" for axis in "xyz")
    listed = f"element face {count}\nproperty list uchar int vertex_indices\n" if count else ""
    return f"ply\nformat {form} 1.0\nelement vertex {points}\n{axes}{listed}end_header\n"


def write_ply(file: IO[bytes], points_only: bool) -> None:
    rows = 2 * ALONG - 2 if points_only else ALONG + 1
    head = ply_head("binary_little_endian", rows * (ACROSS + 1), 0 if points_only else TRIANGLES)
    file.write(head.encode())
    for low, high in blocks(rows):
        file.write(corners(low, high).astype("<f8").tobytes())
    for low, high in blocks(0 if points_only else ALONG):
        found = faces(low, high)
        records = np.zeros(len(found), np.dtype([("n", "u1"), ("c", "<i4", 3)]))
        records["n"], records["c"] = 3, found
        file.write(records.tobytes())


def write_glb(file: IO[bytes]) -> None:
    points, ends = (ALONG + 1) * (ACROSS + 1), 3 * TRIANGLES
    views = [{"buffer": 0, "byteLength": 12 * points}, {"buffer": 0, "byteOffset": 12 * points, "byteLength": 4 * ends}]
    head = {
        "asset": {"version": "2.0"},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": [{"mesh": 0, "rotation": [0.1, 0.0, 0.0, 0.99498743710662]}],  # which makes double precision of it
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
        "accessors": [
            {"bufferView": 0, "componentType": 5126, "count": points, "type": "VEC3"},
            {"bufferView": 1, "componentType": 5125, "count": ends, "type": "SCALAR"},
        ],
        "bufferViews": views,
        "buffers": [{"byteLength": 12 * points + 4 * ends}],
    }
    said = json.dumps(head).encode()
    said += b" " * (-len(said) % 4)
    size = 12 * points + 4 * ends
    file.write(struct.pack("<4sIII4s", b"glTF", 2, 28 + len(said) + size, len(said), b"JSON") + said)
    file.write(struct.pack("<I4s", size, b"BIN\0"))
    for low, high in blocks(ALONG + 1):
        file.write((corners(low, high)[:, [0, 2, 1]] * (1, 1, -1) / 1000).astype("<f4").tobytes())
    for low, high in blocks(ALONG):
        file.write(faces(low, high).astype("<u4").tobytes())


def write_3mf(path: Path) -> None:
    with (
        zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive,
        archive.open("3D/3dmodel.model", "w", force_zip64=True) as file,
    ):
        file.write(b'<?xml version="1.0"?>\n<model unit="millimeter"><resources><object id="1"><mesh><vertices>\n')
        for low, high in blocks(ALONG + 1):
            file.write(text(corners(low, high), '<vertex x="%.6f" y="%.6f" z="%.6f"/>\n'))
        file.write(b"</vertices><triangles>\n")
        for low, high in blocks(ALONG):
            file.write(text(faces(low, high), '<triangle v1="%d" v2="%d" v3="%d"/>\n'))
        file.write(b'</triangles></mesh></object></resources><build><item objectid="1"/></build></model>\n')


def write(kind: str, path: Path) -> None:
    points = (ALONG + 1) * (ACROSS + 1)
    if kind == "3mf":
        write_3mf(path)
        return
    with path.open("wb") as file:
        if kind.endswith("stl"):
            write_stl(file, kind == "text.stl")
        elif kind == "text.ply":
            write_text(file, ply_head("ascii", points, TRIANGLES), "%.6f %.6f %.6f\n", "3 %d %d %d\n")
        elif kind.endswith("ply"):
            write_ply(file, kind == "points.ply")
        elif kind == "soup.obj":
            write_soup(file)
        elif kind == "obj":
            write_text(file, "", "v %.6f %.6f %.6f\n", "f %d %d %d\n", 1)
        elif kind == "off":
            write_text(file, f"OFF\n{points} {TRIANGLES} 0\n", "%.6f %.6f %.6f\n", "3 %d %d %d\n")
        else:
            write_glb(file)


if __name__ == "__main__":
    write(sys.argv[1], Path(sys.argv[2]))
