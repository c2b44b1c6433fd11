"""Parts kept in the user's cache folder, so that a build makes only what depends on a change.

The key of a part is the hash of all it is made from: its seat, its cuts, tube and chordal deviation, headergen's own
source, and the versions of the libraries used. An entry that cannot be read completely is removed and made again, an
entry that is read is checked like a new part, and an entry that cannot be written is skipped.
"""

from __future__ import annotations

import hashlib
import io
import os
import platform
import time
from collections.abc import Collection, Iterator
from contextlib import suppress
from dataclasses import dataclass, fields, is_dataclass
from enum import Enum
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import numpy as np
from OCP.BinTools import BinTools, BinTools_FormatVersion
from OCP.TopAbs import TopAbs_SOLID
from OCP.TopoDS import TopoDS, TopoDS_Shape

from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.model import Draft
from headergen.parts.kind import Seated
from headergen.solids.mesh import is_watertight

FORMAT = 1  # increased when what is stored of a part changes
MOST_KEPT = 200_000_000  # bytes; the least recently used is removed first
LIBRARIES = ("cadquery-ocp", "numpy", "scipy")
PART = ".part"  # suffix of a file that is being written, after the number of the process that writes it
AN_HOUR = 3600.0  # seconds; no write takes this long


@dataclass(frozen=True)
class Shelf:
    """A folder of kept parts; it need not exist."""

    folder: Path

    def part(self, key: str) -> tuple[Any, TriangleMesh] | None:
        """The solid and the mesh stored under a key, if they are there and complete; damaged ones are removed."""
        found: tuple[Any, TriangleMesh] | None = _taken(self.folder / f"{key}.npz", _read_part)
        return found

    def keep_part(self, key: str, solid: bytes, mesh: TriangleMesh) -> None:
        """`solid` in its written form."""
        arrays = {"brep": np.frombuffer(solid, np.uint8), "vertices": mesh.vertices, "faces": mesh.faces}
        self._write(key, arrays | {"digest": _digest(*arrays.values())})

    def volume(self, key: str) -> float | None:
        """The volume stored under a key, mm³, if it is there and complete; a damaged one is removed."""
        found: float | None = _taken(self.folder / f"{key}.npz", _read_volume)
        return found

    def keep_volume(self, key: str, volume: float) -> None:
        number = np.array([volume])
        self._write(key, {"volume": number, "digest": _digest(number)})

    def _write(self, key: str, arrays: dict[str, Any]) -> None:
        """A full disk or a read-only folder changes nothing."""
        if not self.folder.is_absolute():  # a user without a home
            return
        path = self.folder / f"{key}.npz"
        beside = path.with_name(f"{path.name}.{os.getpid()}{PART}")
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            with beside.open("wb") as file:
                np.savez(file, **arrays)
            beside.replace(path)
        except OSError:
            with suppress(OSError):
                beside.unlink(missing_ok=True)

    def tidy(self) -> None:
        """Remove the least recently used entries beyond MOST_KEPT, and files that were never finished."""
        with suppress(OSError):
            for beside in self.folder.glob(f"*{PART}"):
                if time.time() - beside.stat().st_mtime > AN_HOUR:
                    beside.unlink(missing_ok=True)
            room = MOST_KEPT
            for path in sorted(self.folder.glob("*.npz"), key=lambda path: path.stat().st_mtime, reverse=True):
                room -= path.stat().st_size
                if room < 0:
                    path.unlink(missing_ok=True)


def users_shelf() -> Shelf:
    import platformdirs

    return Shelf(platformdirs.user_cache_path("headergen") / "parts")


def key_of(part: Seated, taken_out: Collection[Seated], draft: Draft) -> str | None:
    """The hash of all that a part is made from; `taken_out`: the parts whose holes it has.

    None if something in it is of an unknown kind, so that equality cannot be decided.
    """
    made_from = (part.kind.shape, part.seat, draft.tube, draft.limits.chord_error)
    holes = tuple((hole.kind.shape, hole.seat) for hole in taken_out)
    try:
        text = "\n".join(_said((FORMAT, made_from, holes)))
    except TypeError:
        return None
    return hashlib.sha256(f"{_makers()}\n{text}".encode()).hexdigest()


def key_of_pair(one: str, other: str) -> str:
    """The key of the common volume of two parts, from their own keys."""
    return hashlib.sha256(f"in common\n{one}\n{other}".encode()).hexdigest()


def _said(value: Any) -> Iterator[str]:
    """A value as words; only equal values give equal words. Raises TypeError for a type that may hide something."""
    if is_dataclass(value) and not isinstance(value, type):
        yield f"{type(value).__qualname__} of {len(fields(value))}"
        for each in fields(value):
            yield each.name
            yield from _said(getattr(value, each.name))
    elif isinstance(value, tuple):
        yield f"tuple of {len(value)}"
        for each in value:
            yield from _said(each)
    elif value is None or isinstance(value, (bool, int, float, str, Enum)):
        yield f"{type(value).__name__} {value!r}"  # the repr of a float is exact
    else:
        raise TypeError(f"{type(value).__name__} is no plain value")


@cache
def _makers() -> str:
    """The hash of headergen's own source and of the versions of the libraries that make parts."""
    package = Path(__file__).resolve().parents[1]
    made = hashlib.sha256(f"{platform.python_version()} {platform.machine()} {platform.system()}".encode())
    for name in LIBRARIES:
        with suppress(PackageNotFoundError):
            made.update(f"{name} {version(name)}".encode())
    for file in sorted(package.rglob("*.py")):
        made.update(f"{file.relative_to(package).as_posix()}\n".encode())
        made.update(hashlib.sha256(file.read_bytes()).digest())
    return made.hexdigest()


def _taken(path: Path, read: Any) -> Any:
    try:
        if not path.is_file():
            return None
        with np.load(path, allow_pickle=False) as kept:
            found = read(kept)
    except Exception:  # damage may raise anything in the zip, array and shape readers
        with suppress(OSError):
            path.unlink(missing_ok=True)
        return None
    with suppress(OSError):
        os.utime(path)  # marks it as used now
    return found


def _read_part(kept: Any) -> tuple[Any, TriangleMesh]:
    brep, vertices, faces = (kept[name] for name in ("brep", "vertices", "faces"))
    if str(kept["digest"]) != _digest(brep, vertices, faces) or not is_watertight(faces):
        raise ValueError("a part that was kept is not as it was")
    return read_solid(brep.tobytes()), TriangleMesh(vertices, faces, closed=True)


def _read_volume(kept: Any) -> float:
    if str(kept["digest"]) != _digest(kept["volume"]):
        raise ValueError("a volume that was kept is not as it was")
    return float(kept["volume"][0])


def _digest(*arrays: Any) -> str:
    made = hashlib.sha256()
    for array in arrays:
        made.update(f"{array.dtype} {array.shape}".encode())
        made.update(np.ascontiguousarray(array).tobytes())
    return made.hexdigest()


def written_solid(solid: Any) -> bytes:
    """The kernel's own binary form, which loses no digit; without triangles."""
    newest = BinTools_FormatVersion.BinTools_FormatVersion_CURRENT
    stream = io.BytesIO()
    BinTools.Write_s(solid, stream, False, False, newest)
    return stream.getvalue()


def read_solid(content: bytes) -> Any:
    """Damage may raise any exception."""
    shape = TopoDS_Shape()
    BinTools.Read_s(shape, io.BytesIO(content))
    if shape.IsNull() or shape.ShapeType() != TopAbs_SOLID:
        raise ValueError("a solid that was kept cannot be read")
    return TopoDS.Solid_s(shape)
