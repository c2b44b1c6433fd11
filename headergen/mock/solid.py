"""Conversion between triangle meshes and the solids of the boolean library."""

from __future__ import annotations

import manifold3d
import numpy as np
from manifold3d import CrossSection, Manifold

from headergen.geometry.mesh.triangles import Faces, Points, TriangleMesh
from headergen.model import Frame

DIGITS = 4  # of a millimetre in a written mesh; a hobby printer's step is a hundred times larger
MERGED = 5e-4  # mm by which vertices may move to remove slivers
PARTED = 2e-3  # mm by which skins that touch are moved into the metal


class MockError(ValueError):
    """Something that cannot be printed; the message names the part and the reason."""


class UnsoundPartError(RuntimeError):
    """A part that should be sound and is not."""


def solid_of(mesh: TriangleMesh) -> Manifold:
    """A solid from a closed mesh. Raises UnsoundPartError if it is not closed."""
    made = Manifold(
        # copies: the library takes no read-only arrays
        manifold3d.Mesh64(np.array(mesh.vertices, np.float64, order="C"), np.array(mesh.faces, np.uint64, order="C"))
    )
    if made.status() != manifold3d.Error.NoError:
        raise UnsoundPartError(f"a mesh of {len(mesh.faces)} triangles is no solid: {made.status().name}")
    return made


def mesh_of(solid: Manifold) -> TriangleMesh:
    """The mesh of a solid, with vertices rounded to DIGITS and merged by place, without collapsed faces."""
    raw = solid.simplify(MERGED).to_mesh64()
    vertices = np.asarray(raw.vert_properties)[:, :3].astype(np.float64)
    faces = np.asarray(raw.tri_verts).astype(np.int64)
    mesh = _merged(vertices, faces)
    return mesh if mesh.closed else _merged(_drawn_apart(vertices, faces), faces)


def _merged(vertices: Points, faces: Faces) -> TriangleMesh:
    places, index = np.unique(np.round(vertices, DIGITS) + 0.0, axis=0, return_inverse=True)
    faces = index.reshape(-1)[faces]
    a, b, c = faces.T
    kept = faces[(a != b) & (b != c) & (c != a)]
    return TriangleMesh(places, kept, is_closed(kept))


def _drawn_apart(vertices: Points, faces: Faces) -> Points:
    """The vertices with those that share a place moved PARTED into the metal: two skins that touch along an edge part.

    Edges of a merged mesh would otherwise have four faces there.
    """
    _, index, count = np.unique(np.round(vertices, DIGITS) + 0.0, axis=0, return_inverse=True, return_counts=True)
    corners = vertices[faces]
    outward = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals = np.zeros_like(vertices)
    for k in range(3):
        np.add.at(normals, faces[:, k], outward)
    shared = count[index.reshape(-1)] > 1
    size = np.maximum(np.linalg.norm(normals, axis=1), 1e-12)[:, None]
    return np.asarray(vertices - np.where(shared[:, None], PARTED * normals / size, 0.0))


def is_closed(faces: np.ndarray) -> bool:
    """Whether every edge is met by exactly one edge in the opposite direction."""
    tails, heads = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    count = int(faces.max(initial=0)) + 1
    there, back = np.sort(tails * count + heads), np.sort(heads * count + tails)
    return bool(len(there) and (np.diff(there) > 0).all() and (there == back).all())


def placement(frame: Frame) -> Points:
    """(3, 4) matrix from the axes of `frame` to those in which the frame is given."""
    return np.column_stack([frame.x, frame.y, frame.z, frame.origin])


def inverse(frame: Frame) -> Points:
    """(3, 4) matrix that takes engine axes to the axes of `frame`."""
    turn = np.array([frame.x, frame.y, frame.z])
    return np.column_stack([turn, -turn @ np.array(frame.origin)])


def seen_in(frame: Frame, other: Frame) -> Frame:
    """`other` in the axes of `frame`."""
    turn = np.array([frame.x, frame.y, frame.z])
    origin = turn @ (np.array(other.origin) - np.array(frame.origin))
    x, y, z = ((turn @ np.array(axis)).tolist() for axis in (other.x, other.y, other.z))
    return Frame(tuple(origin.tolist()), tuple(x), tuple(y), tuple(z))


def prism(section: CrossSection, low: float, high: float) -> Manifold:
    return Manifold.extrude(section, high - low).translate((0.0, 0.0, low))
