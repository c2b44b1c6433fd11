"""The cost of paths as a sum of degrees: less is better. The weights are the spec's.

Bends and degrees cost work and thin the wall; welds cost time and may leak; two radii in one tube need two dies or two
boxes. A bend back right behind another (an S within a diameter) looks and flows badly. A long last straight lets a tube
slide into its bore. Tubes side by side, along a frame member, or as on the other bank look deliberate.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.curves.centreline import frame_at, trace
from headergen.geometry.frames import dot, norm, subtract, unit
from headergen.model import Bend, Centreline, Draft, Line, NamedLine, Run, Step, StockBend, Straight, Vec

BACK = math.radians(90)  # rotation between two bends above which the second one bends back
NEAR = 3.0  # centreline distance, in tube diameters, within which two tubes count as side by side
PARALLEL = math.radians(6)
STATIONS = 24


def cost_of(draft: Draft, numbers: Sequence[int]) -> float:
    """The total cost of the primaries with the given numbers."""
    lines = {p.number: trace(p.port.frame, p.steps, p.name) for p in draft.primaries}
    weights, routing, width = draft.routing.cost_weights, draft.routing, draft.tube.outside_diameter
    wanted = [p for p in draft.primaries if p.number in numbers]
    cost = sum(_tube_cost(draft, p) for p in wanted)
    cost += weights.other_bank * sum(_from_mirrored(lines[p.number], p) for p in wanted) / width
    cost -= weights.side_by_side * sum(_shares_beside([lines[n] for n in numbers], width))
    cost -= weights.along_lines * sum(_share_along(lines[n], draft.lines, width) for n in numbers)
    if routing.shortest or (draft.length.target is None and routing.length is None):
        cost += weights.shorter * max(lines[n].length for n in numbers)
    return cost


def _tube_cost(draft: Draft, primary: Run) -> float:
    weights, width = draft.routing.cost_weights, draft.tube.outside_diameter
    bends = [step for step in primary.steps if isinstance(step, Bend)]
    cost = sum(math.degrees(bend.angle) + weights.bend for bend in bends)
    cost += weights.radius * sum(abs(a.radius - b.radius) > 1e-6 for a, b in pairwise(bends))
    cost += weights.weld * welds(primary.steps, draft.stock.bends if draft.stock is not None else ())
    cost += weights.close_turn * sum(
        gap < width and abs(math.remainder(bend.rotation, 2 * math.pi)) > BACK for gap, bend in _after_bends(primary)
    )
    last = primary.steps[-1]
    straight = last.length if isinstance(last, Straight) else 0.0
    return cost + weights.last_straight * max(0.0, 2.0 - straight / width)


def _after_bends(primary: Run) -> Iterator[tuple[float, Bend]]:
    """Each bend after the first, with the straight before it."""
    gap, first = 0.0, True
    for step in primary.steps:
        if isinstance(step, Straight):
            gap = step.length
            continue
        if not first:
            yield gap, step
        gap, first = 0.0, False


def welds(steps: Sequence[Step], shelf: Sequence[StockBend]) -> int:
    """The fewest joints of a path in which each bend is one piece.

    A bend cut from a larger one keeps at most one leg, on either side; only the whole shelf angle keeps both. Legs that
    are long enough replace a straight.
    """
    bends = [_legs(step, shelf) for step in steps if isinstance(step, Bend)]
    if not bends:
        return 0
    straights = _straights(steps)
    least = {legs: int(straights[0] > legs[0]) for legs in bends[0]}
    for between, after in zip(straights[1:-1], bends[1:], strict=True):
        least = {
            legs: min(count + 1 + (between > before[1] + legs[0]) for before, count in least.items()) for legs in after
        }
    return min(count + (straights[-1] > legs[1]) for legs, count in least.items())


def _legs(bend: Bend, shelf: Sequence[StockBend]) -> list[tuple[float, float]]:
    """The legs that a bend may keep, before and after it."""
    held = [b for b in shelf if abs(b.radius - bend.radius) < 0.05 and b.real_angle >= bend.angle - 1e-9]
    longest = max((max(b.real_legs) for b in held), default=0.0)
    whole = [b.real_legs for b in held if abs(b.real_angle - bend.angle) < 1e-6]
    return [(longest, 0.0), (0.0, longest), *whole, *((other, one) for one, other in whole)]


def _straights(steps: Sequence[Step]) -> list[float]:
    """The straights before, between and after the bends; 0 where there is none."""
    out = [0.0]
    for step in steps:
        if isinstance(step, Straight):
            out[-1] += step.length
        else:
            out.append(0.0)
    return out


def _shares_beside(lines: Sequence[Centreline], width: float) -> Iterator[float]:
    """For each tube, the share of its length over which another tube runs near by and parallel."""
    seen = [_stations(line) for line in lines]
    for index, (points, tangents) in enumerate(seen):
        beside = np.zeros(STATIONS, dtype=bool)
        for other, (theirs, along) in enumerate(seen):
            if other != index:
                apart = np.linalg.norm(points[:, None] - theirs[None], axis=2)
                nearest = apart.argmin(axis=1)
                near = apart[np.arange(STATIONS), nearest] < NEAR * width
                beside |= near & ((tangents * along[nearest]).sum(axis=1) > math.cos(PARALLEL))
        yield float(beside.mean())


def _stations(line: Centreline) -> tuple[Array, Array]:
    frames = [frame_at(line, at) for at in np.linspace(0.0, line.length, STATIONS)]
    return np.array([frame[0] for frame in frames]), np.array([frame[1] for frame in frames])


def _from_mirrored(line: Centreline, primary: Run) -> float:
    """The mean distance (mm) of a path from the one it should resemble, at equal shares of their lengths."""
    if not primary.like:
        return 0.0
    other = _stations(trace(primary.port.frame, primary.like, primary.name))[0]
    return float(np.linalg.norm(_stations(line)[0] - other, axis=1).mean())


def _share_along(line: Centreline, named: Sequence[NamedLine], width: float) -> float:
    """The share of a tube's length that is in straights beside a named line."""
    along = 0.0
    for segment in line.segments:
        if isinstance(segment, Line) and any(_runs_along(segment, each, width) for each in named):
            along += segment.length
    return along / line.length


def _runs_along(segment: Line, named: NamedLine, width: float) -> bool:
    axis = unit(subtract(named.end, named.start))
    if abs(dot(axis, segment.tangent)) < math.cos(PARALLEL):
        return False
    w: Vec = subtract(segment.start, named.start)
    beside = subtract(w, (axis[0] * dot(w, axis), axis[1] * dot(w, axis), axis[2] * dot(w, axis)))
    return norm(beside) < NEAR * width + named.diameter / 2
