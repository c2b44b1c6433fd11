"""The sharp edges of a mesh as in a drawing, without the low lips that booleans leave."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.mesh.triangles import Faces, Points

LIP = 0.3  # mm: a face no higher than this above one of its edges is skipped
WALK = 4  # skipped faces in a row

Pairs = NDArray[np.int64]


def sharp_edges(vertices: Points, faces: Faces, cosine: float) -> Pairs:
    """(n, 2) vertices of the edges between faces whose normals have a smaller cosine than `cosine`.

    `vertices` are welded. Instead of a lip, the face beyond it is compared. Edges of one face, or of more than two
    faces, are left out.
    """
    if not len(faces):
        return np.zeros((0, 2), np.int64)
    ends, sides, neighbour = _met(faces)
    normals = np.cross(vertices[faces[:, 1]] - vertices[faces[:, 0]], vertices[faces[:, 2]] - vertices[faces[:, 0]])
    area = np.linalg.norm(normals, axis=1)
    normals = normals / np.maximum(area, 1e-12)[:, None]
    lengths = np.linalg.norm(vertices[faces[:, [1, 2, 0]]] - vertices[faces], axis=2)
    low = area / np.maximum(lengths.max(axis=1), 1e-12) < LIP
    lip = low & ~_goes_on(normals, neighbour, low, cosine)
    one, other = (_beyond(sides[:, k], neighbour, lip, lengths) for k in (0, 1))
    sharp = (normals[one // 3] * normals[other // 3]).sum(axis=1) < cosine
    return np.asarray(ends[sharp])


def _met(faces: Faces) -> tuple[Pairs, Pairs, NDArray[np.int64]]:
    """Edges of two faces: their vertices, their two sides (3 · face + corner), and for each side the opposite one."""
    half = np.stack([faces, faces[:, [1, 2, 0]]], axis=2).reshape(-1, 2)
    low, high = half.min(axis=1), half.max(axis=1)
    keys = low * (int(high.max()) + 1) + high
    order = np.argsort(keys, kind="stable")
    keys = keys[order]
    first = np.flatnonzero(np.r_[True, keys[1:] != keys[:-1]])
    counts = np.diff(np.r_[first, len(keys)])
    starts = first[counts == 2]
    sides = np.stack([order[starts], order[starts + 1]], axis=1)
    neighbour = np.full(len(half), -1)
    neighbour[sides[:, 0]], neighbour[sides[:, 1]] = sides[:, 1], sides[:, 0]
    return np.column_stack([low, high])[order[starts]], sides, neighbour


def _goes_on(normals: Points, neighbour: NDArray[np.int64], low: NDArray[np.bool_], cosine: float) -> NDArray[np.bool_]:
    """Whether a face belongs to a larger surface: some neighbour is no lip and makes no sharp edge with it."""
    beside = np.where(neighbour >= 0, neighbour // 3, 0).reshape(-1, 3)
    smooth = (normals[beside] * normals[:, None]).sum(axis=2) >= cosine
    return np.asarray((smooth & ~low[beside] & (neighbour.reshape(-1, 3) >= 0)).any(axis=1))


def _beyond(
    sides: NDArray[np.int64], neighbour: NDArray[np.int64], lip: NDArray[np.bool_], lengths: Points
) -> NDArray[np.int64]:
    """The side at which a walk leaves the lips: out of each across the longer of its two other edges."""
    at = sides.copy()
    walking = np.flatnonzero(lip[at // 3])  # few
    for _ in range(WALK):
        face, corner = at[walking] // 3, at[walking] % 3
        one, other = (corner + 1) % 3, (corner + 2) % 3
        beyond = neighbour[3 * face + np.where(lengths[face, one] >= lengths[face, other], one, other)]
        walking, beyond = walking[beyond >= 0], beyond[beyond >= 0]
        at[walking] = beyond
        walking = walking[lip[beyond // 3]]
    return at
