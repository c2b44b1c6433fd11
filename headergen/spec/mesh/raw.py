"""A mesh file's triangles as read, and the checks that make a file unusable."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.mesh.index import Corners
from headergen.geometry.mesh.triangles import Faces, Points
from headergen.model import MeshUnits

FARTHEST_OUT = 1e9  # in any unit; a coordinate beyond this means damage
MOST_LEFT_OUT = 0.01  # share of the triangles that may have a corner that is not a number
MOST_TRIANGLES = 5_000_000  # or points of a cloud; twice as many would need more memory than most machines have
MOST_VERTICES = 3 * MOST_TRIANGLES
BLOCK = 1_000_000  # rows
MOST_BYTES = 1_000_000_000  # of a file, and of its content once unpacked


class BrokenMeshError(Exception):
    """A mesh file that cannot be used, with the byte (from 0) or the line (from 1) of the fault."""

    def __init__(self, message: str, byte: int, hint: str = "", line: int | None = None) -> None:
        super().__init__(message)
        self.message, self.byte, self.hint, self.line = message, byte, hint, line


@dataclass(frozen=True, eq=False)
class RawMesh:
    """`vertices` (n, 3) in the file's own unit and `faces` (m, 3), in the order of the file; `body`: where they begin.

    `faces` is None where every triangle has its own three vertices, in order. `numbers`: the numbers in the file, from
    0, of the remaining triangles, if some were left out. A file of points has one face with one corner for each point.
    `y_up`: the file's axes were y up and have been turned z up. `doubts`: what may be missing from the file, in words.
    """

    vertices: NDArray[np.float32] | NDArray[np.float64]
    faces: Faces | NDArray[np.int32] | None
    body: int = 0
    numbers: NDArray[np.intp] | None = None
    left_out: int = 0
    points_only: bool = False
    units: MeshUnits | None = None
    assumed: tuple[str, ...] = ()
    y_up: bool = False
    doubts: tuple[str, ...] = ()

    @property
    def corners(self) -> Corners:
        """(m, 3, 3) corners of the triangles."""
        return self.vertices.reshape(-1, 3, 3) if self.faces is None else self.vertices[self.faces]


def check_count(count: int, what: str, most: int = MOST_TRIANGLES, byte: int = 0, line: int | None = None) -> None:
    """Raises BrokenMeshError for more than the largest count. `what`: "triangles" or the like."""
    if count > most:
        message = f"the file has {count} {what}; at most {most} are read"
        raise BrokenMeshError(
            message, byte, "crop it to what is near the header, or thin it out, and export it again", line
        )


def points_mesh(points: Points) -> RawMesh:
    """A point cloud. Raises BrokenMeshError for too many points."""
    check_count(len(points), "points")
    faces = np.repeat(np.arange(len(points), dtype=np.int32), 3).reshape(-1, 3)
    return RawMesh(as_stored(points), faces, points_only=True)


def as_stored(points: Points) -> NDArray[np.float32] | NDArray[np.float64]:
    """Points in single precision if that loses nothing, as in most files."""
    if points.dtype == np.float32:
        return points
    with np.errstate(over="ignore"):  # numbers beyond single precision stay double
        short = points.astype(np.float32)
    same = all(np.array_equal(short[rows], points[rows], equal_nan=True) for rows in _blocks(len(points)))
    return short if same else points


def _blocks(count: int) -> Iterator[slice]:
    """Slices of BLOCK rows, to bound the memory of intermediate results."""
    return (slice(low, low + BLOCK) for low in range(0, count, BLOCK))


def fan(corners: NDArray[np.int64], sizes: NDArray[np.int64]) -> NDArray[np.int32]:
    """(m, 3) triangles of polygons, given by their corners in a row and each one's number of corners (at least 3)."""
    if corners.size and not 0 <= corners.min() <= corners.max() < 1 << 31:
        raise BrokenMeshError("a face names a corner that no file can have", 0)
    starts = np.cumsum(sizes) - sizes
    each = sizes - 2
    if each.size and (each == 1).all():
        return corners.reshape(-1, 3).astype(np.int32)
    first = np.repeat(starts, each)
    step = np.arange(len(first)) - np.repeat(np.cumsum(each) - each, each)
    return np.column_stack([corners[first], corners[first + step + 1], corners[first + step + 2]]).astype(np.int32)


def check_indices(faces: NDArray[np.int32], count: int, byte: int = 0, line: int | None = None) -> None:
    """Raises BrokenMeshError for a corner index that is not below `count`."""
    if len(faces) and (faces.min() < 0 or faces.max() >= count):
        raise BrokenMeshError(f"a triangle names a corner that is not among the {count} of the file", byte, "", line)


def finite_only(mesh: RawMesh, byte_of: Callable[[int], int]) -> RawMesh:
    """The mesh without the few triangles that have a corner which is not a number.

    `byte_of` gives the byte of a triangle in the file. Raises BrokenMeshError if there are more than a few.
    """
    good = np.empty(len(mesh.vertices), bool)
    for rows in _blocks(len(good)):
        good[rows] = (np.abs(mesh.vertices[rows]) < FARTHEST_OUT).all(axis=1)  # False for NaN too
    if good.all():
        return mesh
    whole = np.asarray((good.reshape(-1, 3) if mesh.faces is None else good[mesh.faces]).all(axis=1))
    left_out = len(whole) - int(whole.sum())
    if left_out > MOST_LEFT_OUT * len(whole):
        first = byte_of(int(np.argmin(whole)))
        many = f", and so in {left_out} of {len(whole)}" if left_out > 1 else ""
        raise BrokenMeshError(f"a corner of a triangle is not a number{many}", first, "export the mesh again")
    faces = np.arange(3 * len(whole)).reshape(-1, 3) if mesh.faces is None else mesh.faces
    return replace(mesh, faces=faces[whole], numbers=np.flatnonzero(whole), left_out=left_out)
