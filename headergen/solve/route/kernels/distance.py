"""Distances to chassis solids and grids with their gradients, and the required distance between two tubes."""

from __future__ import annotations

import math

import numpy as np
from numba import njit


@njit(cache=True)
def solid_distance(row, p, slope):  # type: ignore[no-untyped-def]
    """Signed distance from a point to a solid, and its gradient.

    Kinds: 0 box, 1 cylinder along its third axis, 2 half space, 3 capsule, 4 cone along its third axis from one radius
    to another. Numbers, not arrays, hold what is between: arrays would take most of the time of a search.
    """
    x, y, z = p[0] - row[1], p[1] - row[2], p[2] - row[3]
    qx = row[4] * x + row[5] * y + row[6] * z
    qy = row[7] * x + row[8] * y + row[9] * z
    qz = row[10] * x + row[11] * y + row[12] * z
    kind = row[0]
    if kind == 0.0:
        d, gx, gy, gz = _round_or_flat(abs(qx) - row[13], abs(qy) - row[14], abs(qz) - row[15])
        gx, gy, gz = math.copysign(gx, qx), math.copysign(gy, qy), math.copysign(gz, qz)
    elif kind == 2.0:
        d, gx, gy, gz = qz, 0.0, 0.0, 1.0
    elif kind == 3.0:
        beyond = qz - min(max(qz, -row[15]), row[15])
        d = math.sqrt(qx * qx + qy * qy + beyond * beyond) + 1e-12
        gx, gy, gz = qx / d, qy / d, beyond / d
        d -= row[13]
    else:
        across = math.sqrt(qx * qx + qy * qy) + 1e-12
        slant, cosine, wall = 0.0, 1.0, across - row[13]
        if kind == 4.0:  # the wall, measured perpendicular to the slant, and its two flat ends
            slant = (row[13] - row[14]) / (2.0 * row[15])
            cosine = 1.0 / math.sqrt(1.0 + slant * slant)
            wall = (across - 0.5 * (row[13] + row[14]) + slant * qz) * cosine
        d, out, _, end = _round_or_flat(wall, -1e9, abs(qz) - row[15])
        gx, gy = out * cosine * qx / across, out * cosine * qy / across
        gz = out * slant * cosine + math.copysign(end, qz)
    for c in range(3):
        slope[c] = row[17] * (row[4 + c] * gx + row[7 + c] * gy + row[10 + c] * gz)
    return row[17] * d


@njit(cache=True)
def _round_or_flat(a, b, c):  # type: ignore[no-untyped-def]
    """Distance to a corner of three walls at distances a, b and c (negative: inside), and its gradient by these."""
    if a <= 0.0 and b <= 0.0 and c <= 0.0:
        if a >= b and a >= c:
            return a, 1.0, 0.0, 0.0
        if b >= c:
            return b, 0.0, 1.0, 0.0
        return c, 0.0, 0.0, 1.0
    a, b, c = max(a, 0.0), max(b, 0.0), max(c, 0.0)
    d = math.sqrt(a * a + b * b + c * c)
    return d, a / d, b / d, c / d


@njit(cache=True)
def grid_distance(grid, corner, step, p, slope):  # type: ignore[no-untyped-def]
    """Trilinear value of a grid at a point (clamped to its border), and its gradient."""
    at = np.empty(3, np.int64)
    f = np.empty((2, 3))
    for c in range(3):
        place = min(max((p[c] - corner[c]) / step, 0.0), grid.shape[c] - 1.001)
        at[c] = int(place)
        f[1, c] = place - at[c]
        f[0, c] = 1.0 - f[1, c]
        slope[c] = 0.0
    d = 0.0
    for i in range(2):
        for j in range(2):
            for k in range(2):
                value = grid[at[0] + i, at[1] + j, at[2] + k]
                d += value * f[i, 0] * f[j, 1] * f[k, 2]
                slope[0] += value * (2 * i - 1) * f[j, 1] * f[k, 2] / step
                slope[1] += value * f[i, 0] * (2 * j - 1) * f[k, 2] / step
                slope[2] += value * f[i, 0] * f[j, 1] * (2 * k - 1) / step
    return d


@njit(cache=True)
def thinner(slim, along):  # type: ignore[no-untyped-def]
    """How much thinner than the common radius a tube is at a length along it."""
    return slim[1] if along < slim[0] else slim[2]


@njit(cache=True)
def left_at_bores(apart, together, want):  # type: ignore[no-untyped-def]
    """Required gap of two tubes in bores whose axes are `apart`: that of the ramp, with the margin if there is room."""
    if not together:
        return want.gap + want.margin
    own = apart - 2.0 * want.radius
    return min(own, max(own - want.may_miss, 0.0) + want.margin, want.gap + want.margin)


@njit(cache=True)
def centre_distance(before, other_before, left, want):  # type: ignore[no-untyped-def]
    """Required centreline distance of two tubes at lengths before their bores: `left` at the bores, then growing."""
    t = (max(before, other_before) - want.ramp_start) / (want.ramp_end - want.ramp_start)
    t = min(max(t, 0.0), 1.0)
    return 2.0 * want.radius + left + (want.gap + want.margin - left) * t
