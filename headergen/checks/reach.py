"""The room that tools and sensors need, and what is nearest to it."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from headergen.checks.envelopes import Obstacle, item_gap, lowest_gap, moved_parts, obstacle_of, part_gap
from headergen.geometry.arrays import Array
from headergen.geometry.curves.body import Body
from headergen.geometry.curves.run import run_bodies
from headergen.geometry.distance.cones import nearest_of_solid
from headergen.geometry.distance.convex import frustum_solid
from headergen.geometry.distance.distance_convex import ConvexGap, gap_to_frustum, gap_to_triangles
from headergen.geometry.frames import axes_matrix
from headergen.geometry.mesh.index import TriangleIndex
from headergen.geometry.plate.flange import seated_from, transition_lead
from headergen.geometry.transition.rulings import skin_triangles
from headergen.model import ChassisItem, Gap, Header, Port, Survey
from headergen.parts.kind import Envelope
from headergen.parts.rooms import Room, rooms
from headergen.parts.table import envelopes_of
from headergen.parts.transition import transition_name

NEAR = 10.0  # mm within which things beside a tool are measured at all


@dataclass(frozen=True, eq=False)
class _Own:
    """The parts of the header that may be in a tool's way: tubes, transitions as triangles, flanges, other parts."""

    bodies: dict[str, tuple[Body, ...]]
    transitions: dict[str, Array]
    parts: tuple[Envelope, ...]
    plates: tuple[Envelope, ...] = ()


def reach_gaps(
    header: Header,
    surfaces: Mapping[str, TriangleIndex],
    round_items: Mapping[str, list[Body]],
    only: Collection[str] | None = None,
) -> Iterator[Gap]:
    """For each tool and sensor, or only those in `only`, the nearest thing, if it is within NEAR.

    The part on which a sensor's boss sits does not count. What tubes may start on is left out only for bolts and plugs
    of the head. The walls of an enclosure count like those of anything else.
    """
    around = [(_in_the_way(item), obstacle_of(item, surfaces, round_items)) for item in header.draft.chassis]
    own = _own_parts(header)
    for room in rooms(header):
        if only is None or room.what in only:
            yield from _nearest([*_to_chassis(room, around), *_to_own(room, own)])


def reach_gaps_again(
    before: Survey,
    header: Header,
    surfaces: Mapping[str, TriangleIndex],
    round_items: Mapping[str, list[Body]],
    changed: Collection[str],
) -> Iterator[Gap]:
    """The same where only the paths of the runs `changed` differ from before.

    The nearest thing to an unmoved room is measured again only if it is one of these runs.
    """
    were, found = {room.what: room for room in rooms(before.header)}, {gap.a: gap for gap in before.reaches}
    moved, anew = moved_parts(before.header, header), set[str]()
    bodies = {run.name: run_bodies(run, line) for run, line in header.with_runs(changed).tubes}
    own = tuple(each for each in envelopes_of(header) if each.name in moved and not each.on_head) if moved else ()
    some, gone = _Own(bodies, {}, own), {*changed, *moved}
    for room in rooms(header):
        nearest = found.get(room.what)
        if were.get(room.what) == room and (nearest is None or nearest.b not in gone):
            known = [] if nearest is None else [nearest]
            yield from _nearest([*known, *_to_own(room, some)])
        else:
            anew.add(room.what)
    if anew:
        yield from reach_gaps(header, surfaces, round_items, anew)


def _nearest(gaps: Sequence[Gap]) -> Iterator[Gap]:
    near = [gap for gap in gaps if gap.value < NEAR]
    if near:
        yield replace(min(near, key=lambda gap: round(gap.value, 6)), required=0.0)


def _solid(room: Room) -> Envelope:
    return Envelope(room.what, frustum_solid(room.shape), shape=room.shape)


def _to_chassis(room: Room, around: Sequence[tuple[ChassisItem, Obstacle]]) -> Iterator[Gap]:
    part = _solid(room)
    for item, obstacle in around:
        gap = None if room.stands_on(item) else item_gap(part, item, obstacle)
        if gap is not None:
            yield gap


def _in_the_way(item: ChassisItem) -> ChassisItem:
    return replace(item, clearance=NEAR, role="surface" if item.role == "enclosure" else item.role)


def _own_parts(header: Header) -> _Own:
    bodies = {run.name: run_bodies(run, line) for run, line in header.tubes}
    skins = {transition_name(port.number): _skin(header, port) for port in header.draft.ports if port.transition}
    parts = envelopes_of(header)
    plates = tuple(each for each in parts if each.on_head)
    return _Own(bodies, skins, tuple(each for each in parts if not each.on_head), plates)


def _skin(header: Header, port: Port) -> Array:
    """(n, 3, 3) the outside of a placed transition, including the part in the plate."""
    flange, tube = header.draft.flange_of(port), header.draft.tube_at(port)
    local = skin_triangles(port.shape, tube, (transition_lead(flange, port), port.transition))
    local[..., 2] += seated_from(flange, port, tube)
    return np.asarray(local @ axes_matrix(port.frame) + np.array(port.frame.origin))


def _to_own(room: Room, own: _Own) -> Iterator[Gap]:
    part, host = _solid(room), room.host
    for name, bodies in own.bodies.items():
        near = [body for body in bodies if name != host and lowest_gap(part.solid, body) < NEAR]
        if near:
            yield part_gap(part, name, 0.0, nearest_of_solid(part.solid, near), False)
    for name, triangles in own.transitions.items():
        middle = triangles.mean(axis=(0, 1))
        reach = float(np.linalg.norm(triangles - middle, axis=2).max())
        if float(np.linalg.norm(middle - part.solid.middle)) < part.solid.reach + reach + NEAR:
            yield part_gap(part, name, 0.0, gap_to_triangles(part.solid, triangles), False)
    plates = own.plates if room.flange is not None else ()  # other flanges, which a socket may stand beside
    for each in (*own.parts, *plates):
        far = float(np.linalg.norm(each.solid.middle - part.solid.middle)) - each.solid.reach - part.solid.reach
        if host not in (each.collector, each.name) and far < NEAR:
            yield part_gap(part, each.name, 0.0, _to_part(part, each), False)


def _to_part(room: Envelope, part: Envelope) -> ConvexGap:
    """The gap from a room, which is a frustum, to another part."""
    if part.shape is not None:
        return gap_to_frustum(room.solid, part.shape)
    assert room.shape is not None
    found = gap_to_frustum(part.solid, room.shape)
    return ConvexGap(found.value, found.theirs, found.mine)
