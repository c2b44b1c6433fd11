"""3MF: XML in a zip archive. It is streamed and counted before it is built: a small file may unpack to any size.

The core specification is supported: objects made of meshes or of components, and the build items that place them.
"""

from __future__ import annotations

import zipfile
import zlib
from array import array
from dataclasses import dataclass, field
from io import BytesIO
from typing import Any
from xml.parsers import expat

import numpy as np
from numpy.typing import NDArray

from headergen.model import MeshUnits
from headergen.spec.mesh.raw import (
    MOST_BYTES,
    MOST_TRIANGLES,
    MOST_VERTICES,
    BrokenMeshError,
    RawMesh,
    as_stored,
    check_count,
    check_indices,
)
from headergen.spec.mesh.text import WHOLE

UNITS: dict[str, MeshUnits] = {"millimeter": "mm", "centimeter": "cm", "meter": "m", "inch": "in", "foot": "ft"}
BLOCK = 1_000_000  # bytes unpacked at once
LONGEST = 16_000_000  # bytes of one XML element
DEEPEST = 100  # levels of components in components
MOST_ITEMS = 100_000

Key = tuple[str, str]  # the part of the archive, and the object's id in it


@dataclass
class Solid:
    """One object: its own triangles, and the placed components in it."""

    corners: array[float] = field(default_factory=lambda: array("d"))
    faces: array[int] = field(default_factory=lambda: array("i"))
    parts: list[tuple[Key, NDArray[np.float64]]] = field(default_factory=list)


@dataclass
class ModelPart:
    solids: dict[Key, Solid] = field(default_factory=dict)
    items: list[tuple[Key, NDArray[np.float64]]] = field(default_factory=list)
    units: str = "millimeter"
    corners: int = 0
    triangles: int = 0


def read_3mf(content: bytes) -> RawMesh:
    """The triangles of everything in the build. Raises BrokenMeshError."""
    model = ModelPart()
    try:
        with zipfile.ZipFile(BytesIO(content)) as archive:
            _check_size(archive)
            parts = [name for name in archive.namelist() if name.lower().endswith(".model")]
            main = _main_part(archive, parts)
            for name in parts:
                _read_part(archive, name, name == main, model)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, OSError):
        raise BrokenMeshError("the archive is damaged or cut short", 0, WHOLE) from None
    return _assembled(model)


def _check_size(archive: zipfile.ZipFile) -> None:
    size = sum(info.file_size for info in archive.infolist())
    if size > MOST_BYTES:
        message = f"the file has {size} bytes once it is unpacked; at most {MOST_BYTES} are read"
        raise BrokenMeshError(message, 0, "crop it to what is near the header, or thin it out, and export it again")


def _main_part(archive: zipfile.ZipFile, parts: list[str]) -> str:
    """The part that the archive starts with: by its relationships, else the usual one."""
    if not parts:
        raise BrokenMeshError("the archive holds no model", 0)
    names = {f"/{name}": name for name in parts}
    if "_rels/.rels" in archive.namelist() and archive.getinfo("_rels/.rels").file_size < BLOCK:
        said = archive.read("_rels/.rels").decode("utf-8", "replace")
        for target, name in names.items():
            if f'"{target}"' in said or f"'{target}'" in said:
                return name
    return names.get("/3D/3dmodel.model", parts[0])


def _read_part(archive: zipfile.ZipFile, name: str, is_main: bool, model: ModelPart) -> None:
    reader = _Reader(f"/{name}", is_main, model)
    parser = expat.ParserCreate()
    parser.StartElementHandler = reader.start
    parser.StartDoctypeDeclHandler = _refuse_doctype
    fed = 0
    try:
        with archive.open(name) as part:
            while block := part.read(BLOCK):
                parser.Parse(block)
                fed += len(block)
                if fed - parser.CurrentByteIndex > LONGEST:
                    raise BrokenMeshError(f"an element of {name} has more than {LONGEST} bytes", 0)
            parser.Parse(b"", True)
    except expat.ExpatError as error:
        message = f"{name} in the archive is no whole XML: it goes wrong in its line {error.lineno}"
        raise BrokenMeshError(message, 0, WHOLE) from None
    except (LookupError, ValueError, OverflowError):
        line, column = parser.CurrentLineNumber, parser.CurrentColumnNumber + 1
        message = f"{name} in the archive has something wrong in its line {line}, column {column}"
        raise BrokenMeshError(message, 0, "export it again") from None


def _refuse_doctype(*_: Any) -> None:
    raise BrokenMeshError("its XML declares a document type, which 3MF forbids", 0)


class _Reader:
    """Interprets the elements of one part in order."""

    def __init__(self, part: str, is_main: bool, model: ModelPart) -> None:
        self.part, self.is_main, self.model = part, is_main, model
        self.solid = Solid()

    def start(self, tag: str, said: dict[str, str]) -> None:
        kind = tag.rpartition(":")[2]
        if kind == "vertex":
            self.solid.corners.extend((float(said["x"]), float(said["y"]), float(said["z"])))
            self.model.corners += 1
            if self.model.corners > MOST_VERTICES:
                check_count(self.model.corners, "corners and more", MOST_VERTICES)
        elif kind == "triangle":
            self.solid.faces.extend((int(said["v1"]), int(said["v2"]), int(said["v3"])))
            self.model.triangles += 1
            if self.model.triangles > MOST_TRIANGLES:
                check_count(self.model.triangles, "triangles and more", MOST_TRIANGLES)
        elif kind == "object":
            self.solid = self.model.solids[(self.part, said["id"])] = Solid()
        elif kind == "component":
            self.solid.parts.append(self._placed(said))
        elif kind == "item" and self.is_main:
            self.model.items.append(self._placed(said))
            check_count(len(self.model.items), "items", MOST_ITEMS)
        elif kind == "model" and self.is_main:
            self.model.units = said.get("unit", "millimeter")
        elif kind == "beam":
            raise BrokenMeshError("it holds a lattice of beams, which is not read", 0, "export it as a mesh")

    def _placed(self, said: dict[str, str]) -> tuple[Key, NDArray[np.float64]]:
        """An object and its transform: twelve numbers, a row an axis, then the translation (core spec, 3.3)."""
        path = next((value for key, value in said.items() if key.endswith(":path")), self.part)
        numbers = [float(word) for word in said.get("transform", "1 0 0 0 1 0 0 0 1 0 0 0").split()]
        return (path, said["objectid"]), np.array(numbers).reshape(4, 3)


def _assembled(model: ModelPart) -> RawMesh:
    if model.units not in UNITS and model.units != "micron":
        raise BrokenMeshError(f'its unit is "{model.units}", which 3MF does not have', 0)
    if not model.items:
        raise BrokenMeshError("nothing is placed in its build", 0, "export it again")
    sizes: dict[Key, tuple[int, int]] = {}
    totals = [_size(model, key, sizes, 0) for key, _ in model.items]
    check_count(sum(triangles for triangles, _ in totals), "triangles")
    check_count(sum(corners for _, corners in totals), "corners", MOST_VERTICES)
    vertices: list[NDArray[np.float64]] = []
    faces: list[NDArray[np.int32]] = []
    for key, place in model.items:
        _add(model, (key, place), sizes, vertices, faces)
    if not faces:
        raise BrokenMeshError("the file holds no triangle", 0)
    starts = np.cumsum([0, *map(len, vertices[:-1])])
    whole = np.concatenate([own + np.int32(start) for own, start in zip(faces, starts, strict=True)])
    points = np.concatenate(vertices)
    if model.units == "micron":
        return RawMesh(points / 1000, whole, units="mm")
    return RawMesh(as_stored(points), whole, units=UNITS[model.units])


def _size(model: ModelPart, key: Key, known: dict[Key, tuple[int, int]], depth: int) -> tuple[int, int]:
    """The total triangles and corners of an object, each component counted as often as it is used."""
    if key in known:
        return known[key]
    if key not in model.solids or depth > DEEPEST:
        what = f"object {key[1]} is not there" if key not in model.solids else f"object {key[1]} holds itself"
        raise BrokenMeshError(what, 0, "export it again")
    solid = model.solids[key]
    triangles, corners = len(solid.faces) // 3, len(solid.corners) // 3 if solid.faces else 0
    for inner, _ in solid.parts:
        more = _size(model, inner, known, depth + 1)
        triangles, corners = triangles + more[0], corners + more[1]
    known[key] = (triangles, corners)
    return known[key]


def _add(
    model: ModelPart,
    placed: tuple[Key, NDArray[np.float64]],
    sizes: dict[Key, tuple[int, int]],
    vertices: list[NDArray[np.float64]],
    faces: list[NDArray[np.int32]],
) -> None:
    key, place = placed
    check_count(len(faces), "pieces", MOST_ITEMS)
    if not sizes[key][0]:
        return  # it is empty, however often it is used
    solid = model.solids[key]
    if solid.faces:
        points = np.frombuffer(solid.corners, float).reshape(-1, 3)
        own = np.frombuffer(solid.faces, np.int32).reshape(-1, 3)
        check_indices(own, len(points))
        moved = not np.array_equal(place, np.eye(4, 3))
        vertices.append(points @ place[:3] + place[3] if moved else points)
        faces.append(own)
    for inner, where in solid.parts:
        _add(model, (inner, _combined(where, place)), sizes, vertices, faces)


def _combined(inner: NDArray[np.float64], outer: NDArray[np.float64]) -> NDArray[np.float64]:
    """(4, 3) the inner transform followed by the outer one; points are rows."""
    return np.vstack([inner[:3] @ outer[:3], inner[3] @ outer[:3] + outer[3]])
