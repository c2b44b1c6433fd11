"""Parts kept in the user's cache folder, so that a build makes only what depends on a change.

The key of a part is the hash of all it is made from: its seat, its cuts, tube and chordal deviation, headergen's own
source, and the versions of the libraries used. An entry that cannot be read completely is removed and made again, an
entry that is read is checked like a new part, and an entry that cannot be written is skipped.
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Collection, Mapping
from dataclasses import dataclass
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
from headergen.store.files import keep, taken, tidy, users_folder
from headergen.store.keys import key_of_values

FORMAT = 2  # increased when what is kept of a part changes
MOST_KEPT = 200_000_000  # bytes; the least recently used is removed first
LIBRARIES = ("cadquery-ocp", "numpy", "scipy")


@dataclass(frozen=True)
class KeptSolids:
    """A folder of kept parts; it need not exist."""

    folder: Path

    def part(self, key: str) -> tuple[Any, TriangleMesh] | None:
        """The solid and the mesh kept under a key, if they are there and complete; damaged ones are removed."""
        return taken(self.folder, key, _read_part)

    def keep_part(self, key: str, solid: bytes, mesh: TriangleMesh) -> None:
        """`solid` in its written form."""
        arrays = {"brep": np.frombuffer(solid, np.uint8), "vertices": mesh.vertices, "faces": mesh.faces}
        keep(self.folder, key, arrays)

    def volume(self, key: str) -> float | None:
        """The volume kept under a key, mm³, if it is there and complete; a damaged one is removed."""
        return taken(self.folder, key, lambda kept: float(kept["volume"][0]))

    def keep_volume(self, key: str, volume: float) -> None:
        keep(self.folder, key, {"volume": np.array([volume])})

    def tidy(self) -> None:
        """Remove the least recently used entries beyond MOST_KEPT, and files that were never finished."""
        tidy(self.folder, MOST_KEPT)


def users_kept_solids() -> KeptSolids:
    return KeptSolids(users_folder("parts"))


def key_of(part: Seated, taken_out: Collection[Seated], draft: Draft) -> str | None:
    """The hash of all that a part is made from; `taken_out`: the parts whose holes it has.

    None if something in it is of an unknown kind, so that equality cannot be decided.
    """
    made_from = (part.kind.shape, part.seat, draft.tube, draft.limits.chord_error)
    holes = tuple((hole.kind.shape, hole.seat) for hole in taken_out)
    return key_of_values((FORMAT, made_from, holes), LIBRARIES)


def key_of_pair(one: str, other: str) -> str:
    """The key of the common volume of two parts, from their own keys."""
    return hashlib.sha256(f"in common\n{one}\n{other}".encode()).hexdigest()


def _read_part(kept: Mapping[str, Any]) -> tuple[Any, TriangleMesh]:
    """Damage may raise any exception."""
    if not is_watertight(kept["faces"]):
        raise ValueError("a part that was kept is not as it was")
    return read_solid(kept["brep"].tobytes()), TriangleMesh(kept["vertices"], kept["faces"], closed=True)


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
