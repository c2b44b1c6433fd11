"""The parts beside the tubes as simple envelopes: flange, slip sleeves, merge, outlet, tabs, and their gaps.

No kernel is needed to know that a merge reaches into an engine mount. The flange and tabs are plates without their
holes, a sleeve and an outlet are cylinders. A merge is several: for each bore the straight tube, the leaning one, and a
frustum from there to the outlet, so that the hollows between its lobes stay free.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from headergen.geometry.curves.body import Body, distance_to_body, tube_body
from headergen.geometry.distance.convex import Convex, Frustum, frustum_solid
from headergen.geometry.distance.distance_convex import (
    ConvexGap,
    gap_to_body,
    gap_to_frustum,
    gap_to_plane,
    gap_to_triangles,
)
from headergen.geometry.distance.extruded import extruded_solid
from headergen.geometry.frames import add, frame_from_normal, norm, scaled, subtract, unit, vec
from headergen.geometry.merge.design import possible_merge, sleeve_radii
from headergen.geometry.merge.measures import Merge, with_seams
from headergen.geometry.mesh.index import TriangleIndex, distance_to_index, near_point
from headergen.geometry.mesh.winding import INSIDE, OUTSIDE, winding_numbers
from headergen.geometry.plate.flange import plate_of
from headergen.model import Bore, ChassisItem, Collector, Draft, Frame, Gap, Header, Plane
from headergen.parts.outlet_end import end_reach
from headergen.parts.tabs import tab_plate, tab_seats

SAME_WIDTH = 1e-6  # mm of radius that need no merge
ROUNDING = 1e-6  # mm

Obstacle = TriangleIndex | Plane | list[Body]


@dataclass(frozen=True, eq=False)
class Envelope:
    """A part, or a piece of it under the same name, as the simple solid that holds it.

    Parts of a collector are frusta, but for tabs, which stand on `host`; the flange has no collector.
    """

    name: str
    solid: Convex
    collector: str = ""
    shape: Frustum | None = None
    host: str | None = None


Part = Sequence[Envelope]  # the pieces of one


def envelopes(draft: Draft) -> Iterator[Envelope]:
    """Every part of a draft beside its tubes, as far as the spec says it."""
    plate = plate_of(draft.flange, draft.tube)
    yield Envelope("flange", extruded_solid(plate.outline, draft.flange.frame, plate.thickness))
    for collector in draft.collectors:
        for name, shape in _collector_parts(draft, collector):
            yield Envelope(f"{name} of collector {collector.name}", frustum_solid(shape), collector.name, shape)


def tab_envelopes(header: Header) -> Iterator[Envelope]:
    """The tabs on slip joints."""
    for collector in header.draft.collectors:
        for seat in tab_seats(header, collector):
            yield Envelope(seat.name, extruded_solid(*tab_plate(seat)), collector.name, host=seat.host)


def _collector_parts(draft: Draft, collector: Collector) -> Iterator[tuple[str, Frustum]]:
    """Sleeves from the mouth to the collector plane; from there the merge to the outlet, and the outlet."""
    merge = possible_merge(draft.tube, collector)
    around = sleeve_radii(draft.tube, collector)[0] if merge is None else with_seams(merge).outer
    if collector.slip > 0:
        for bore in collector.bores:
            mouth = _shifted(bore.frame, -collector.slip)
            yield f"slip sleeve of bore {bore.number}", Frustum(mouth, around, around, collector.slip)
    if collector.half_angle is None or collector.outlet is None:
        return
    narrow = collector.outlet / 2
    if merge is not None:
        length = merge.cone_end
        yield from (("merge", piece) for bore in collector.bores for piece in _merge_pieces(merge, collector, bore))
    else:
        wide, length = _plain_cone(collector, around)
        if length > SAME_WIDTH:
            yield "merge", Frustum(collector.frame, wide, narrow, length)
    if collector.outlet_length > 0:
        yield "outlet", Frustum(_shifted(collector.frame, length), narrow, narrow, collector.outlet_length)
    if collector.end is not None and merge is not None:
        start, end, wide = end_reach(collector.end, merge)
        yield "outlet end", Frustum(_shifted(collector.frame, merge.end + start), wide, wide, end - start)


def _plain_cone(collector: Collector, around: float) -> tuple[float, float]:
    """Where no merge can be made: radius at the collector plane and length of a cone round all bores."""
    assert collector.half_angle is not None and collector.outlet is not None
    wide = max(math.dist(bore.frame.origin, collector.frame.origin) for bore in collector.bores) + around
    return wide, abs(wide - collector.outlet / 2) / math.tan(collector.half_angle)


def _merge_pieces(merge: Merge, collector: Collector, bore: Bore) -> Iterator[Frustum]:
    """For one bore: its straight tube to the mitre, its leaning one to the cut, and what leads on to the outlet.

    The last holds every straight line from the bore's lobe at the cut to its part of the outlet: a right frustum about
    the line between their middles, from as far back as the leaning disc at the cut reaches.
    """
    drawn, axis = with_seams(merge), collector.frame.z
    half, radius = drawn.half_angle, drawn.outer
    turned = radius * math.tan(half / 2)  # from a mitre's middle to its crest, along the tube
    yield Frustum(bore.frame, radius, radius, drawn.mitre + turned)
    mitre = add(bore.frame.origin, axis, drawn.mitre)
    inward = unit(subtract(collector.frame.origin, bore.frame.origin))
    leaning = add(scaled(axis, math.cos(half)), inward, math.sin(half))
    back = frame_from_normal(add(mitre, leaning, -turned), leaning)
    yield Frustum(back, radius, radius, turned + (drawn.cut - drawn.mitre) / math.cos(half) + radius * math.tan(half))
    start = add(add(collector.frame.origin, axis, drawn.cut), inward, -drawn.cut_ring)
    way = subtract(add(collector.frame.origin, axis, drawn.cone_end), start)
    wide, narrow, length = radius / math.cos(half), drawn.outlet_outer, norm(way)
    lean = drawn.cut_ring / length  # sine of the angle between that line and the axis
    slope = (narrow - wide) / length
    low = wide * lean  # what the disc at the cut reaches back along the line
    more = max(wide, narrow) * slope**2 / 2  # discs that lean by u want r·(√(1 − u²) − 1 + slope·u) ≤ r·slope²/2 more
    frame = frame_from_normal(add(start, unit(way), -low), way)
    yield Frustum(frame, wide - slope * low + more, narrow + more, low + length)


def _shifted(frame: Frame, along: float) -> Frame:
    return replace(frame, origin=add(frame.origin, frame.z, along))


def part_gaps(
    header: Header, surfaces: Mapping[str, TriangleIndex], round_items: Mapping[str, list[Body]]
) -> Iterator[Gap]:
    """The gap of every envelope to every chassis item that may be too near, and to other collectors and their tubes.

    What a ball round the part shows to be farther than its clearance is left out: there may be dozens of parts.
    `surfaces` by item name, boxes included; `round_items` the bodies of cylinders, lines and other headers.
    """
    draft = header.draft
    around = [(item, obstacle_of(item, surfaces, round_items)) for item in draft.chassis]
    parts = [
        tuple(pieces) for _, pieces in groupby((*envelopes(draft), *tab_envelopes(header)), lambda each: each.name)
    ]
    for number, part in enumerate(parts):
        keeps_off = [
            (item, obstacle) for item, obstacle in around if part[0].collector or item.free_from_flange == 0
        ]  # what the tubes may start on, the flange stands on
        for item, obstacle in keeps_off:
            found = _nearest(part, item, obstacle)
            if found is not None:
                yield found
        yield from least_of(gap for piece in part for gap in _tube_gaps(header, piece))
        others = [other for group in parts[number + 1 :] for other in group]
        yield from least_of(gap for piece in part for gap in _collector_gaps(piece, others, draft.limits.between_tubes))


def least_of(gaps: Iterable[Gap]) -> list[Gap]:
    """The least gap of a part's pieces to each other thing."""
    least: dict[str, Gap] = {}
    for gap in gaps:
        if gap.b not in least or gap.value < least[gap.b].value:
            least[gap.b] = gap
    return list(least.values())


def _nearest(part: Part, item: ChassisItem, obstacle: Obstacle) -> Gap | None:
    """The least gap of a part's pieces; None where all are surely farther than the clearance."""
    found = [gap for gap in (item_gap(piece, item, obstacle) for piece in part) if gap is not None]
    return min(found, key=lambda gap: gap.value, default=None)


def obstacle_of(
    item: ChassisItem, surfaces: Mapping[str, TriangleIndex], round_items: Mapping[str, list[Body]]
) -> Obstacle:
    """What an item is measured as: a plane, triangles, or round bodies."""
    if isinstance(item.shape, Plane):
        return item.shape
    return surfaces[item.name] if item.name in surfaces else round_items[item.name]


def item_gap(part: Envelope, item: ChassisItem, obstacle: Obstacle) -> Gap | None:
    """None where the item is surely farther than its clearance."""
    inside = False
    if isinstance(obstacle, Plane):
        found = gap_to_plane(part.solid, obstacle)
    elif isinstance(obstacle, TriangleIndex):
        inside = _is_on_wrong_side(part, item, obstacle)
        away = float(distance_to_index(part.solid.middle[None], obstacle)[0])
        if not inside and away >= part.solid.reach + item.clearance:
            return None
        # the gap is not over `away`, which is to the middle: what is nearer than that lies in this ball
        rows = near_point(obstacle, part.solid.middle, part.solid.reach + away + ROUNDING)
        found = gap_to_triangles(part.solid, obstacle.triangles(rows))
        inside = inside and found.value > 0.0
    else:
        near = [body for body in obstacle if lowest_gap(part.solid, body) < item.clearance]
        if not near:
            return None
        found = min((gap_to_body(part.solid, body) for body in near), key=lambda each: each.value)
    return part_gap(part, item.name, item.clearance, found, inside)


def part_gap(part: Envelope, other: str, required: float, found: ConvexGap, inside: bool) -> Gap:
    """A gap as found, of a part that may lie wholly on the wrong side."""
    value = -found.value if inside else found.value
    return Gap(part.name, other, required, value, (vec(found.mine), vec(found.theirs)), inside=inside)


def _is_on_wrong_side(part: Envelope, item: ChassisItem, mesh: TriangleIndex) -> bool:
    """Whether the middle of a part is inside what it must avoid, or outside what must hold it."""
    if item.role == "surface":
        return False
    middle = part.solid.middle
    low, high = mesh.bounds
    boxed = bool(((middle >= low) & (middle <= high)).all())
    around = abs(float(winding_numbers(mesh, middle[None])[0])) if boxed else 0.0
    return around > INSIDE if item.role == "obstacle" else mesh.closed and around < OUTSIDE


def lowest_gap(solid: Convex, body: Body) -> float:
    """What the gap to a body is not below, by the ball round the solid."""
    return float(distance_to_body(body, solid.middle[None])[0][0]) - solid.reach


def _tube_gaps(header: Header, part: Envelope) -> Iterator[Gap]:
    """A collector keeps off the tubes that go elsewhere, its tabs cross no tube; primaries leave from the flange."""
    for run, line in header.tubes:
        is_own = part.collector in (run.end.collector, run.source) if part.collector else run.is_primary
        if run.name == part.host or (is_own and part.host is None):
            continue
        body, required = tube_body(line, run.tube.radius), 0.0 if is_own else header.draft.limits.between_tubes
        if lowest_gap(part.solid, body) < required:
            yield part_gap(part, run.name, required, gap_to_body(part.solid, body), False)


def _collector_gaps(part: Envelope, others: Sequence[Envelope], required: float) -> Iterator[Gap]:
    """Parts of two collectors keep off each other as their tubes do."""
    for other in others:
        far = math.dist(part.solid.middle, other.solid.middle) - part.solid.reach - other.solid.reach >= required
        if part.collector and other.collector != part.collector and other.shape is not None and not far:
            yield part_gap(part, other.name, required, gap_to_frustum(part.solid, other.shape), False)
