"""GLB for viewers: glTF 2.0 in metres, +Y up, one steel tone for all parts and a duller one for the chassis."""

from __future__ import annotations

import json
import struct
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from headergen import __version__
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.show.creases import creased

# engine axes (x forward, y left, z up) to glTF's (§3.4: +Y up, right-handed, metres): a quarter turn about x
TO_GLTF = 0.001 * np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]])
# colours are whole steps of 255, as in most viewers' own tables
STEEL = {
    "pbrMetallicRoughness": {
        "baseColorFactor": [158 / 255, 161 / 255, 163 / 255, 1.0],
        "roughnessFactor": 0.35,
        "metallicFactor": 0.85,
    },
    "alphaMode": "OPAQUE",
    "doubleSided": False,
}
CHASSIS = {
    "pbrMetallicRoughness": {
        "baseColorFactor": [76 / 255, 79 / 255, 82 / 255, 140 / 255],
        "roughnessFactor": 0.9,
        "metallicFactor": 0.0,
    },
    "alphaMode": "BLEND",
    "doubleSided": True,
}
INDICES = {"componentType": 5125, "type": "SCALAR"}  # §3.6.2.2: 32-bit whole numbers
VECTORS = {"componentType": 5126, "type": "VEC3"}  # 32-bit floats
TRIANGLES = 4  # §3.7.2.1
MAGIC, JSON_CHUNK, BINARY_CHUNK = 0x46546C67, 0x4E4F534A, 0x004E4942  # §4.4


@dataclass(frozen=True, eq=False)
class _Buffer:
    """The binary chunk as it grows: equal arrays are stored once, and so are their accessors."""

    views: dict[bytes, int] = field(default_factory=dict)  # content → its view
    accessors: dict[tuple[int, int, str], int] = field(default_factory=dict)  # component, view, type → its place
    described: list[dict[str, Any]] = field(default_factory=list)

    def add(self, array: NDArray[Any], kind: Mapping[str, Any]) -> int:
        """The accessor of an array, (n, 3) or (n,), of 32-bit numbers."""
        view = self.views.setdefault(array.tobytes(), len(self.views))
        key = (kind["componentType"], view, kind["type"])
        if key not in self.accessors:
            self.accessors[key] = len(self.described)
            low, high = (np.atleast_1d(bound).tolist() for bound in (array.min(axis=0), array.max(axis=0)))
            self.described.append({**kind, "bufferView": view, "count": len(array), "max": high, "min": low})
        return self.accessors[key]


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
    groups = [(meshes, look) for meshes, look in ((parts, STEEL), (items, CHASSIS)) if meshes]
    buffer = _Buffer()
    meshes = [_mesh(name, m, (buffer, k)) for k, (each, _) in enumerate(groups) for name, m in each.items()]
    scene: dict[str, Any] = {} if chord_error is None else {"extras": {"chord_error_mm": chord_error}}
    binary = b"".join(buffer.views)
    document = {
        "scene": 0,
        "scenes": [{**scene, "nodes": list(range(len(meshes)))}],
        "asset": {"version": "2.0", "generator": f"headergen {__version__}"},
        "accessors": buffer.described,
        "meshes": meshes,
        "materials": [look for _, look in groups],
        "nodes": [{"name": mesh["name"], "mesh": k} for k, mesh in enumerate(meshes)],
        "buffers": [{"byteLength": len(binary)}],
        "bufferViews": _views(buffer),
    }
    path.write_bytes(_packed(document, binary))


def _mesh(name: str, mesh: TriangleMesh, to: tuple[_Buffer, int]) -> dict[str, Any]:
    buffer, material = to
    vertices, faces, normals = creased(mesh.vertices @ TO_GLTF.T, mesh.faces)
    indices = buffer.add(faces.astype("<u4").ravel(), INDICES)
    attributes = {
        "POSITION": buffer.add(vertices.astype("<f4"), VECTORS),
        "NORMAL": buffer.add(normals.astype("<f4"), VECTORS),
    }
    primitive = {"attributes": attributes, "indices": indices, "mode": TRIANGLES, "material": material}
    return {"name": name, "primitives": [primitive]}


def _views(buffer: _Buffer) -> list[dict[str, int]]:
    lengths = [len(content) for content in buffer.views]
    starts = np.cumsum([0, *lengths]).tolist()
    return [{"buffer": 0, "byteOffset": start, "byteLength": n} for start, n in zip(starts, lengths, strict=False)]


def _packed(document: Mapping[str, Any], binary: bytes) -> bytes:
    """The container (§4.4): a header, and two chunks whose length is a multiple of four."""
    said = json.dumps(document, separators=(",", ":")).encode()
    said += b" " * (-len(said) % 4)
    head = struct.pack("<5I", MAGIC, 2, 28 + len(said) + len(binary), len(said), JSON_CHUNK)
    return head + said + struct.pack("<2I", len(binary), BINARY_CHUNK) + binary
