"""A part of a fit mock as pictures take it: its mesh in place, and what it is part of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.model import MockKind


@dataclass(frozen=True, eq=False)
class ShownPart:
    """`mesh` in engine axes; "steel" is real tube; `collector`: the one it stands for, or whose tubes it is for."""

    mesh: TriangleMesh
    kind: MockKind | Literal["steel"]
    runs: tuple[str, ...] = ()
    collector: str = ""
