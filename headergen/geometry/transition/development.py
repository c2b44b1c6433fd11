"""The flat pattern of a transition: the mid-wall surface developed onto a plane by triangulation.

The rulings from port to tube divide the wall into narrow quadrangles. Each is laid flat as two triangles with their
true side lengths, as a fabricator does with compasses, only finer. A cone or a flat side is exact. Where neighbouring
rulings are not in one plane, the pattern has slightly more area than the wall (usually a hundredth at most), and is
worked into shape as it is bent.

A pattern is half of the transition, from seam to seam. Both seams are on the y axis of the port's shape before it is
turned. Every shape but a free one is symmetric about that axis, so its second half is the first, bent the other way.
For a free shape both halves are laid out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.arrays import Array, polygon_area
from headergen.geometry.plate.outline import grown, port_outline
from headergen.geometry.transition.rulings import matched
from headergen.model import PortShape, Tube

FINEST = math.radians(2)  # between rulings, at the tube: its chords are 5e-5 shorter than the arcs
CORNER = math.radians(6)  # the most one step turns along the port: chords of its corners are 5e-4 short
SAME = 1e-9  # radians between rulings that count as one
MARKED = math.radians(15)  # between bend lines, at most


@dataclass(frozen=True, eq=False)
class Pattern:
    """Half a transition laid flat, from seam to seam: (n, 2) points on the port's edge and on the tube's edge, mm.

    The points of one row are the ends of a ruling. `bends`: the rows marked as bend lines. `count`: how many are
    needed. Seen from outside the pipe.
    """

    port: Array
    tube: Array
    bends: tuple[int, ...]
    count: int

    @property
    def contour(self) -> Array:
        """(m, 2) the closed contour, counter-clockwise."""
        return np.concatenate([self.port, self.tube[::-1]])

    @property
    def area(self) -> float:
        """Of the blank as it is cut, mm²."""
        return polygon_area(self.contour)


def patterns(shape: PortShape, tube: Tube, length: float) -> tuple[Pattern, ...]:
    """The blanks of a transition of `length` mm: one pattern that is needed twice, or two halves of a free shape."""
    angles, port, circle, corners = _rulings(shape, tube)
    halves = []
    for low in (0.0, math.pi) if shape.kind == "free" else (0.0,):
        rows = np.flatnonzero((angles > low - SAME) & (angles < low + math.pi + SAME))
        flat = _laid_out(
            *(np.column_stack([side[rows], np.full(len(rows), z)]) for side, z in _at(port, circle, length))
        )
        halves.append(Pattern(*flat, _bends(angles[rows], corners[rows]), 1 if shape.kind == "free" else 2))
    return tuple(halves)


def _at(port: Array, circle: Array, length: float) -> tuple[tuple[Array, float], tuple[Array, float]]:
    return (port, 0.0), (circle, length)


def _rulings(shape: PortShape, tube: Tube) -> tuple[Array, Array, Array, NDArray[np.bool_]]:
    """Once round from seam to seam: angles from it, ends at the port and at the tube (n, 2), and where edges meet.

    Counter-clockwise as the gas leaves the head toward the viewer, from −y.
    """
    outline = grown(port_outline(replace(shape, turn=0.0)), tube.wall / 2)
    rows: list[tuple[float, float, float, float, float, bool]] = []
    for edge, arc in zip(*matched(outline, tube.radius - tube.wall / 2), strict=True):
        start = math.atan2(arc.start[1], arc.start[0]) + math.pi / 2
        count = max(2, math.ceil(arc.sweep / FINEST), math.ceil(edge.sweep / CORNER))
        seams = [(seam - start) % (2 * math.pi) / arc.sweep for seam in (0.0, math.pi)]
        for share in [*np.linspace(0.0, 1.0, count + 1).tolist(), *(s for s in seams if s < 1.0)]:
            angle = (start + share * arc.sweep) % (2 * math.pi)
            angle = 0.0 if angle > 2 * math.pi - SAME else angle
            rows.append((angle, *edge.at(share), *arc.at(share), share in (0.0, 1.0)))
    rows.sort(key=lambda row: row[0])
    kept: list[tuple[float, float, float, float, float, bool]] = []
    for row in rows:
        if kept and row[0] - kept[-1][0] < SAME:
            kept[-1] = (*kept[-1][:5], kept[-1][5] or row[5])
        else:
            kept.append(row)
    kept.append((2 * math.pi, *kept[0][1:]))
    found = np.array(kept, dtype=float)
    return found[:, 0], found[:, 1:3], found[:, 3:5], found[:, 5] > 0


def _laid_out(port: Array, tube: Array) -> tuple[Array, Array]:
    """The rulings between two rows of points (n, 3) laid flat: the first upright, the rest to the right of it."""
    first = float(np.linalg.norm(tube[0] - port[0]))
    below, above = [0j], [complex(0.0, first)]
    for k, m in pairwise(range(len(port))):
        across = [float(np.linalg.norm(end - start)) for start, end in ((port[k], tube[m]), (tube[k], port[m]))]
        along = [float(np.linalg.norm(side[m] - side[k])) for side in (port, tube)]
        ruling = float(np.linalg.norm(tube[m] - port[m]))
        if across[0] <= across[1]:
            above.append(_beside(below[k], above[k], across[0], along[1]))
            below.append(_beside(below[k], above[m], along[0], ruling))
        else:
            below.append(_beside(below[k], above[k], along[0], across[1]))
            above.append(_beside(below[m], above[k], ruling, along[1]))
    return _turned_level(np.array(below), np.array(above))


def _beside(low: complex, high: complex, from_low: float, from_high: float) -> complex:
    """The point at given distances from two points, to the right of the direction from the first to the second."""
    apart = abs(high - low)
    ahead = (apart**2 + from_low**2 - from_high**2) / (2 * apart)
    return low + (high - low) / apart * complex(ahead, -math.sqrt(max(from_low**2 - ahead**2, 0.0)))


def _turned_level(below: NDArray[np.complex128], above: NDArray[np.complex128]) -> tuple[Array, Array]:
    """The pattern turned so that the middle ruling is upright, with its lower end at the origin."""
    middle = len(below) // 2
    way = above[middle] - below[middle]
    turn = 1j * abs(way) / way
    ends = [(side - below[middle]) * turn for side in (below, above)]
    port, tube = (np.column_stack([side.real, side.imag]) for side in ends)
    return port, tube


def _bends(angles: Array, corners: NDArray[np.bool_]) -> tuple[int, ...]:
    """The rows of bend lines: where edges meet, and between those at most MARKED apart; seams are not bent."""
    fixed = sorted({0, *np.flatnonzero(corners).tolist(), len(angles) - 1})
    chosen: set[int] = set(fixed)
    for low, high in pairwise(fixed):
        count = math.ceil((angles[high] - angles[low]) / MARKED - SAME)
        between = [angles[low] + (angles[high] - angles[low]) * k / count for k in range(1, count)]
        chosen |= {int(np.abs(angles - each).argmin()) for each in between}
    return tuple(sorted(chosen - {0, len(angles) - 1}))
