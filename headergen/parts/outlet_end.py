"""Parts turned for the end of an outlet: a ring to bolt or clamp, a bell for the next tube, a ball flange."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from headergen.geometry.distance.convex import Frustum
from headergen.geometry.frames import point_in
from headergen.geometry.merge.design import AnyMerge
from headergen.model import Collector, Frame, Header, OutletBall, OutletBell, OutletRing, Vec
from headergen.parts.collector import collector_envelope, collector_part, merge_seats, shifted
from headergen.parts.kind import Envelope, PartKind, Seated
from headergen.parts.outlet import end_frame, outlet_slope

FLARE = math.radians(30)  # of a bell's wall where it widens
PIECE = "outlet end"  # the name of all of them in gaps
NAMES = {OutletRing: "ring", OutletBell: "bell", OutletBall: "ball"}
Turned = OutletRing | OutletBell | OutletBall
# radius, and axial place from the end of the outlet; where an arc leads there, a point of the arc goes before
TurnedProfile = tuple[tuple[float, ...], ...]


@dataclass(frozen=True)
class EndSeat:
    """`frame`: at the end of the outlet, z along the gas flow."""

    collector: Collector
    end: Turned
    merge: AnyMerge
    frame: Frame


def _seats(header: Header) -> Iterator[Seated]:
    for collector, merge in merge_seats(header):
        end = collector.end
        if isinstance(end, Turned):
            name = f"outlet {NAMES[type(end)]} {collector.name}"
            seat = EndSeat(collector, end, merge, end_frame(collector, merge))
            yield Seated(OUTLET_END, name, seat, collector.name)


def _envelopes(header: Header) -> Iterator[Envelope]:
    for collector, merge in merge_seats(header):
        if isinstance(collector.end, Turned):
            start, end, wide = end_reach(collector.end, merge)
            shape = Frustum(shifted(collector.frame, merge.end + start), wide, wide, end - start)
            yield collector_envelope(header.draft, collector, PIECE, shape)


def end_envelope_name(collector: str) -> str:
    return f"{PIECE} of {collector_part(collector)}"


def end_profile(end: Turned, merge: AnyMerge) -> TurnedProfile:
    """The half section of an end, counter-clockwise.

    A ring lies round the outlet, flush with its end, with a tapered back; a ball flange does, with the zone of a
    ball outside; a bell continues the outlet with the same wall. Round an outlet that tapers their bore does too.
    """
    inner, outer = merge.end_inner, merge.end_outer
    if isinstance(end, OutletRing):
        wide = end.outside_diameter / 2
        return (
            (outlet_radius(merge, -end.thickness), -end.thickness),
            (wide, -rim_of(end, outer)),
            (wide, 0.0),
            (outer, 0.0),
        )
    if isinstance(end, OutletBall):
        return (
            (outlet_radius(merge, -end.length), -end.length),
            (end.diameter / 2, -end.length),
            _zone(end),
            (outer, 0.0),
        )
    wall, wide = outer - inner, end.inside_diameter / 2
    flare = abs(wide - inner) / math.tan(FLARE)
    last = flare + end.length
    return (inner, 0.0), (outer, 0.0), (wide + wall, flare), (wide + wall, last), (wide, last), (wide, flare)


def outlet_radius(merge: AnyMerge, past: float) -> float:
    """Outside of an outlet `past` mm downstream of its end; negative on the outlet itself."""
    return merge.end_outer + outlet_slope(merge) * past


def _zone(end: OutletBall) -> tuple[float, float, float, float]:
    """The arc of a ball flange from its widest place to the end of the outlet."""
    radius, rise = end.diameter / 2, math.asin(2 * end.length / end.diameter)
    half = rise / 2
    return (radius * math.cos(half), radius * math.sin(half) - end.length, radius * math.cos(rise), 0.0)


def rim_of(ring: OutletRing, bore: float) -> float:
    """Thickness of a ring at its rim; `bore` is the radius of the tube in it."""
    return ring.thickness - (ring.outside_diameter / 2 - bore) * math.tan(ring.taper)


def end_reach(end: Turned, merge: AnyMerge) -> tuple[float, float, float]:
    """The cylinder around an end: its start and end, from the end of the outlet, and its radius."""
    radii, places = zip(*(corner[-2:] for corner in end_profile(end, merge)), strict=True)
    return min(places), max(places), max(radii)


def ring_bolts(collector: Collector, merge: AnyMerge) -> tuple[Vec, ...]:
    """Centres of a ring's bolt holes on its back, the side away from the mating part."""
    ring = collector.end
    if not isinstance(ring, OutletRing):
        return ()
    frame, reach = end_frame(collector, merge), ring.bolt_circle / 2
    angles = [ring.turn + 2 * math.pi * k / ring.bolts for k in range(ring.bolts)]
    return tuple(point_in(frame, (reach * math.cos(a), reach * math.sin(a), -ring.thickness)) for a in angles)


OUTLET_END = PartKind("outlet end", "turned", _seats, _envelopes, "machined", is_drawn=True)
