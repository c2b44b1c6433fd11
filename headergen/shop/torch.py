"""Where along a run a torch has no room for a joint, because another tube is in its way.

Two things are tested, both only against the other tubes of the header. A joint is welded on the bench, so chassis,
flange and collector are not there; the run's own bends are assumed to leave room. First, the skin at the joint must be
farther from every other tube than the width of the torch's cup. Second, the torch, a round rod with the diameter of its
cup and the length of its reach, must fit all round the joint without touching another tube, square to the skin or
leaning by up to 45° to any side. A torch is leaned that far in tight places (common practice; 10° to 20° is usual).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.arrays import Array, crossed
from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.curves.stepped import widest_radius
from headergen.model import Arc, Centreline, Header, Segment

STEP = 1.0  # mm between the places whose distance is measured; a stretch found is widened by as much
TORCH_STEP = 5.0  # mm between the joints at which the torch is tested, and between the points of other tubes
ROUND = 12  # places round a joint
ON_AXIS = 1e-6  # mm
LEANS, TOWARD = (math.radians(22.5), math.radians(45.0)), 8

Stretches = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Torch:
    """`cup`: diameter of its cup; `reach`: room that it needs from the skin outward (mm)."""

    cup: float
    reach: float


@dataclass(frozen=True, eq=False)
class _Tube:
    """`points` (n, 3): on its centreline, `TORCH_STEP` apart."""

    line: Centreline
    radius: float
    points: Array


def without_room(header: Header, torch: Torch) -> Mapping[str, Stretches]:
    """By run: stretches, in mm from its start, where the torch has no room for a joint.

    The skin's distance is taken as the centreline distance minus both radii, which is never more than the true
    distance; of a stepped run the largest radius is taken.
    """
    tubes = [_Tube(line, widest_radius(run), _points_on(line, TORCH_STEP)) for run, line in header.tubes]
    return {
        tube.line.run: tuple(_of_tube(tube, [other for other in tubes if other is not tube], torch)) for tube in tubes
    }


def _of_tube(tube: _Tube, others: Sequence[_Tube], torch: Torch) -> Iterator[tuple[float, float]]:
    if not others:
        return
    line = tube.line
    least = _least(tube, others)
    yield from _stretches(line, _places(line, STEP), least < torch.cup)
    places = _places(line, TORCH_STEP)
    gaps = np.interp(places, _places(line, STEP), least)
    balls = np.concatenate([other.points for other in others]), _radii(others)
    out_of_reach = np.zeros(len(places), dtype=bool)
    for k in np.flatnonzero((gaps >= torch.cup) & (gaps < torch.reach)):
        out_of_reach[k] = not _reached(line, (float(places[k]), tube.radius), balls, torch)
    yield from _stretches(line, places, out_of_reach)


def _radii(tubes: Sequence[_Tube]) -> Array:
    """The radius of the tube for each point of the tubes."""
    radii: Array = np.repeat([tube.radius for tube in tubes], [len(tube.points) for tube in tubes])
    return radii


def _places(line: Centreline, step: float) -> Array:
    return np.linspace(0.0, line.length, max(2, int(np.ceil(line.length / step)) + 1))


def _points_on(line: Centreline, step: float) -> Array:
    return np.array([frame_at(line, float(at))[0] for at in _places(line, step)])


def _least(tube: _Tube, others: Sequence[_Tube]) -> Array:
    """Distance from the skin at each place to the nearest other tube."""
    points = _points_on(tube.line, STEP)
    least = np.full(len(points), np.inf)
    for other in others:
        for segment in other.line.segments:
            least = np.minimum(least, _to_segment(points, segment) - tube.radius - other.radius)
    return least


def _reached(line: Centreline, at: tuple[float, float], others: tuple[Array, Array], torch: Torch) -> bool:
    """Whether the torch reaches every place round a joint; `at`: its place along the line, and the tube's radius."""
    middle, along, normal = (np.array(each) for each in frame_at(line, at[0]))
    points, radii = others
    gaps = np.linalg.norm(points - middle, axis=1) - radii
    near = gaps < at[1] + torch.reach + torch.cup
    out = _round(along, normal, points[np.argmin(gaps)] - middle)
    skin, rest = middle + at[1] * out, (points[near], radii[near])
    hard = ~_is_free(skin, out[:, None], rest, torch)[:, 0]
    if not hard.any():
        return True
    out, skin = out[hard], skin[hard]
    across = crossed(along, out)
    return bool(_is_free(skin, _leaning(out, along, across), rest, torch).any(axis=1).all())


def _round(along: Array, normal: Array, nearest: Array) -> Array:
    """Directions out of a tube (n, 3), the first toward the nearest tube."""
    toward = nearest - (nearest @ along) * along
    size = float(np.linalg.norm(toward))
    first = toward / size if size > ON_AXIS else normal
    turns = 2 * np.pi * np.arange(ROUND) / ROUND
    ways: Array = np.cos(turns)[:, None] * first + np.sin(turns)[:, None] * crossed(along, first)
    return ways


def _leaning(out: Array, along: Array, across: Array) -> Array:
    """Directions (n, k, 3) of a torch at n places, square to `out` (n, 3) and leaned to all sides."""
    sides = 2 * np.pi * np.arange(TOWARD) / TOWARD
    to_side = np.cos(sides)[:, None] * along + np.sin(sides)[:, None] * across[:, None]
    return np.concatenate([math.cos(lean) * out[:, None] + math.sin(lean) * to_side for lean in LEANS], axis=1)


def _is_free(skin: Array, ways: Array, others: tuple[Array, Array], torch: Torch) -> NDArray[np.bool_]:
    """(n, k) whether a rod from each place (n, 3) in each of its directions (n, k, 3) misses balls round `others`."""
    points, radii = others
    to_points = points - skin[:, None]
    reached = ways @ to_points.transpose(0, 2, 1)
    along = np.clip(reached, 0.0, max(torch.reach - torch.cup / 2, 0.0))
    # |v − t·w|² = |v|² − t·(2·v·w − t), which takes no array of vectors
    squares = np.square(to_points).sum(axis=-1)[:, None] - along * (2 * reached - along)
    free: NDArray[np.bool_] = (squares >= np.square(radii + torch.cup / 2)).all(axis=-1)
    return free


def _to_segment(points: Array, segment: Segment) -> Array:
    """Distances (n) of points (n, 3) from a line or arc."""
    start, tangent = np.array(segment.start), np.array(segment.tangent)
    if not isinstance(segment, Arc):
        along = np.clip((points - start) @ tangent, 0.0, segment.length)
        return _lengths(points - start - along[:, None] * tangent)
    normal = np.array(segment.normal)
    off = points - (start + segment.radius * normal)
    turn = np.arctan2(off @ tangent, -(off @ normal)) % (2 * np.pi)
    # beyond the end, the nearest place is the end that is less far round
    past = (turn - segment.angle) > (2 * np.pi - turn)
    turn = np.where(turn > segment.angle, np.where(past, 0.0, segment.angle), turn)
    feet = segment.radius * (np.sin(turn)[:, None] * tangent - np.cos(turn)[:, None] * normal)
    return _lengths(off - feet)


def _lengths(vectors: Array) -> Array:
    lengths: Array = np.linalg.norm(vectors, axis=1)
    return lengths


def _stretches(line: Centreline, places: Array, near: NDArray[np.bool_]) -> Iterator[tuple[float, float]]:
    """The stretches of near places, each from the place before its first to the place after its last."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], near, [False]]).astype(int)))
    step = float(places[1] - places[0])
    for first, after in zip(edges[::2], edges[1::2], strict=True):
        yield max(float(places[first]) - step, 0.0), min(float(places[after - 1]) + step, line.length)
