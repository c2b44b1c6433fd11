"""Joins holes with too little metal between them into one opening: arcs of the holes, with rounds at the throats.

The circles, all of one radius, are grown by a fillet radius. The outline of their union is walked, then offset inward
by the same radius: the circles are back, and every corner between two is rounded. This is the morphological closing of
the holes by a disc (Serra, Image Analysis and Mathematical Morphology, 1982). Metal enclosed by the holes falls out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from headergen.geometry.plate.outline import Edge, Outline, area, circle, hull
from headergen.model import PlateHole, Vec2

Round = tuple[float, float, float]  # x, y, radius

WEB = 1.2  # mm; with less metal between two tubes their holes are joined: a nozzle lays three strands in it
THROAT = 2.0  # in fillets: the least half width of a throat
SAME_PLACE = 1e-6  # mm


@dataclass(frozen=True)
class Opening:
    """One opening through a plate, and the indices of the given holes that it is made of."""

    outline: Outline
    holes: tuple[int, ...]


def openings(holes: Sequence[Round], web: float) -> tuple[Opening, ...]:
    """The openings of holes; those of one radius are joined if less than about `web` mm of metal would be between them.

    Holes of different radii are left as they are, even if they overlap.
    """
    found = []
    for group in _groups(holes, web / 2):
        whole = circle(holes[group[0]][:2], holes[group[0]][2]) if len(group) == 1 else _outside(holes, group, web / 2)
        found.append(Opening(whole, group))
    return tuple(found)


def openings_of(holes: Sequence[PlateHole]) -> tuple[Opening, ...]:
    """What is cut out of a locating plate. Tubes that touch have one hole, with no metal in the middle.

    Slots are each an opening of their own.
    """
    round_ones = [k for k, hole in enumerate(holes) if hole.slot == (0.0, 0.0)]
    found = openings([(*holes[k].at, holes[k].diameter / 2) for k in round_ones], WEB)
    whole = [replace(each, holes=tuple(round_ones[k] for k in each.holes)) for each in found]
    slots = (Opening(hull(ends_of(hole)), (k,)) for k, hole in enumerate(holes) if k not in round_ones)
    return (*whole, *slots)


def ends_of(hole: PlateHole) -> tuple[Round, Round]:
    """The circles at both ends of a slot; of a round hole, twice the same."""
    (x, y), (dx, dy), radius = hole.at, hole.slot, hole.diameter / 2
    return (x - dx, y - dy, radius), (x + dx, y + dy, radius)


def tubes_together(holes: Sequence[PlateHole]) -> list[tuple[str, ...]]:
    """The runs through each opening that has more than one."""
    found = [
        tuple(run for run in (holes[k].run for k in opening.holes) if run is not None) for opening in openings_of(holes)
    ]
    return [runs for runs in found if len(runs) > 1]


def _groups(holes: Sequence[Round], fillet: float) -> list[tuple[int, ...]]:
    left, groups = list(range(len(holes))), []
    while left:
        group = [left.pop(0)]
        for at in group:  # grows during the loop
            near = [k for k in left if _runs_into(holes[at], holes[k], fillet)]
            group += near
            left = [k for k in left if k not in near]
        groups.append(tuple(sorted(group)))
    return groups


def _runs_into(a: Round, b: Round, fillet: float) -> bool:
    if abs(a[2] - b[2]) > SAME_PLACE:
        return False
    return math.dist(a[:2], b[:2]) / 2 <= math.sqrt((a[2] + fillet) ** 2 - (THROAT * fillet) ** 2)


def _outside(holes: Sequence[Round], group: tuple[int, ...], fillet: float) -> Outline:
    """The loop of arcs round everything: the one with the largest area."""
    arcs = [arc for k in group for arc in _free_arcs(holes, k, group, fillet)]
    loops = []
    while arcs:
        loop = [arcs.pop()]
        while math.dist(loop[-1].end, loop[0].start) > SAME_PLACE:
            after = min(range(len(arcs)), key=lambda k: math.dist(arcs[k].start, loop[-1].end))
            loop.append(arcs.pop(after))
        loops.append(tuple(loop))
    return _drawn_back(max(loops, key=area), fillet)


def _free_arcs(holes: Sequence[Round], at: int, group: tuple[int, ...], fillet: float) -> list[Edge]:
    """The arcs of a grown circle that no other circle of the group covers, counter-clockwise."""
    (x, y, radius), covered = holes[at], []
    grown = radius + fillet
    for k in group:
        if k != at and _runs_into(holes[at], holes[k], fillet):
            toward = math.atan2(holes[k][1] - y, holes[k][0] - x)
            half = math.acos(math.dist(holes[k][:2], (x, y)) / (2 * grown))
            covered.append((toward - half, toward + half))
    ends = sorted((low % (2 * math.pi), low % (2 * math.pi) + high - low) for low, high in covered)
    free, reach = [], ends[0][0]
    for low, high in [*ends, (ends[0][0] + 2 * math.pi, 0.0)]:
        if low > reach + SAME_PLACE / grown:
            free.append((reach, low))
        reach = max(reach, high)
    over = reach - 2 * math.pi  # for a covered arc that passes zero
    kept = [(max(low, over), high) for low, high in free if high > over + SAME_PLACE / grown]
    return [
        Edge(_on(x, y, grown, low), _on(x, y, grown, high), (x, y), high - low)
        for low, high in kept
        if high - low > SAME_PLACE / grown
    ]


def _on(x: float, y: float, radius: float, bearing: float) -> Vec2:
    return (x + radius * math.cos(bearing), y + radius * math.sin(bearing))


def _drawn_back(loop: Outline, fillet: float) -> Outline:
    made: list[Edge] = []
    for arc, after in pairwise([*loop, loop[0]]):
        ends = [_toward(place, arc, fillet) for place in (arc.start, arc.end)]
        made.append(Edge(ends[0], ends[1], arc.centre, arc.sweep))
        start, end = ends[1], _toward(after.start, after, fillet)
        turn = math.atan2(end[1] - arc.end[1], end[0] - arc.end[0])
        turn -= math.atan2(start[1] - arc.end[1], start[0] - arc.end[0])
        made.append(Edge(start, end, arc.end, -(-turn % (2 * math.pi))))  # round the corner of metal: clockwise
    return tuple(made)


def _toward(place: Vec2, arc: Edge, by: float) -> Vec2:
    assert arc.centre is not None
    share = by / arc.radius
    return (place[0] + share * (arc.centre[0] - place[0]), place[1] + share * (arc.centre[1] - place[1]))
