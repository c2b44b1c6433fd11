"""The look of a header as a whole: what crosses, doubles back, sprawls, arches, or runs like nothing beside it.

Fresh eyes liked those headers best whose neighbours run the same way all along, and whose tubes stay together; and
those least whose tubes arch over the ports.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import combinations, product
from typing import NamedTuple

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.curves.centreline import frame_at, frame_on
from headergen.model import Centreline, Line, Run

NEAR_VIEW = math.cos(math.radians(15))  # two views less apart than this are one
ALONG_ROW = 0.8  # cosine between a view and the row of ports above which the tubes hide each other anyway
ARC_STEP = math.radians(15)
PARALLEL = math.cos(math.radians(6))
STATIONS = 36  # along a tube, at which its direction is compared with its neighbour's
AROUND = np.array([way for way in product((-1.0, 0.0, 1.0), repeat=3) if any(way)])
AROUND /= np.linalg.norm(AROUND, axis=1)[:, None]  # (26, 3) directions in which a header's width is taken
SHORT = 15.0  # mm: shorter straights have no direction that anybody sees
LEVEL = 0.15  # of the distance from the ports to the bores: bores that are less to one side of the ports are level
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
    stray = 0
    for k, line in enumerate(lines):
        near = [way for other in neighbours(runs, k) for way in straights[other]]
        known = np.array([*np.eye(3), *near])
        stray += sum(bool(np.abs(known @ way).max() < PARALLEL) for way in _inner(line))
    return stray


def neighbours(runs: Sequence[Run], tube: int) -> list[int]:
    """Those tubes whose ports are about as near to a tube's port as the nearest."""
    ports = np.array([run.start.frame.origin for run in runs])
    away = np.linalg.norm(ports - ports[tube], axis=1)
    away[tube] = math.inf
    return [int(other) for other in np.flatnonzero(away <= NEIGHBOUR * away.min())] if len(runs) > 1 else []


def parting(runs: Sequence[Run], lines: Sequence[Centreline]) -> float:
    """Degrees by which neighbours run in different directions: the mean along each two, added up."""
    ways = [
        directions(np.array([frame_at(line, at)[0] for at in np.linspace(0.0, line.length, STATIONS)]))
        for line in lines
    ]
    each = ((a, b) for a in range(len(runs)) for b in neighbours(runs, a) if a < b or a not in neighbours(runs, b))
    return sum(float(apart_all_along(ways[a][None], ways[b][None], *_ports(runs, a, b))[0, 0]) for a, b in each)


def directions(points: Array) -> Array:
    """(…, n − 1, 3) unit vectors along points (…, n, 3) of tubes."""
    ways = np.diff(points, axis=-2)
    out: Array = ways / np.maximum(np.linalg.norm(ways, axis=-1, keepdims=True), 1e-9)
    return out


def apart_all_along(one: Array, other: Array, port: Array, next_port: Array) -> Array:
    """Mean degrees (A, B) between directions (A, n, 3) of one tube and (B, n, 3) of another, at equal shares.

    Mirror images, across the middle between their ports, run the same way too.
    """
    across = _unit(next_port - port)
    mirrored = other - 2.0 * (other @ across)[..., None] * across
    found = (np.arccos(np.clip(np.einsum("anc,bnc->abn", one, way), -1.0, 1.0)) for way in (other, mirrored))
    least: Array = np.degrees(np.minimum(*(each.mean(axis=2) for each in found)))
    return least


def sprawl(runs: Sequence[Run], lines: Sequence[Array]) -> float:
    """Millimetres by which a header is wider than its ports and bores, the mean over all directions."""
    return float(np.maximum(np.max([reach_of(points) for points in lines], axis=0) - reach_of_ends(runs), 0.0).mean())


def reach_of(points: Array) -> Array:
    """How far points (…, n, 3) reach in each direction: (…, 26)."""
    out: Array = (points @ AROUND.T).max(axis=-2)
    return out


def reach_of_ends(runs: Sequence[Run]) -> Array:
    """The same of all ports and bores."""
    return reach_of(np.array([frame.origin for run in runs for frame in (run.start.frame, run.end.frame)]))


class OverPorts(NamedTuple):
    """The direction (3,) over the ports, and how far the ports reach in it; without a direction, nothing arches."""

    way: Array
    height: float


def over_ports(runs: Sequence[Run]) -> OverPorts:
    """The side of the ports away from the bores, square to the way out of the ports and to their row."""
    ports = np.array([run.start.frame.origin for run in runs])
    off = ports.mean(axis=0) - np.mean([run.end.frame.origin for run in runs], axis=0)
    out = _unit(np.mean([run.start.frame.z for run in runs], axis=0))
    row = ports[-1] - ports[0]
    way = off - (off @ out) * out
    along = _unit(row - (row @ out) * out)
    way = way - (way @ along) * along
    if np.linalg.norm(way) <= LEVEL * np.linalg.norm(off):
        return OverPorts(np.zeros(3), 0.0)
    way = _unit(way)
    return OverPorts(way, float((ports @ way).max()))


def arched(points: Array, over: OverPorts) -> float:
    """Millimetres by which a tube (n, 3) rises over the ports."""
    return max(0.0, float((points @ over.way).max()) - over.height)


def _ports(runs: Sequence[Run], one: int, other: int) -> tuple[Array, Array]:
    return np.array(runs[one].start.frame.origin), np.array(runs[other].start.frame.origin)


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
