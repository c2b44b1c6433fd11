"""The gaps of secondaries: to the chassis, to the primaries and to each other, to collectors that are not their own."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np

from headergen.checks.envelopes import Envelope, Obstacle, envelopes, least_of, lowest_gap, obstacle_of, part_gap
from headergen.geometry.between import body_to_body, body_to_plane
from headergen.geometry.body import Body, points_along, surface_point, tube_body
from headergen.geometry.centreline import cut_out
from headergen.geometry.convex_gaps import gap_to_body
from headergen.geometry.index import TriangleIndex, body_to_index
from headergen.geometry.secondary import secondary_line
from headergen.geometry.winding import INSIDE, OUTSIDE, winding_numbers
from headergen.model import PRESSED, ChassisItem, Header, PartGap, Plane, Secondary, Vec

NEAR = 50.0  # mm of clearance to spare over which a gap is not told


def secondary_gaps(
    header: Header, surfaces: Mapping[str, TriangleIndex], round_items: Mapping[str, list[Body]]
) -> Iterator[PartGap]:
    """Every gap of a secondary that leaves no more than NEAR to spare; `surfaces` and `round_items` as in part_gaps."""
    draft = header.draft
    around = [(item, obstacle_of(item, surfaces, round_items)) for item in draft.chassis]
    bodies = [(each, tube_body(secondary_line(each), each.tube.radius)) for each in header.secondaries]
    primaries = [(f"primary {line.primary}", tube_body(line, draft.tube.radius)) for line in header.centrelines]
    parts = tuple(envelopes(draft)) if bodies else ()
    required = draft.limits.between_tubes
    for number, (secondary, body) in enumerate(bodies):
        found = [_item_gap(secondary.name, body, item, obstacle) for item, obstacle in around]
        found += [_body_gap(secondary.name, body, name, other, required) for name, other in primaries]
        for other, its_body in bodies[number + 1 :]:
            found += _pair_gaps(header, (secondary, body), (other, its_body))
        near = [part for part in _others(parts, secondary) if lowest_gap(part.solid, body) < required + NEAR]
        found += least_of(_envelope_gap(secondary, body, part, required) for part in near)
        yield from (gap for gap in found if gap.value < gap.required + NEAR)


def _item_gap(name: str, body: Body, item: ChassisItem, obstacle: Obstacle) -> PartGap:
    if isinstance(obstacle, Plane):
        nearest = body_to_plane(body, obstacle)
    elif isinstance(obstacle, TriangleIndex):
        nearest = body_to_index(body, obstacle)
    else:
        nearest = min((body_to_body(body, other)[0] for other in obstacle), key=lambda each: each.value)
    points = _vec(surface_point(body, nearest.at, nearest.point)), _vec(nearest.point)
    gap = PartGap(name, item.name, item.clearance, nearest.value, points)
    if isinstance(obstacle, TriangleIndex) and nearest.value > 0.0 and _is_on_wrong_side(body, item, obstacle):
        return replace(gap, value=-(nearest.value + 2 * body.radius), inside=True)
    return gap


def _is_on_wrong_side(body: Body, item: ChassisItem, surface: TriangleIndex) -> bool:
    """Of a tube that does not cross the surface, so that its middle speaks for all of it."""
    around = abs(float(winding_numbers(surface, points_along(body, np.array([sum(body.span) / 2])))[0]))
    if item.role == "enclosure":
        return surface.closed and around < OUTSIDE
    return item.role == "obstacle" and around > INSIDE


def _body_gap(name: str, body: Body, other: str, its_body: Body, required: float) -> PartGap:
    nearest, _ = body_to_body(body, its_body)
    points = _vec(surface_point(body, nearest.at, nearest.point)), _vec(nearest.point)
    return PartGap(name, other, required, nearest.value, points)


def _pair_gaps(header: Header, one: tuple[Secondary, Body], other: tuple[Secondary, Body]) -> list[PartGap]:
    """Of two secondaries; toward a collector that they share they may close up, and are then told if they cross."""
    limits, (first, body), (second, its_body) = header.draft.limits, one, other
    whole = _body_gap(first.name, body, second.name, its_body, limits.between_tubes)
    if first.bore.collector != second.bore.collector:
        return [whole]
    crossing = [replace(whole, required=0.0)] if whole.value < -PRESSED else []
    lines = [secondary_line(each) for each in (first, second)]
    if min(line.length for line in lines) <= limits.together:
        return crossing
    apart = [
        tube_body(cut_out(line, 0.0, line.length - limits.together), each.tube.radius)
        for line, each in zip(lines, (first, second), strict=True)
    ]
    return [*crossing, _body_gap(first.name, apart[0], second.name, apart[1], limits.between_tubes)]


def _others(parts: tuple[Envelope, ...], secondary: Secondary) -> list[Envelope]:
    """What a secondary neither comes from nor goes into."""
    return [part for part in parts if part.collector not in (secondary.source, secondary.bore.collector)]


def _envelope_gap(secondary: Secondary, body: Body, part: Envelope, required: float) -> PartGap:
    found = part_gap(part, secondary.name, required, gap_to_body(part.solid, body), False)
    return replace(found, part=secondary.name, other=part.name, points=(found.points[1], found.points[0]))


def _vec(point: np.ndarray) -> Vec:
    x, y, z = point.tolist()
    return (x, y, z)
