"""Makes a surface of loose triangles: welds corners, turns faces outward, and tells whether they enclose a volume.

No triangle is dropped: one without area is measured as a line or a point, and does not count in whether the mesh is
closed.
"""

from __future__ import annotations

from itertools import product

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.mesh.triangles import Faces, Points, TriangleMesh, enclosed_volume

WELD = 1e-4  # mm; corners nearer than this are merged
BASE = 1 << 31  # above the number of vertices of any mesh: two vertex numbers are combined into one

Labels = NDArray[np.int64]


def surface(vertices: Points, faces: Faces) -> TriangleMesh:
    """The welded mesh, triangles in the same order; a duplicate triangle is collapsed to a point at its corner."""
    vertices, faces = _merged(vertices, faces, same_cell(np.round(vertices / WELD)))
    faces, closed = _turned(vertices, faces)
    if not closed:
        vertices, faces = _merged(vertices, faces, _welded_rim(vertices, faces))
        faces, closed = _turned(vertices, faces)
    return TriangleMesh(vertices, faces, closed)


def _turned(vertices: Points, faces: Faces) -> tuple[Faces, bool]:
    """The faces turned outward, and whether they are closed; duplicates count once.

    A face that is there in both orientations counts once if the rest is closed then; otherwise, as the wall between two
    bodies, both count.
    """
    out = faces.copy()
    for again in (_again(np.sort(faces, axis=1)), _again(_from_lowest(faces))):
        first = np.flatnonzero(has_corners(faces) & ~again)
        turned, closed = outward(vertices, faces[first])
        if closed or not again.any():
            break
    out[first] = turned
    out[again] = out[again][:, :1]
    return out, closed


def _again(rows: Faces) -> NDArray[np.bool_]:
    """Which rows are repeats of an earlier row."""
    return np.asarray(same_cell(rows) != np.arange(len(rows)))


def _from_lowest(faces: Faces) -> Faces:
    """Each face rotated to begin at its lowest vertex; its orientation is kept."""
    first = np.argmin(faces, axis=1)[:, None]
    return np.take_along_axis(faces, (first + np.arange(3)) % 3, axis=1)


def has_corners(faces: Faces) -> NDArray[np.bool_]:
    """Which faces have three different corners."""
    a, b, c = faces.T
    return np.asarray((a != b) & (b != c) & (c != a))


def same_cell(cells: Points | Faces) -> Labels:
    """For each row, the lowest index of an equal row."""
    order = np.lexsort(cells.T)
    changes = np.any(np.diff(cells[order], axis=0) != 0, axis=1)
    groups = np.concatenate([[0], np.cumsum(changes)])
    labels = np.empty(len(cells), np.int64)
    labels[order] = order[np.concatenate([[0], np.flatnonzero(changes) + 1])][groups]  # stable: the lowest
    return labels


def _merged(vertices: Points, faces: Faces, labels: Labels) -> tuple[Points, Faces]:
    """The mesh with every vertex replaced by its label's vertex; unused vertices are dropped."""
    used, places = np.unique(labels[faces], return_inverse=True)
    return vertices[used], places.reshape(-1, 3).astype(np.int64)


def _welded_rim(vertices: Points, faces: Faces) -> Labels:
    """Labels that merge the corners of open edges within WELD, even across the border of a grid cell.

    Of the eight grids with cells of 2·WELD, shifted by half a cell, at least one has both points of a near pair in one
    cell.
    """
    labels = np.arange(len(vertices))
    keys, _, signs = edges(faces[has_corners(faces)])
    rim = np.unique(np.stack([keys // BASE, keys % BASE])[:, signs != 0])
    if rim.size == 0:
        return labels
    for shift in product((0.0, WELD), repeat=3):
        cells = np.floor((vertices[labels[rim]] + shift) / (2 * WELD))
        labels[rim] = labels[rim][same_cell(cells)]
    return labels


def edges(faces: Faces) -> tuple[Labels, Labels, Labels]:
    """Each edge once, as lower · BASE + higher vertex; its number of faces; the sum of directions (+1 up, −1 down)."""
    start, end = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    keys, places = np.unique(np.minimum(start, end) * BASE + np.maximum(start, end), return_inverse=True)
    sums = np.bincount(places, np.where(start < end, 1, -1), len(keys)).astype(np.int64)
    return keys, np.bincount(places, minlength=len(keys)), sums


def outward(vertices: Points, faces: Faces) -> tuple[Faces, bool]:
    """The faces turned counter-clockwise from outside, and whether they are closed; open ones are returned unchanged.

    Closed means that the edges cancel: each is used equally often in both directions. If they only pair up, the faces
    are first oriented consistently. A shell inside another one may face inward: it is a cavity.
    """
    _, counts, sums = edges(faces)
    if len(faces) == 0 or np.any(counts % 2):
        return faces, False
    mixed = bool(np.any(sums))
    if mixed:
        faces = _turned_alike(faces)
        if np.any(edges(faces)[2]):
            return faces, False
    faces = _shells_outward(vertices, faces, keep_hollows=not mixed)
    size = float(np.ptp(vertices, axis=0).max())
    return faces, abs(enclosed_volume(vertices - vertices[0], faces)) > 1e-9 * size**3


def _turned_alike(faces: Faces) -> Faces:
    """Walks from face to face over edges of two faces, and orients each like the face before."""
    sides: dict[tuple[int, int], list[tuple[int, bool]]] = {}
    for number, (a, b, c) in enumerate(faces.tolist()):
        for start, end in ((a, b), (b, c), (c, a)):
            sides.setdefault((min(start, end), max(start, end)), []).append((number, start < end))
    neighbours: list[list[tuple[int, bool]]] = [[] for _ in faces]
    for pair in sides.values():
        if len(pair) == 2:
            (one, up), (other, other_up) = pair
            neighbours[one].append((other, up == other_up))
            neighbours[other].append((one, up == other_up))
    flips: dict[int, bool] = {}
    for first in range(len(faces)):
        if first in flips:
            continue
        flips[first], queue = False, [first]
        while queue:
            face = queue.pop()
            for other, against in neighbours[face]:
                if other not in flips:
                    flips[other] = flips[face] != against
                    queue.append(other)
    return _flipped(faces, np.array([flips[number] for number in range(len(faces))]))


def _flipped(faces: Faces, which: NDArray[np.bool_]) -> Faces:
    return np.where(which[:, None], faces[:, ::-1], faces)


def _shells_outward(vertices: Points, faces: Faces, keep_hollows: bool) -> Faces:
    """Reverses each connected shell with a negative volume, except those whose box lies inside another's."""
    shell_of = shells(len(vertices), faces)
    each, places = np.unique(shell_of[faces[:, 0]], return_inverse=True)
    a, b, c = (vertices[faces[:, k]] - vertices[0] for k in range(3))
    volumes = np.bincount(places, np.einsum("ij,ij->i", a, np.cross(b, c)) / 6)
    boxes = [np.r_[-points.min(axis=0), points.max(axis=0)] for points in (vertices[shell_of == s] for s in each)]
    inward = volumes < 0
    if keep_hollows:
        for k in np.flatnonzero(inward):
            inward[k] = not any(j != k and np.all(boxes[k] < boxes[j]) for j in range(len(boxes)))
    return _flipped(faces, inward[places])


def shells(count: int, faces: Faces) -> Labels:
    """For each vertex, the lowest vertex it is connected to."""
    labels = np.arange(count)
    while True:
        lowest = labels[faces].min(axis=1)
        after = labels.copy()
        for k in range(3):
            np.minimum.at(after, faces[:, k], lowest)
        after = after[after]
        if np.array_equal(after, labels):
            return labels
        labels = after
