"""The gaps of secondaries: to the chassis, to the primaries and to each other, to collectors that are not their own."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from headergen.checks.envelopes import Envelope, envelopes, least_of, lowest_gap, part_gap
from headergen.geometry.between import bodies_to_bodies, body_to_plane
from headergen.geometry.body import Body, points_along, tube_body
from headergen.geometry.centreline import cut_out
from headergen.geometry.convex_gaps import gap_to_body
from headergen.geometry.cut_ends import off_cuts
from headergen.geometry.index import TriangleIndex, body_to_index
from headergen.geometry.secondary import secondary_line
from headergen.geometry.swallowed import beyond, deepest
from headergen.geometry.winding import INSIDE, OUTSIDE, winding_numbers
from headergen.model import PRESSED, ChassisItem, Header, PartGap, Plane, Secondary, Vec

NEAR = 50.0  # mm of clearance to spare over which a gap is not told

Tube = tuple[Secondary, Body]


def secondary_gaps(
    header: Header, surfaces: Mapping[str, TriangleIndex], round_items: Mapping[str, list[Body]]
) -> Iterator[PartGap]:
    """Every gap of a secondary that leaves no more than NEAR to spare; `surfaces` and `round_items` as in part_gaps."""
    if not header.secondaries:
        return
    tubes = [(each, tube_body(secondary_line(each), each.tube.radius)) for each in header.secondaries]
    found = [gap for tube in tubes for gap in _of_surfaces(header, tube, surfaces)]
    found += _measured(list(_pairs(header, tubes, round_items)))
    found += [gap for tube in tubes for gap in _of_envelopes(header, tube)]
    yield from (gap for gap in found if gap.value < gap.required + NEAR)


@dataclass(frozen=True, eq=False)
class _Pair:
    """A secondary and another round body. `may_touch`: only crossing counts. `cut_from`: of parts, the whole tubes."""

    names: tuple[str, str]
    bodies: tuple[Body, Body]
    required: float
    may_touch: bool = False
    cut_from: tuple[Body, Body] | None = None


def _pairs(header: Header, tubes: list[Tube], round_items: Mapping[str, list[Body]]) -> Iterator[_Pair]:
    """With round chassis items, with primaries, and with each other."""
    draft = header.draft
    primaries = [(f"primary {line.primary}", tube_body(line, draft.tube.radius)) for line in header.centrelines]
    for number, (secondary, body) in enumerate(tubes):
        for item in draft.chassis:
            for other in round_items.get(item.name, ()):
                yield _Pair((secondary.name, item.name), (body, other), item.clearance)
        for name, other in primaries:
            yield _Pair((secondary.name, name), (body, other), draft.limits.between_tubes)
        for other_tube in tubes[number + 1 :]:
            yield from _of_two(header, (secondary, body), other_tube)


def _of_two(header: Header, one: Tube, other: Tube) -> Iterator[_Pair]:
    """Two secondaries; toward a collector that they share they may close up, and are then told if they cross."""
    limits, (first, body), (second, its_body) = header.draft.limits, one, other
    names, shared = (first.name, second.name), first.bore.collector == second.bore.collector
    yield _Pair(names, (body, its_body), 0.0 if shared else limits.between_tubes, may_touch=shared)
    lines = [secondary_line(each) for each in (first, second)]
    if shared and min(line.length for line in lines) > limits.together:
        apart = [
            tube_body(cut_out(line, 0.0, line.length - limits.together), each.tube.radius)
            for line, each in zip(lines, (first, second), strict=True)
        ]
        yield _Pair(names, (apart[0], apart[1]), limits.between_tubes, cut_from=(body, its_body))


def _measured(pairs: list[_Pair]) -> list[PartGap]:
    """All in one search; of an item of several bodies the least."""
    least: dict[tuple[str, str, bool], PartGap] = {}
    for pair, nearest in zip(pairs, bodies_to_bodies([pair.bodies for pair in pairs]), strict=True):
        found, _ = nearest if pair.cut_from is None else off_cuts(pair.bodies, pair.cut_from, nearest)
        points = _vec(found.skin), _vec(found.point)
        gap, key = PartGap(*pair.names, pair.required, found.value, points), (*pair.names, pair.may_touch)
        if (key not in least or gap.value < least[key].value) and not (pair.may_touch and gap.value >= -PRESSED):
            least[key] = gap
    return list(least.values())


def _of_surfaces(header: Header, tube: Tube, surfaces: Mapping[str, TriangleIndex]) -> Iterator[PartGap]:
    """To planes, and to what is measured as triangles."""
    secondary, body = tube
    for item in header.draft.chassis:
        if isinstance(item.shape, Plane):
            nearest = body_to_plane(body, item.shape)
        elif item.name in surfaces:
            nearest = body_to_index(body, surfaces[item.name])
        else:
            continue
        inside = False
        if item.name in surfaces and item.role != "surface":
            surface = surfaces[item.name]
            inside = nearest.value > 0.0 and _is_on_wrong_side(body, item, surface)
            if inside or (nearest.value < 0.0 and surface.closed):
                deep = deepest(body, surface, beyond(surface, item.role))
                nearest = deep or replace(nearest, value=-abs(nearest.value))
        points = _vec(nearest.skin), _vec(nearest.point)
        yield PartGap(secondary.name, item.name, item.clearance, nearest.value, points, inside)


def _of_envelopes(header: Header, tube: Tube) -> list[PartGap]:
    """To the parts of collectors that it neither comes from nor goes into, and to the flange."""
    (secondary, body), required = tube, header.draft.limits.between_tubes
    parts = [part for part in envelopes(header.draft) if part.collector not in _own(secondary)]
    near = [part for part in parts if lowest_gap(part.solid, body) < required + NEAR]
    return least_of(_envelope_gap(secondary, body, part, required) for part in near)


def _own(secondary: Secondary) -> tuple[str, str]:
    return secondary.source, secondary.bore.collector


def _is_on_wrong_side(body: Body, item: ChassisItem, surface: TriangleIndex) -> bool:
    """Of a tube that does not cross the surface, so that its middle speaks for all of it."""
    around = abs(float(winding_numbers(surface, points_along(body, np.array([sum(body.span) / 2])))[0]))
    if item.role == "enclosure":
        return surface.closed and around < OUTSIDE
    return item.role == "obstacle" and around > INSIDE


def _envelope_gap(secondary: Secondary, body: Body, part: Envelope, required: float) -> PartGap:
    found = part_gap(part, secondary.name, required, gap_to_body(part.solid, body), False)
    return replace(found, part=secondary.name, other=part.name, points=(found.points[1], found.points[0]))


def _vec(point: np.ndarray) -> Vec:
    x, y, z = point.tolist()
    return (x, y, z)
