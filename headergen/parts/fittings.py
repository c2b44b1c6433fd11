"""Where bosses sit, and the room that sensors and tools take, as cylinders."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from headergen.geometry.curves.centreline import frame_at, place_at, segment_starts
from headergen.geometry.distance.convex import Frustum
from headergen.geometry.frames import add, dot, frame_from_normal, norm, point_in, rotated, scaled, unit
from headergen.geometry.merge.design import possible_merge
from headergen.geometry.plate.flange import bare_from
from headergen.model import Bore, Boss, Centreline, Collector, Draft, Header, Line, OutletRing, Vec
from headergen.parts.outlet_end import ring_bolts

UPRIGHT = math.sin(math.radians(2))  # of a tube off the upright under which its clock counts from forward
FORWARD: Vec = (1.0, 0.0, 0.0)  # ISO 8855
# largest hole, mm → outside diameter of a socket for the bolt that goes through it (M6, M8, M10, M12): common practice
SOCKETS = ((7.0, 15.0), (9.5, 18.5), (11.5, 24.0), (14.0, 27.0))
SOCKET_LENGTH = 75.0  # mm
SENSOR_ROOM = (32.0, 95.0)  # mm; its hexagon of 22 mm in a socket, and its length with the lead on; common practice


@dataclass(frozen=True)
class Seat:
    """Where a boss sits: a place on its tube's axis, the ways the tube and the boss point, the tube's outer radius.

    `straight`: how far the tube runs straight and bare from there, to the nearer end, bend or part that is round it.
    """

    place: Vec
    along: Vec
    out: Vec
    radius: float
    straight: float


@dataclass(frozen=True)
class Room:
    """A cylinder that must stay clear: `what` it is for, in shop words.

    `on_head`: what it is for stands on what the tubes start on, which is then not in its way.
    """

    what: str
    shape: Frustum
    host: str = ""  # what it stands on, which is never in its way
    on_head: bool = False


def boss_seat(header: Header, boss: Boss) -> Seat | None:
    """None where what the boss stands on is not there: a merge that cannot be made, or a place beyond a tube's end."""
    if boss.on_outlet:
        return _on_outlet(header.draft, boss)
    found = next((tube for tube in header.tubes if tube[0].name == boss.host), None)
    if found is None:
        return None
    (run, line), flange = found, header.draft.flange
    start = bare_from(flange, run.port, run.tube) if run.is_primary else 0.0
    return _on_line(header.draft, (line, run.tube.radius, (start, line.length - _slip(header.draft, run.end))), boss)


def host_length(header: Header, boss: Boss) -> float | None:
    """How long the tube is that a boss stands on, where `at` counts from; None where there is no such tube."""
    draft = header.draft
    if not boss.on_outlet:
        return next((line.length for line in header.centrelines if line.run == boss.host), None)
    collector = next((each for each in draft.collectors if each.name == boss.host), None)
    merge = _merge_range(draft, collector) if collector is not None else None
    return None if merge is None else merge[1] - merge[0]


def _slip(draft: Draft, bore: Bore) -> float:
    """How deep a tube stands in the sleeve it goes into."""
    return next((each.slip for each in draft.collectors if each.name == bore.collector), 0.0)


def _on_line(draft: Draft, on: tuple[Centreline, float, tuple[float, float]], boss: Boss) -> Seat | None:
    """`on`: the line of a tube, its radius, and from where to where nothing is round it."""
    line, radius, bare = on
    if boss.at > line.length:
        return None
    place, along, _ = frame_at(line, boss.at)
    step, straight = place_at(line, boss.at).step, 0.0
    for segment, start in zip(line.segments, segment_starts(line), strict=False):
        low, high = max(start, bare[0]), min(start + segment.length, bare[1])
        if isinstance(segment, Line) and segment.step == step and low <= boss.at <= high:
            straight = min(boss.at - low, high - boss.at)
    return Seat(place, along, _out(draft, along, boss.clock), radius, straight)


def _on_outlet(draft: Draft, boss: Boss) -> Seat | None:
    collector = next((each for each in draft.collectors if each.name == boss.host), None)
    merge = _merge_range(draft, collector) if collector is not None else None
    if collector is None or merge is None or boss.at > merge[1] - merge[0]:
        return None
    start, end, radius = merge
    along = collector.frame.z
    place = add(collector.frame.origin, along, start + boss.at)
    ring = collector.end.thickness if isinstance(collector.end, OutletRing) else 0.0
    straight = max(min(boss.at, end - ring - start - boss.at), 0.0)
    return Seat(place, along, _out(draft, along, boss.clock), radius, straight)


def _merge_range(draft: Draft, collector: Collector) -> tuple[float, float, float] | None:
    """Where the outlet tube begins and ends, and its radius."""
    merge = possible_merge(draft.tube, collector)
    return None if merge is None else (merge.cone_end, merge.end, merge.outlet_outer)


def _out(draft: Draft, along: Vec, clock: float) -> Vec:
    zero = draft.up
    if norm(add(zero, along, -dot(zero, along))) < UPRIGHT:
        zero = FORWARD
    return rotated(unit(add(zero, along, -dot(zero, along))), along, clock)


def rooms(header: Header) -> Iterator[Room]:
    """The tools on flange bolts and plugs, and the sensors in their bosses."""
    draft = header.draft
    flange = draft.flange
    for number, bolt in enumerate(flange.bolts, 1):
        diameter, length = flange.tool or (_socket(bolt.hole), SOCKET_LENGTH)
        start = point_in(flange.frame, (*bolt.at, flange.finished))
        yield Room(f"socket on bolt {number}", _cylinder(start, flange.frame.z, diameter, length), on_head=True)
    for collector in draft.collectors:
        merge = possible_merge(draft.tube, collector) if isinstance(collector.end, OutletRing) else None
        if merge is not None and isinstance(collector.end, OutletRing):
            back = scaled(collector.frame.z, -1.0)
            for number, start in enumerate(ring_bolts(collector, merge), 1):
                what = f"socket on outlet bolt {number} of {collector.name}"
                room = _cylinder(start, back, _socket(collector.end.hole), SOCKET_LENGTH)
                yield Room(what, room, host=f"outlet end of collector {collector.name}")
    for plug in draft.plugs:
        yield Room(f"tool on {plug.name}", _cylinder(plug.seat, plug.axis, plug.diameter, plug.length), on_head=True)
    for boss in draft.bosses:
        seat = boss_seat(header, boss) if boss.sensor else None
        if seat is not None:
            top = add(seat.place, seat.out, seat.radius + boss.height)
            yield Room(f"sensor in {boss.name}", _cylinder(top, seat.out, *SENSOR_ROOM), host=boss.host)


def _socket(hole: float) -> float:
    return next((diameter for largest, diameter in SOCKETS if hole <= largest), 2.0 * hole)


def _cylinder(start: Vec, along: Vec, diameter: float, length: float) -> Frustum:
    return Frustum(frame_from_normal(start, along), diameter / 2, diameter / 2, length)
