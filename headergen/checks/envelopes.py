"""The gaps of the parts beside the tubes, by the simple envelopes around them, which are in parts/table.py.

No kernel is needed to know that a merge reaches into an engine mount.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import groupby

import numpy as np

from headergen.geometry.curves.body import Body, distance_to_body
from headergen.geometry.curves.run import run_bodies
from headergen.geometry.distance.cones import nearest_of_solid
from headergen.geometry.distance.convex import Convex
from headergen.geometry.distance.distance_convex import (
    ConvexGap,
    gap_to_body,
    gap_to_frustum,
    gap_to_plane,
    gap_to_triangles,
)
from headergen.geometry.distance.two_convex import gap_to_convex
from headergen.geometry.frames import vec
from headergen.geometry.mesh.index import TriangleIndex, distance_to_index, near_point
from headergen.geometry.mesh.winding import is_wrong_side, winding_numbers
from headergen.model import ChassisItem, Draft, Gap, Header, OtherPlate, Plane, Survey
from headergen.parts.kind import Envelope
from headergen.parts.table import envelopes_of

ROUNDING = 1e-6  # mm

Obstacle = TriangleIndex | Plane | list[Body]


PartPieces = Sequence[Envelope]  # the pieces of one part


def envelopes(draft: Draft) -> tuple[Envelope, ...]:
    """Every part of a draft beside its tubes, as far as it is known before the paths are closed."""
    return envelopes_of(Header(draft, (), ()))


def part_gaps(
    header: Header, surfaces: Mapping[str, TriangleIndex], round_items: Mapping[str, list[Body]]
) -> Iterator[Gap]:
    """The gap of every envelope to every chassis item that may be too near, and to other collectors and their tubes.

    Things that are certainly farther than their clearance, by a ball round the part, are left out: there may be dozens
    of parts. `surfaces`: triangles by item name, boxes included; `round_items`: the bodies of cylinders, lines and
    other headers.
    """
    around = [(item, obstacle_of(item, surfaces, round_items)) for item in header.draft.chassis]
    parts = _parts(header)
    for number in range(len(parts)):
        yield from _gaps_of_part(header, parts, number, around)


def part_gaps_again(
    before: Survey,
    header: Header,
    surfaces: Mapping[str, TriangleIndex],
    round_items: Mapping[str, list[Body]],
    changed: Collection[str],
) -> Iterator[Gap]:
    """The same where only the paths of the runs `changed` differ from before: only what they affect is measured."""
    around = [(item, obstacle_of(item, surfaces, round_items)) for item in header.draft.chassis]
    parts, moved, some = _parts(header), moved_parts(before.header, header), header.with_runs(changed)
    gone = {*moved, *changed}
    yield from (gap for gap in before.part_gaps if gap.a not in moved and gap.b not in gone)
    for number, part in enumerate(parts):
        if part[0].name in moved:
            yield from _gaps_of_part(header, parts, number, around)
            continue
        yield from least_of(gap for piece in part for gap in _tube_gaps(some, piece))
        others = [piece for other in parts[number + 1 :] for piece in other if piece.name in moved]
        yield from _to_others(header, part, others)


def moved_parts(before: Header, after: Header) -> frozenset[str]:
    """Names of the parts that are in another place than before, are new, or are gone."""
    were, are = ({part[0].name: part for part in _parts(header)} for header in (before, after))
    return frozenset(name for name in {**were, **are} if not _stands(are.get(name, ()), were.get(name, ())))


def _parts(header: Header) -> list[PartPieces]:
    return [tuple(pieces) for _, pieces in groupby(envelopes_of(header), lambda each: each.name)]


def _stands(part: PartPieces, was: PartPieces) -> bool:
    """Whether a part is where it was."""
    return len(part) == len(was) > 0 and all(
        one.solid.reach == other.solid.reach and np.array_equal(one.solid.middle, other.solid.middle)
        for one, other in zip(part, was, strict=True)
    )


def _gaps_of_part(
    header: Header, parts: Sequence[PartPieces], number: int, around: Sequence[tuple[ChassisItem, Obstacle]]
) -> Iterator[Gap]:
    """All gaps of a part, including those to parts after it in the list."""
    part = parts[number]
    keeps_off = [
        (item, obstacle) for item, obstacle in around if not (part[0].on_head and item.free_for(part[0].flange) > 0)
    ]  # the flange is seated on the items that its tubes may start on
    for item, obstacle in keeps_off:
        found = _nearest(part, required_of(item, part[0].on_head), obstacle)
        if found is not None:
            yield found
    yield from least_of(gap for piece in part for gap in _tube_gaps(header, piece))
    yield from _to_others(header, part, [other for group in parts[number + 1 :] for other in group])


def required_of(item: ChassisItem, on_head: bool) -> ChassisItem:
    """The item as a part is measured against it: plates on heads may stand edge to edge."""
    beside = on_head and isinstance(item.shape, OtherPlate) and item.shape.on_head
    return replace(item, clearance=0.0) if beside else item


def _to_others(header: Header, part: PartPieces, others: Sequence[Envelope]) -> list[Gap]:
    required = header.draft.limits.between_tubes
    return least_of(gap for piece in part for gap in _collector_gaps(piece, others, required))


def least_of(gaps: Iterable[Gap]) -> list[Gap]:
    """The smallest gap of a part's pieces to each other thing."""
    least: dict[tuple[str, str], Gap] = {}
    for gap in gaps:
        pair = gap.a, gap.b
        if pair not in least or gap.value < least[pair].value:
            least[pair] = gap
    return list(least.values())


def _nearest(part: PartPieces, item: ChassisItem, obstacle: Obstacle) -> Gap | None:
    """The smallest gap of a part's pieces; None if all are certainly farther than the clearance."""
    found = [gap for gap in (item_gap(piece, item, obstacle) for piece in part) if gap is not None]
    return min(found, key=lambda gap: gap.value, default=None)


def obstacle_of(
    item: ChassisItem, surfaces: Mapping[str, TriangleIndex], round_items: Mapping[str, list[Body]]
) -> Obstacle:
    """The form in which an item is measured: a plane, triangles, or round bodies."""
    if isinstance(item.shape, Plane):
        return item.shape
    return surfaces[item.name] if item.name in surfaces else round_items[item.name]


def item_gap(part: Envelope, item: ChassisItem, obstacle: Obstacle) -> Gap | None:
    """The gap of a part to an item; None if it is certainly larger than the clearance."""
    inside = False
    if isinstance(obstacle, Plane):
        found = gap_to_plane(part.solid, obstacle)
    elif isinstance(obstacle, TriangleIndex):
        inside = _is_on_wrong_side(part, item, obstacle)
        away = float(distance_to_index(part.solid.middle[None], obstacle)[0])
        if not inside and away >= part.solid.reach + item.clearance:
            return None
        # `away` is measured to the middle, so it is an upper bound of the gap: all nearer triangles are in this ball
        rows = near_point(obstacle, part.solid.middle, part.solid.reach + away + ROUNDING)
        found = gap_to_triangles(part.solid, obstacle.triangles(rows))
        inside = inside and found.value > 0.0
    else:
        near = [body for body in obstacle if lowest_gap(part.solid, body) < item.clearance]
        if not near:
            return None
        found = min((gap_to_body(part.solid, body) for body in near), key=lambda each: each.value)
    return part_gap(part, item.name, item.clearance, found, inside)


def part_gap(part: Envelope, other: str, required: float, gap: ConvexGap, inside: bool) -> Gap:
    """A gap as found, for a part that may be wholly on the wrong side."""
    value = -gap.value if inside else gap.value
    return Gap(part.name, other, required, value, (vec(gap.mine), vec(gap.theirs)), inside=inside)


def _is_on_wrong_side(part: Envelope, item: ChassisItem, mesh: TriangleIndex) -> bool:
    """Whether the middle of a part is inside what it must avoid, or outside its enclosure."""
    if item.role == "surface":
        return False
    middle = part.solid.middle
    low, high = mesh.bounds
    boxed = bool(((middle >= low) & (middle <= high)).all())
    around = np.abs(winding_numbers(mesh, middle[None])) if boxed else np.zeros(1)
    return bool(is_wrong_side(item.role, mesh.closed, around).all())


def lowest_gap(solid: Convex, body: Body) -> float:
    """A lower bound of the gap to a body, by the ball round the solid."""
    return float(distance_to_body(body, solid.middle[None])[0][0]) - solid.reach


def _tube_gaps(header: Header, part: Envelope) -> Iterator[Gap]:
    """A part keeps its distance from tubes that go elsewhere, and must not cross the tubes beside it."""
    for run, line in header.tubes:
        if run.name in part.joined:
            continue
        required = 0.0 if run.name in part.beside else header.draft.limits.between_tubes
        near = [body for body in run_bodies(run, line) if lowest_gap(part.solid, body) < required]
        if near:
            yield part_gap(part, run.name, required, nearest_of_solid(part.solid, near), False)


def _collector_gaps(part: Envelope, others: Sequence[Envelope], required: float) -> Iterator[Gap]:
    """The gaps to parts of other collectors, and between parts that are mounted on tubes.

    Such parts keep the distance that tubes keep; parts joined to the same tube must not cross elsewhere.
    """
    for other in others:
        beside = part.on_head and other.on_head  # plates on heads may stand edge to edge
        least = 0.0 if beside or set(part.joined) & set(other.joined) else required
        far = math.dist(part.solid.middle, other.solid.middle) - part.solid.reach - other.solid.reach >= least
        if far or (part.collector == other.collector and part.collector):
            continue
        if other.shape is not None:
            yield part_gap(part, other.name, least, gap_to_frustum(part.solid, other.shape), False)
        elif part.shape is not None:
            yield part_gap(other, part.name, least, gap_to_frustum(other.solid, part.shape), False)
        else:
            yield part_gap(part, other.name, least, gap_to_convex(part.solid, other.solid), False)
