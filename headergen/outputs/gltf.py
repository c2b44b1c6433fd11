"""GLB for viewers: glTF 2.0 in metres, +Y up, one steel tone for all parts and a duller one for the chassis.

The container is written here: what a library for meshes loads before it writes one takes ten times as long.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import accumulate
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.show.creases import creased

# engine axes (x forward, y left, z up) to glTF's (§3.4: +Y up, right-handed, metres): a quarter turn about x
TO_GLTF = 0.001 * np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]])
STEEL = {
    "pbrMetallicRoughness": {
        "baseColorFactor": [0.62, 0.63, 0.64, 1.0],
        "metallicFactor": 0.85,
        "roughnessFactor": 0.35,
    },
    "alphaMode": "OPAQUE",
}
CHASSIS = {
    "pbrMetallicRoughness": {
        "baseColorFactor": [0.30, 0.31, 0.32, 0.55],
        "metallicFactor": 0.0,
        "roughnessFactor": 0.9,
    },
    "alphaMode": "BLEND",
    "doubleSided": True,
}
UINT, FLOAT, TRIANGLES = 5125, 5126, 4  # §3.6.2.2 and §5.24: component types, and the mode of a primitive
JSON, BINARY = 0x4E4F534A, 0x004E4942  # §4.4.3: types of chunks


@dataclass(frozen=True, eq=False)
class _Arrays:
    """The arrays of a file in their order, each once, and what its JSON says of them."""

    numbers: dict[tuple[int, bytes], int] = field(default_factory=dict)  # by component type and content
    accessors: list[dict[str, Any]] = field(default_factory=list)

    @property
    def views(self) -> list[dict[str, Any]]:
        lengths = [len(content) for _, content in self.numbers]
        begins = [0, *accumulate(lengths)]
        return [{"buffer": 0, "byteOffset": k, "byteLength": n} for k, n in zip(begins, lengths, strict=False)]

    @property
    def binary(self) -> bytes:
        return b"".join(content for _, content in self.numbers)

    def add(self, values: NDArray[Any], kind: int) -> int:
        """The number of an array, (n,) or (n, 3); all components have four bytes, so that each begins aligned."""
        number = self.numbers.setdefault((kind, values.tobytes()), len(self.numbers))
        if number == len(self.accessors):
            columns = values.reshape(len(values), -1)
            self.accessors.append(
                {
                    "bufferView": number,
                    "componentType": kind,
                    "count": len(values),
                    "type": "SCALAR" if columns.shape[1] == 1 else "VEC3",
                    "min": columns.min(axis=0).tolist(),
                    "max": columns.max(axis=0).tolist(),
                }
            )
        return number


def write_glb(
    path: Path,
    parts: Mapping[str, TriangleMesh],
    chassis: Mapping[str, TriangleMesh] | None = None,
    chord_error: float | None = None,
) -> None:
    """Writes meshes (engine axes, mm) under their names; the chassis, if given, is translucent.

    A chassis item with the name of a part is written as "NAME (chassis)". `chord_error`, mm: the largest deviation of
    the parts, which the file states if it is given.
    """
    items = {f"{name} (chassis)" if name in parts else name: mesh for name, mesh in (chassis or {}).items()}
    arrays = _Arrays()
    meshes = [_mesh(name, mesh, 0, arrays) for name, mesh in parts.items()]
    meshes += [_mesh(name, mesh, 1, arrays) for name, mesh in items.items()]
    binary = arrays.binary
    stated = {} if chord_error is None else {"extras": {"chord_error_mm": chord_error}}
    document = {
        "asset": {"version": "2.0", "generator": "headergen"},
        "scene": 0,
        "scenes": [{**stated, "nodes": list(range(len(meshes)))}],
        "nodes": [{"name": mesh["name"], "mesh": k} for k, mesh in enumerate(meshes)],
        "meshes": meshes,
        "materials": [STEEL, CHASSIS] if items else [STEEL],
        "accessors": arrays.accessors,
        "bufferViews": arrays.views,
        "buffers": [{"byteLength": len(binary)}],
    }
    path.write_bytes(_container(document, binary))


def _mesh(name: str, mesh: TriangleMesh, material: int, arrays: _Arrays) -> dict[str, Any]:
    vertices, faces, normals = creased(mesh.vertices @ TO_GLTF.T, mesh.faces)
    primitive = {
        "indices": arrays.add(faces.astype("<u4").ravel(), UINT),
        "attributes": {
            "POSITION": arrays.add(vertices.astype("<f4"), FLOAT),
            "NORMAL": arrays.add(normals.astype("<f4"), FLOAT),
        },
        "material": material,
        "mode": TRIANGLES,
    }
    return {"name": name, "primitives": [primitive]}


def _container(document: Mapping[str, Any], binary: bytes) -> bytes:
    """§4.4: a head of 12 bytes and two chunks; the JSON is filled up with spaces to a multiple of four bytes."""
    text = json.dumps(document, ensure_ascii=False, separators=(",", ":")).encode()
    text += b" " * (-len(text) % 4)
    chunks = b"".join(struct.pack("<II", len(each), kind) + each for each, kind in ((text, JSON), (binary, BINARY)))
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks
