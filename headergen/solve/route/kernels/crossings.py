"""Crossings of many plane polylines with many others."""

from __future__ import annotations

import numpy as np
from numba import njit


@njit(cache=True)
def crossings(one, other):  # type: ignore[no-untyped-def]
    """In how many views each polyline of `one` (V, A, N, 2) crosses each of `other` (V, B, M, 2): (A, B)."""
    A, B = one.shape[1], other.shape[1]
    out = np.zeros((A, B))
    for v in range(one.shape[0]):
        boxes = _boxes(other[v])
        for a, mine in enumerate(_boxes(one[v])):
            for b in range(B):
                theirs = boxes[b]
                apart = mine[0] > theirs[2] or theirs[0] > mine[2] or mine[1] > theirs[3] or theirs[1] > mine[3]
                if not apart and _cross(one[v, a], other[v, b], theirs):
                    out[a, b] += 1.0
    return out


@njit(cache=True)
def _boxes(lines):  # type: ignore[no-untyped-def]
    """(A, 4) least x, least y, largest x, largest y of polylines (A, N, 2)."""
    out = np.empty((lines.shape[0], 4))
    for a in range(lines.shape[0]):
        out[a, 0], out[a, 1] = lines[a, :, 0].min(), lines[a, :, 1].min()
        out[a, 2], out[a, 3] = lines[a, :, 0].max(), lines[a, :, 1].max()
    return out


@njit(cache=True)
def _cross(one, other, box):  # type: ignore[no-untyped-def]
    for i in range(one.shape[0] - 1):
        px, py, qx, qy = one[i, 0], one[i, 1], one[i + 1, 0], one[i + 1, 1]
        if (
            max(px, qx) < box[0] or min(px, qx) > box[2] or max(py, qy) < box[1] or min(py, qy) > box[3]
        ):  # beside the whole of the other
            continue
        before = (qx - px) * (other[0, 1] - py) - (qy - py) * (other[0, 0] - px)
        for k in range(1, other.shape[0]):
            rx, ry = other[k, 0], other[k, 1]
            side = (qx - px) * (ry - py) - (qy - py) * (rx - px)
            if before * side < 0.0:
                sx, sy = other[k - 1, 0], other[k - 1, 1]
                first = (rx - sx) * (py - sy) - (ry - sy) * (px - sx)
                last = (rx - sx) * (qy - sy) - (ry - sy) * (qx - sx)
                if first * last < 0.0:
                    return True
            before = side
    return False
