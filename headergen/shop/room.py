"""Where along a run a torch has no room for a joint, because another tube is nearer than its cup."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.arrays import Array
from headergen.geometry.curves.centreline import frame_at
from headergen.model import Arc, Centreline, Header, Segment

STEP = 1.0  # mm between the places that are looked at; what is found is widened by as much

Stretches = tuple[tuple[float, float], ...]


def without_room(header: Header, cup: float) -> Mapping[str, Stretches]:
    """By run: stretches, in mm from where it begins, whose skin is nearer than `cup` to another tube.

    The skin's distance is taken as that of the centrelines less both radii, which is never more than it is.
    """
    return {
        run.name: tuple(_stretches(line, _least(line, run.tube.radius, header) < cup)) for run, line in header.tubes
    }


def _places(line: Centreline) -> Array:
    return np.linspace(0.0, line.length, max(2, int(np.ceil(line.length / STEP)) + 1))


def _least(line: Centreline, radius: float, header: Header) -> Array:
    """Distance from the skin at each place to the nearest other tube; infinite where there is none."""
    points = np.array([frame_at(line, float(at))[0] for at in _places(line)])
    least = np.full(len(points), np.inf)
    for run, other in header.tubes:
        if run.name != line.run:
            for segment in other.segments:
                least = np.minimum(least, _to_segment(points, segment) - radius - run.tube.radius)
    return least


def _to_segment(points: Array, segment: Segment) -> Array:
    """Distances (n) of points (n, 3) to a line or arc."""
    start, tangent = np.array(segment.start), np.array(segment.tangent)
    if not isinstance(segment, Arc):
        along = np.clip((points - start) @ tangent, 0.0, segment.length)
        return _lengths(points - start - along[:, None] * tangent)
    normal = np.array(segment.normal)
    off = points - (start + segment.radius * normal)
    turn = np.arctan2(off @ tangent, -(off @ normal)) % (2 * np.pi)
    # beyond the end the nearest place is an end: whichever is less far round
    past = (turn - segment.angle) > (2 * np.pi - turn)
    turn = np.where(turn > segment.angle, np.where(past, 0.0, segment.angle), turn)
    feet = segment.radius * (np.sin(turn)[:, None] * tangent - np.cos(turn)[:, None] * normal)
    return _lengths(off - feet)


def _lengths(vectors: Array) -> Array:
    lengths: Array = np.linalg.norm(vectors, axis=1)
    return lengths


def _stretches(line: Centreline, near: NDArray[np.bool_]) -> Iterator[tuple[float, float]]:
    places = _places(line)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], near, [False]]).astype(int)))
    for first, after in zip(edges[::2], edges[1::2], strict=True):
        low, high = float(places[first]) - STEP, float(places[after - 1]) + STEP
        yield max(low, 0.0), min(high, line.length)
