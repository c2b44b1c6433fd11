"""Parts kept in the user's cache folder, so that a build makes only what depends on what was changed.

A part is kept under the hash of all that it is made from: its seat, what is cut out of it, tube and chordal deviation,
headergen's own source, and the versions of the libraries that had a hand in it. What cannot be read back whole is
removed and made anew, what comes back is checked as if it had just been made, and what cannot be written is not missed.
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

FORMAT = 1  # raised when what is kept of a part changes
MOST_KEPT = 200_000_000  # bytes; what was not used for longest goes first
LIBRARIES = ("cadquery-ocp", "numpy", "scipy")
PART = ".part"  # of a file that is being written, after the number of the process that writes it
AN_HOUR = 3600.0  # seconds; nobody writes one for so long


@dataclass(frozen=True)
class Shelf:
    """A folder of kept parts; it need not exist."""

    folder: Path

    def part(self, key: str) -> tuple[Any, TriangleMesh] | None:
        """The solid and the mesh kept under a key, if they are there and whole; if not, they are removed."""
        found: tuple[Any, TriangleMesh] | None = _taken(self.folder / f"{key}.npz", _read_part)
        return found

    def keep_part(self, key: str, solid: bytes, mesh: TriangleMesh) -> None:
        """`solid` as it is written."""
        arrays = {"brep": np.frombuffer(solid, np.uint8), "vertices": mesh.vertices, "faces": mesh.faces}
        self._write(key, arrays | {"digest": _digest(*arrays.values())})

    def volume(self, key: str) -> float | None:
        """The volume kept under a key, mm³, if it is there and whole; if not, it is removed."""
        found: float | None = _taken(self.folder / f"{key}.npz", _read_volume)
        return found

    def keep_volume(self, key: str, volume: float) -> None:
        number = np.array([volume])
        self._write(key, {"volume": number, "digest": _digest(number)})

    def _write(self, key: str, arrays: dict[str, Any]) -> None:
        """A full disk or a folder that may not be written leaves things as they are."""
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
        """Let go of what was not used for longest beyond MOST_KEPT, and of what was never finished."""
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
    """The hash of all that a part is made from; `taken_out`: the parts whose holes it has. None where something in it
    is of a kind that is not known here, so that nobody can say whether two are equal."""
    made_from = (part.kind.shape, part.seat, draft.tube, draft.limits.chord_error)
    holes = tuple((hole.kind.shape, hole.seat) for hole in taken_out)
    try:
        text = "\n".join(_said((FORMAT, made_from, holes)))
    except TypeError:
        return None
    return hashlib.sha256(f"{_makers()}\n{text}".encode()).hexdigest()


def key_of_pair(one: str, other: str) -> str:
    """The hash of what two parts, by their keys, have in common."""
    return hashlib.sha256(f"in common\n{one}\n{other}".encode()).hexdigest()


def _said(value: Any) -> Iterator[str]:
    """A value word by word, so that only equal ones read alike. Raises TypeError for what may hide something."""
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
    """The hash of headergen's own source and of the versions of what it makes parts with."""
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
    except Exception:  # damage may meet any line of the zip, array and shape readers
        with suppress(OSError):
            path.unlink(missing_ok=True)
        return None
    with suppress(OSError):
        os.utime(path)  # last used
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
    """Raises what damage brings about."""
    shape = TopoDS_Shape()
    BinTools.Read_s(shape, io.BytesIO(content))
    if shape.IsNull() or shape.ShapeType() != TopAbs_SOLID:
        raise ValueError("a solid that was kept cannot be read")
    return TopoDS.Solid_s(shape)
