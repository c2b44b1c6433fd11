"""Arranges parts in rows on few build plates: deepest first, each where it first fits."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from headergen.geometry.mesh.triangles import Points, TriangleMesh
from headergen.mock.solid import MockError
from headergen.words.numbers import box_in

BETWEEN = 4.0  # mm between two parts
BORDER = 2.0  # mm along the edges of the bed
TURNS = tuple(range(0, 180, 15))  # degrees by which a part is turned about the vertical, tried in order

_Box = tuple[float, tuple[float, float], tuple[float, float]]  # the turn, width and depth, the low corner


@dataclass(frozen=True)
class PlacedPart:
    """A part on a build plate: `plate` counted from 1; `turn` radians about the vertical, then moved by `shift`."""

    name: str
    plate: int
    turn: float
    shift: tuple[float, float]


@dataclass
class _Row:
    plate: int
    y: float
    depth: float
    used: float


def turned(points: Points, turn: float) -> Points:
    """(n, 3) points turned about the vertical."""
    c, s = math.cos(turn), math.sin(turn)
    return np.asarray(points @ np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]]))


def pack(
    meshes: Sequence[tuple[str, TriangleMesh]], bed: tuple[float, float, float], units: str = "mm"
) -> tuple[PlacedPart, ...]:
    """A place for every part, in the given order.

    Raises MockError, with sizes in `units`, for a part that does not fit on the bed.
    """
    boxes = {name: _box_on(name, mesh, bed, units) for name, mesh in meshes}
    order = sorted(boxes, key=lambda name: (-boxes[name][1][1], -boxes[name][1][0], name))
    shelves: list[_Row] = []
    placed = {}
    for name in order:
        turn, (width, depth), low = boxes[name]
        shelf = next((s for s in shelves if depth <= s.depth and s.used + width <= bed[0] - BORDER), None)
        if shelf is None:
            shelf = _new_shelf(shelves, depth, bed)
        placed[name] = PlacedPart(name, shelf.plate, turn, (shelf.used - low[0], shelf.y - low[1]))
        shelf.used += width + BETWEEN
    return tuple(placed[name] for name, _ in meshes)


def has_room(mesh: TriangleMesh, bed: tuple[float, float, float]) -> bool:
    """Whether the part fits on the bed in one of the turns that are tried."""
    return _least_box(mesh, bed) is not None


def _new_shelf(shelves: list[_Row], depth: float, bed: tuple[float, float, float]) -> _Row:
    """A new row behind the rows of the first plate with room, or at the front of a new plate."""
    plates = max((shelf.plate for shelf in shelves), default=0)
    for plate in range(1, plates + 1):
        y = max(shelf.y + shelf.depth for shelf in shelves if shelf.plate == plate) + BETWEEN
        if y + depth <= bed[1] - BORDER:
            break
    else:
        plate, y = plates + 1, BORDER
    shelves.append(_Row(plate, y, depth, BORDER))
    return shelves[-1]


def _box_on(name: str, mesh: TriangleMesh, bed: tuple[float, float, float], units: str) -> _Box:
    """The smallest box of a part. Raises MockError if the bed has no room for it."""
    box = _least_box(mesh, bed)
    if box is None:
        size = np.ptp(mesh.vertices, axis=0).tolist()
        raise MockError(f"part {name} is {box_in(units, size)}: the bed has no room for it")
    return box


def _least_box(mesh: TriangleMesh, bed: tuple[float, float, float]) -> _Box | None:
    """The turn with the smallest box that fits on the bed, its width and depth, and its low corner; None if none."""
    best: tuple[float, float, tuple[float, float], tuple[float, float]] | None = None
    for degrees in TURNS:
        turn = math.radians(degrees)
        points = turned(mesh.vertices, turn)[:, :2]
        low, size = points.min(axis=0), np.ptp(points, axis=0)
        room = bool((size + 2 * BORDER <= np.array(bed[:2])).all())
        area = round(float(size.prod()), 3)
        if room and (best is None or area < best[0] - 1.0):
            best = (area, turn, (float(size[0]), float(size[1])), (float(low[0]), float(low[1])))
    height = float(np.ptp(mesh.vertices[:, 2]))
    return None if best is None or height > bed[2] else best[1:]
