"""The look of a header as a whole: crossings, doubling back, and straights that run like nothing beside them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import combinations

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.curves.centreline import frame_on
from headergen.model import Centreline, Line, Run

NEAR_VIEW = math.cos(math.radians(15))  # two views less apart than this are one
ALONG_ROW = 0.8  # cosine between a view and the row of ports above which the tubes hide each other anyway
ARC_STEP = math.radians(15)
PARALLEL = math.cos(math.radians(6))
SHORT = 15.0  # mm: shorter straights have no direction that anybody sees
NEIGHBOUR = 1.3  # times the distance of the nearest port: how far off a neighbour's port may be


def corners_of(line: Centreline) -> Array:
    """(n, 3) points along a centreline: the ends of its straights, and its arcs in steps of at most 15°."""
    points = [line.segments[0].start]
    for segment in line.segments:
        steps = 1 if isinstance(segment, Line) else math.ceil(segment.angle / ARC_STEP)
        points += [frame_on(segment, segment.length * k / steps)[0] for k in range(1, steps + 1)]
    return np.array(points)


def views_of(runs: Sequence[Run]) -> list[Array]:
    """Pictures (2, 3) of a header: along the engine's axes, and into its ports; none along the row of its ports."""
    ports = np.array([run.start.frame.origin for run in runs])
    row = _unit(ports[-1] - ports[0])
    into = _unit(np.mean([run.start.frame.z for run in runs], axis=0))
    ways: list[Array] = []
    for way in (into, *np.eye(3)):
        if way.any() and abs(way @ row) < ALONG_ROW and all(abs(way @ known) < NEAR_VIEW for known in ways):
            ways.append(way)
    return [_across(way) for way in ways]


def crossing_pairs(lines: Sequence[Array], views: Sequence[Array]) -> int:
    """How many pairs of tubes (n, 3) cross, added up over the views."""
    flat = [[points @ view.T for points in lines] for view in views]
    return sum(_cross(a, b) for seen in flat for a, b in combinations(seen, 2))


def doubled_back(points: Array) -> float:
    """Millimetres that a tube runs back, measured along the straight line from its start to its end."""
    ways = np.diff(points, axis=0)
    return float(np.maximum(-(ways @ _unit(points[-1] - points[0])), 0.0).sum())


def stray_straights(runs: Sequence[Run], lines: Sequence[Centreline]) -> int:
    """Straights between bends that are parallel neither to one of a neighbour's straights nor to an axis."""
    straights = [list(_straights(line)) for line in lines]
    ports = np.array([run.start.frame.origin for run in runs])
    stray = 0
    for k, line in enumerate(lines):
        away = np.linalg.norm(ports - ports[k], axis=1)
        away[k] = math.inf
        near = [way for other in np.flatnonzero(away <= NEIGHBOUR * away.min()) for way in straights[other]]
        known = np.array([*np.eye(3), *near])
        stray += sum(bool(np.abs(known @ way).max() < PARALLEL) for way in _inner(line))
    return stray


def _straights(line: Centreline) -> Iterator[Array]:
    for segment in line.segments:
        if isinstance(segment, Line) and segment.length > SHORT:
            yield np.array(segment.tangent)


def _inner(line: Centreline) -> Iterator[Array]:
    for segment in line.segments[1:-1]:
        if isinstance(segment, Line) and segment.length > SHORT:
            yield np.array(segment.tangent)


def _cross(one: Array, other: Array) -> bool:
    """Whether two plane polylines (n, 2) cross somewhere."""
    if (one.max(axis=0) < other.min(axis=0)).any() or (other.max(axis=0) < one.min(axis=0)).any():
        return False
    a, b, c, d = one[:-1, None], one[1:, None], other[None, :-1], other[None, 1:]
    apart = _side(a, b, c) * _side(a, b, d) < 0
    return bool((apart & (_side(c, d, a) * _side(c, d, b) < 0)).any())


def _side(a: Array, b: Array, c: Array) -> Array:
    found: Array = (b - a)[..., 0] * (c - a)[..., 1] - (b - a)[..., 1] * (c - a)[..., 0]
    return found


def _across(way: Array) -> Array:
    x = _unit(np.cross(way, np.eye(3)[int(np.abs(way).argmin())]))
    return np.array([x, np.cross(way, x)])


def _unit(vector: Array) -> Array:
    size = float(np.linalg.norm(vector))
    return vector / size if size > 0.0 else vector
