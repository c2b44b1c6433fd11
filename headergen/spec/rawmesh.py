"""A mesh file's triangles as it has them, and what makes a file unusable."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.index import Corners
from headergen.geometry.mesh import Faces
from headergen.model import MeshUnits

FARTHEST_OUT = 1e9  # in any unit; what a file has beyond that is damage
MOST_LEFT_OUT = 0.01  # share of the triangles that may have a corner that is not a number


class BrokenMesh(Exception):
    """A mesh file that cannot be used, and the byte (from 0) where that shows."""

    def __init__(self, message: str, byte: int, hint: str = "") -> None:
        super().__init__(message)
        self.message, self.byte, self.hint = message, byte, hint


@dataclass(frozen=True, eq=False)
class RawMesh:
    """`vertices` (n, 3) in the file's own unit and `faces` (m, 3), as they are written; `body`: where they start.

    `faces` is None where every triangle has three vertices of its own, in turn. `numbers`: of the triangles that are
    left once some were left out, counted in the file from 0. A file of points has a face of one corner for each.
    """

    vertices: NDArray[np.float32] | NDArray[np.float64]
    faces: Faces | None
    body: int = 0
    numbers: NDArray[np.intp] | None = None
    left_out: int = 0
    points_only: bool = False
    units: MeshUnits | None = None
    assumed: tuple[str, ...] = ()

    @property
    def corners(self) -> Corners:
        """(m, 3, 3)"""
        return self.vertices.reshape(-1, 3, 3) if self.faces is None else self.vertices[self.faces]


def finite_only(mesh: RawMesh, byte_of: Callable[[int], int]) -> RawMesh:
    """The mesh without the few triangles that have a corner which is not a number.

    `byte_of` says where a triangle stands in the file. Raises BrokenMesh where they are more than a few.
    """
    good = np.asarray((np.abs(mesh.vertices) < FARTHEST_OUT).all(axis=1))  # false for what is no number
    if good.all():
        return mesh
    whole = np.asarray((good.reshape(-1, 3) if mesh.faces is None else good[mesh.faces]).all(axis=1))
    left_out = len(whole) - int(whole.sum())
    if left_out > MOST_LEFT_OUT * len(whole):
        first = byte_of(int(np.argmin(whole)))
        many = f", and so in {left_out} of {len(whole)}" if left_out > 1 else ""
        raise BrokenMesh(f"a corner of a triangle is not a number{many}", first, "export the mesh again")
    faces = np.arange(3 * len(whole)).reshape(-1, 3) if mesh.faces is None else mesh.faces
    return replace(mesh, faces=faces[whole], numbers=np.flatnonzero(whole), left_out=left_out)
