"""Whether a mesh of any size is closed: every edge is used once in each direction.

Corners count as the same if all bits of their coordinates are equal, as they are in a mesh exported as closed. They are
compared by a 64-bit hash, so that no table of them is needed.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.mesh.index import Corners, TriangleIndex
from headergen.geometry.mesh.winding import winding_numbers

CHUNK = 1 << 16  # triangles hashed at once: as many as fit in a processor's cache
SAMPLE = 100  # triangles tested on both sides, where more than two meet at an edge
BESIDE = 1e-4  # of the triangle's size: from its centre to a test point on either side
JUMP = 0.25  # by how much the change of the winding number across a triangle may differ from one
FLAT = 1e-9  # of the cube of the mesh's size: a smaller volume counts as none

Hashes = NDArray[np.uint64]
ODD = tuple(np.uint64(odd) for odd in (0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0x165667B19E3779F9))
MIX = np.uint64(0xBF58476D1CE4E5B9)


def closes_once(index: TriangleIndex) -> bool:
    """Whether a mesh is closed and separates one inside from the outside, so that the winding number tells the side.

    False for a mesh that is open, not consistently oriented, doubled, or doubled with opposite orientation.
    """
    raw = index.raw
    if not edges_cancel(raw) or _volume(raw) <= FLAT * float(index.size.max()) ** 3:
        return False
    crowded = _beside_crowded_edges(raw)
    picked = crowded[:: len(crowded) // SAMPLE + 1]
    return bool((np.abs(_jumps(index, picked) - 1.0) < JUMP).all())


def edges_cancel(raw: Corners) -> bool:
    """Whether each edge of triangles (n, 3, 3) is used equally often in both directions.

    Sums a(u)·b(v) − a(v)·b(u) over the directed edges u→v, with a and b hashes of a corner, modulo 2⁶⁴. Edges that
    cancel sum to zero; any others give a random number, which is zero about once in 2⁶⁰.
    """
    total = 0
    for low in range(0, len(raw), CHUNK):
        a = _hashes(raw[low : low + CHUNK])
        b = _mixed(a * ODD[1])
        around = a[:, 0] * (b[:, 1] - b[:, 2]) + a[:, 1] * (b[:, 2] - b[:, 0]) + a[:, 2] * (b[:, 0] - b[:, 1])
        total += int(around.sum(dtype=np.uint64))
    return total % (1 << 64) == 0


def _hashes(corners: Corners) -> Hashes:
    """(n, 3) hashes of corners (n, 3, 3)."""
    plain = corners + corners.dtype.type(0)  # −0 becomes 0
    bits = plain.view(np.uint32 if plain.dtype == np.float32 else np.uint64).astype(np.uint64)
    if plain.dtype != np.float32:
        bits = _mixed(bits)
    return _mixed(_mixed(bits[..., 0] * ODD[0] + bits[..., 1] * ODD[1]) * ODD[2] + bits[..., 2] * ODD[0])


def _mixed(bits: Hashes) -> Hashes:
    bits = (bits ^ (bits >> np.uint64(31))) * MIX
    return bits ^ (bits >> np.uint64(29))


def _volume(raw: Corners) -> float:
    """The volume of a closed mesh, unsigned; oppositely oriented shells subtract."""
    total, origin = 0.0, raw[0, 0].astype(float)
    for low in range(0, len(raw), CHUNK):
        a, b, c = (raw[low : low + CHUNK, k] - origin for k in range(3))
        total += float(np.einsum("ij,ij->", a, np.cross(b, c))) / 6
    return abs(total)


def _beside_crowded_edges(raw: Corners) -> NDArray[np.intp]:
    """The triangles that have an edge shared by more than two triangles."""
    edges = np.empty((len(raw), 3), np.uint64)
    for low in range(0, len(raw), CHUNK):
        start = _hashes(raw[low : low + CHUNK])
        end = start[:, [1, 2, 0]]
        edges[low : low + CHUNK] = _mixed(np.minimum(start, end) * ODD[0] + np.maximum(start, end))
        edges[low : low + CHUNK][start == end] = 0  # an edge without length
    kept = np.sort(edges, axis=None)
    crowded = np.unique(kept[2:][(kept[2:] == kept[:-2]) & (kept[2:] != 0)])
    return np.flatnonzero(np.isin(edges, crowded).any(axis=1)) if len(crowded) else np.zeros(0, np.intp)


def _jumps(index: TriangleIndex, rows: NDArray[np.intp]) -> NDArray[np.float64]:
    """The change of the winding number across each of some triangles; triangles without area are left out."""
    a, b, c = (index.triangles(rows)[:, k] for k in range(3))
    normal = np.cross(b - a, c - a)
    twice = np.sqrt((normal * normal).sum(axis=1))
    wide = twice > 0
    step = normal[wide] * (BESIDE / np.sqrt(twice[wide]))[:, None]
    middle = (a + b + c)[wide] / 3
    return np.abs(winding_numbers(index, middle - step) - winding_numbers(index, middle + step))
