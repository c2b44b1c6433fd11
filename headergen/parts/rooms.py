"""The room that sensors and tools need, as cylinders."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from headergen.geometry.distance.convex import Frustum
from headergen.geometry.frames import add, frame_from_normal, point_in, scaled
from headergen.model import ChassisItem, Flange, Header, OutletRing, Vec
from headergen.parts.boss import boss_seat
from headergen.parts.collector import merge_seats
from headergen.parts.outlet_end import end_envelope_name, ring_bolts
from headergen.parts.outlet_plate import Mouth, mouths, plate_envelope_name

# largest hole, mm → outside diameter of a socket for a bolt through it (M6, M8, M10, M12): common practice
SOCKETS = ((7.0, 15.0), (9.5, 18.5), (11.5, 24.0), (14.0, 27.0))
SOCKET_LENGTH = 75.0  # mm
SENSOR_ROOM = (32.0, 95.0)  # mm: a socket on its hexagon of 22 mm, and its length with the lead on; common practice


@dataclass(frozen=True)
class Room:
    """A cylinder that must stay clear; `what` says what it is for, in shop words.

    `on_head`: it is for something seated on what tubes start on, which does not count as in its way: on what the tubes
    of the flange called `flange` start on, or of any flange if that is None. `collector`: it turns with the ring on
    that one's outlet.
    """

    what: str
    shape: Frustum
    host: str = ""  # the part it is on, which does not count as in its way
    on_head: bool = False
    flange: str | None = None
    collector: str = ""

    def stands_on(self, item: ChassisItem) -> bool:
        """Whether the thing it is for is seated on this item."""
        free = item.free_from_flange if self.flange is None else item.free_for(self.flange)
        return self.on_head and free > 0


def rooms(header: Header) -> Iterator[Room]:
    """The tools on flange bolts and plugs, and the sensors in their bosses."""
    draft = header.draft
    for flange in draft.flanges:
        yield from _sockets(flange)
    for collector, merge in merge_seats(header):
        if isinstance(collector.end, OutletRing):
            back = scaled(collector.frame.z, -1.0)
            for number, start in enumerate(ring_bolts(collector, merge), 1):
                what = f"socket on outlet bolt {number} of {collector.name}"
                room = _cylinder(start, back, _socket(collector.end.hole), SOCKET_LENGTH)
                yield Room(what, room, host=end_envelope_name(collector.name), collector=collector.name)
    for mouth in mouths(header):
        yield from _outlet_sockets(mouth)
    for plug in draft.plugs:
        yield Room(f"tool on {plug.name}", _cylinder(plug.seat, plug.axis, plug.diameter, plug.length), on_head=True)
    for boss in draft.bosses:
        seat = boss_seat(header, boss) if boss.sensor else None
        if seat is not None:
            top = add(seat.place, seat.out, seat.radius + boss.height)
            yield Room(f"sensor in {boss.name}", _cylinder(top, seat.out, *SENSOR_ROOM), host=boss.host)


def _sockets(flange: Flange) -> Iterator[Room]:
    for number, bolt in enumerate(flange.bolts, 1):
        diameter, length = flange.tool or (_socket(bolt.hole), SOCKET_LENGTH)
        start = point_in(flange.frame, (*bolt.at, flange.finished))
        what = f"socket on bolt {number}{f' of {flange.part}' if flange.name else ''}"
        room = _cylinder(start, flange.frame.z, diameter, length)
        yield Room(what, room, host=flange.part, on_head=True, flange=flange.name)


def _outlet_sockets(mouth: Mouth) -> Iterator[Room]:
    """On the back of an outlet's plate, the side away from what it is bolted to."""
    flange, name = mouth.plate.flange, mouth.collector.name
    for number, bolt in enumerate(flange.bolts, 1):
        start = point_in(flange.frame, (*bolt.at, flange.finished))
        room = _cylinder(start, flange.frame.z, _socket(bolt.hole), SOCKET_LENGTH)
        yield Room(f"socket on outlet bolt {number} of {name}", room, host=plate_envelope_name(mouth.collector))


def _socket(hole: float) -> float:
    return next((diameter for largest, diameter in SOCKETS if hole <= largest), 2.0 * hole)


def _cylinder(start: Vec, along: Vec, diameter: float, length: float) -> Frustum:
    return Frustum(frame_from_normal(start, along), diameter / 2, diameter / 2, length)
