"""GLB, the binary form of glTF 2.0: metres, y up. It is turned to our axes: x forward, y left, z up.

Only surfaces are read: the nodes of the default scene, their matrices, and the positions and indices of triangles.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import islice
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
    points_mesh,
)
from headergen.spec.mesh.text import WHOLE

TO_OURS = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])  # a quarter turn about x: y becomes z
LARGEST_HEAD = 20_000_000  # bytes of JSON
MOST_NODES = 100_000
COMPONENTS = {5120: "i1", 5121: "u1", 5122: "i2", 5123: "u2", 5125: "u4", 5126: "f4"}
WIDTHS = {"SCALAR": 1, "VEC3": 3}
POINTS, TRIANGLES, STRIP, FAN = 0, 4, 5, 6  # values of a primitive's mode
COMPRESSED = ("KHR_draco_mesh_compression", "EXT_meshopt_compression", "KHR_meshopt_compression")
INSTANCED = "EXT_mesh_gpu_instancing"


@dataclass(frozen=True, eq=False)
class Container:
    """The two chunks of a GLB file; `start` is the byte at which the second chunk's data begins."""

    head: dict[str, Any]
    data: memoryview
    start: int


def read_glb(content: bytes) -> RawMesh:
    """The triangles of the scene, or its points if it has no triangles. Raises BrokenMeshError."""
    box = _container(content)
    try:
        _check_extensions(box.head)
        placed = list(islice(_placed_primitives(box), MOST_NODES + 1))
        check_count(len(placed), "pieces", MOST_NODES, byte=20)
        _check_size(box, placed)
        return _gathered(box, placed)
    except (KeyError, IndexError, TypeError, ValueError, AttributeError, RecursionError, OverflowError):
        raise BrokenMeshError("its description of the scene does not hold together", 20, "export it again") from None


def _container(content: bytes) -> Container:
    if len(content) < 20 or content[:4] != b"glTF":
        raise BrokenMeshError("the file does not begin with glTF, as a mesh of that kind does, or ends at once", 0)
    version, length, head_size, head_kind = struct.unpack_from("<III4s", content, 4)
    if version != 2:
        raise BrokenMeshError(f"it is glTF of version {version}; only version 2 is read", 4, "export it again")
    if length > len(content):
        message = f"the header promises {length} bytes, but the file ends after {len(content)}"
        raise BrokenMeshError(message, len(content), WHOLE)
    if head_kind != b"JSON" or head_size > length - 20:
        raise BrokenMeshError("the description of the scene is not where it should be", 12, "export it again")
    if head_size > LARGEST_HEAD:
        raise BrokenMeshError(
            f"its description of the scene has {head_size} bytes; at most {LARGEST_HEAD} are read", 12
        )
    try:
        head = json.loads(content[20 : 20 + head_size])
    except (ValueError, RecursionError):
        raise BrokenMeshError("the description of the scene is damaged", 20, "export it again") from None
    if not isinstance(head, dict):
        raise BrokenMeshError("the description of the scene is damaged", 20, "export it again")
    at = 20 + head_size
    if at == length:
        return Container(head, memoryview(b""), at)  # a file without a data chunk
    size = struct.unpack_from("<I", content, at)[0] if at + 8 <= length else 0
    if at + 8 + size > length:
        raise BrokenMeshError(f"the data should end at byte {at + 8 + size}, but the file ends at {length}", at, WHOLE)
    return Container(head, memoryview(content)[at + 8 : at + 8 + size], at + 8)


def _check_extensions(head: dict[str, Any]) -> None:
    needed = [*head.get("extensionsRequired", ()), *(e for e in head.get("extensionsUsed", ()) if e == INSTANCED)]
    for name in needed:
        if name in COMPRESSED or name == INSTANCED:
            how = "compressed" if name in COMPRESSED else "repeated by an extension"
            raise BrokenMeshError(f"its triangles are {how} ({name}), which is not read", 20, "export it without that")


def _placed_primitives(box: Container) -> Iterator[tuple[NDArray[np.float64], dict[str, Any]]]:
    """Each primitive of the scene with its matrix (4, 4), in the order of the nodes."""
    head = box.head
    nodes, scenes = head.get("nodes", []), head.get("scenes", [])
    if len(nodes) > MOST_NODES:
        raise BrokenMeshError(f"its scene has {len(nodes)} nodes; at most {MOST_NODES} are read", 20)
    roots = scenes[head.get("scene", 0)].get("nodes", []) if scenes else range(len(nodes))
    left = [(root, np.eye(4)) for root in reversed(roots)]
    seen: set[int] = set()
    while left:
        number, above = left.pop()
        if number in seen:
            if scenes:
                raise BrokenMeshError(f"node {number} of its scene hangs from two others", 20, "export it again")
            continue
        seen.add(number)
        node = nodes[number]
        matrix = above @ _matrix(node)
        left += [(child, matrix) for child in reversed(node.get("children", []))]
        if "mesh" in node:
            for primitive in head["meshes"][node["mesh"]]["primitives"]:
                yield matrix, primitive


def _matrix(node: dict[str, Any]) -> NDArray[np.float64]:
    """A node's transform in its parent: a matrix by columns, or translation, rotation and scale (glTF 2.0 §3.5.3)."""
    if "matrix" in node:
        return np.array(node["matrix"], float).reshape(4, 4).T
    x, y, z, w = (float(value) for value in node.get("rotation", (0, 0, 0, 1)))
    turned = np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]
    )
    out = np.eye(4)
    out[:3, :3] = turned * np.array(node.get("scale", (1, 1, 1)), float)
    out[:3, 3] = np.array(node.get("translation", (0, 0, 0)), float)
    return out


def _mode(primitive: dict[str, Any]) -> int:
    return int(primitive.get("mode", TRIANGLES))


def _check_size(box: Container, placed: list[tuple[Any, dict[str, Any]]]) -> None:
    """Counts the whole scene, each mesh as often as it is used, before any of it is built."""
    accessors = box.head.get("accessors", [])
    corners = triangles = 0
    for _, primitive in placed:
        points = int(accessors[primitive["attributes"]["POSITION"]]["count"])
        corners += points
        ends = int(accessors[primitive["indices"]]["count"]) if "indices" in primitive else points
        mode = _mode(primitive)
        triangles += ends // 3 if mode == TRIANGLES else max(ends - 2, 0) if mode in (STRIP, FAN) else 0
    check_count(triangles, "triangles", byte=20)
    check_count(corners, "corners", MOST_VERTICES, byte=20)


def _gathered(box: Container, placed: list[tuple[NDArray[np.float64], dict[str, Any]]]) -> RawMesh:
    vertices: list[NDArray[Any]] = []
    faces: list[NDArray[np.int32]] = []
    clouds: list[NDArray[Any]] = []
    count = 0
    for matrix, primitive in placed:
        mode = _mode(primitive)
        if mode not in (POINTS, TRIANGLES, STRIP, FAN):
            continue  # lines have no surface
        points = _moved(_accessor(box, primitive["attributes"]["POSITION"]), matrix)
        if mode == POINTS:
            clouds.append(points)
            continue
        indices = primitive.get("indices")
        ends = np.arange(len(points)) if indices is None else _accessor(box, indices)[:, 0].astype(np.int64)
        own = _triangles(ends, mode)
        check_indices(own, len(points), box.start)
        vertices.append(points)
        faces.append(own + np.int32(count))
        count += len(points)
    if not faces or not sum(map(len, faces)):
        if not clouds:
            raise BrokenMeshError("the file holds no triangle and no point, only lines or nothing", 20)
        return _finished(points_mesh(np.concatenate(clouds)))
    return _finished(RawMesh(as_stored(np.concatenate(vertices)), np.concatenate(faces), box.start))


def _finished(mesh: RawMesh) -> RawMesh:
    return replace(mesh, units="m", y_up=True)


def _triangles(ends: NDArray[Any], mode: int) -> NDArray[np.int32]:
    if mode == TRIANGLES:
        if len(ends) % 3:
            raise BrokenMeshError(
                f"its triangles have {len(ends)} corners in all, which is no multiple of three", 20, WHOLE
            )
        return ends.reshape(-1, 3).astype(np.int32)
    first = np.zeros(max(len(ends) - 2, 0), np.int64) if mode == FAN else np.arange(max(len(ends) - 2, 0))
    step = np.arange(len(first))
    odd = step % 2 if mode == STRIP else 0
    return np.column_stack([ends[first], ends[step + 1 + odd], ends[step + 2 - odd]]).astype(np.int32)


def _moved(points: NDArray[Any], matrix: NDArray[np.float64]) -> NDArray[Any]:
    """The points transformed, and turned z up; in single precision if nothing is transformed."""
    if np.array_equal(matrix, np.eye(4)):
        return np.column_stack([points[:, 0], -points[:, 2], points[:, 1]])
    whole = TO_OURS @ matrix[:3]
    return points.astype(float) @ whole[:, :3].T + whole[:, 3]


def _accessor(box: Container, number: int) -> NDArray[Any]:
    """(n, 1 or 3) numbers, in the order of the file."""
    accessor = box.head["accessors"][number]
    if "sparse" in accessor or "bufferView" not in accessor:
        raise BrokenMeshError("its numbers are stored sparsely, which is not read", 20, "export it again, plainly")
    view = box.head["bufferViews"][accessor["bufferView"]]
    if view.get("buffer", 0) != 0 or "uri" in box.head["buffers"][0]:
        raise BrokenMeshError("its numbers are in another file", 20, "export it as one GLB file")
    kind, width = np.dtype("<" + COMPONENTS[accessor["componentType"]]), WIDTHS[accessor["type"]]
    count, stride = int(accessor["count"]), int(view.get("byteStride", kind.itemsize * width))
    start = int(view.get("byteOffset", 0)) + int(accessor.get("byteOffset", 0))
    end = start + (count - 1) * stride + kind.itemsize * width
    if count < 1 or start < 0 or stride < kind.itemsize * width or end > len(box.data):
        message = f"the scene promises {count} entries of {accessor['type']} up to byte {box.start + end}, but its "
        raise BrokenMeshError(message + f"data end at {box.start + len(box.data)}", box.start, WHOLE)
    found = np.ndarray((count, width), kind, box.data, start, (stride, kind.itemsize))
    if not accessor.get("normalized") or kind.kind == "f":
        return found
    most = np.iinfo(kind).max
    return np.maximum(found / most, -1.0)
