"""Parts on the end of a collector's outlet: a ring to bolt or clamp, or a bell to slide over the next tube."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from headergen.geometry.distance.convex import Frustum
from headergen.geometry.frames import point_in
from headergen.geometry.merge.measures import Merge
from headergen.model import Collector, Frame, Header, OutletBell, OutletRing, Vec
from headergen.parts.collector import collector_envelope, collector_part, merge_seats, shifted
from headergen.parts.kind import Envelope, PartKind, Seated

FLARE = math.radians(30)  # of a bell's wall where it widens
PIECE = "outlet end"  # the name of either in gaps, ring or bell
TurnedProfile = tuple[tuple[float, float], ...]  # radius, and axial place from the end of the outlet


@dataclass(frozen=True)
class EndSeat:
    """`frame`: at the end of the outlet, z along the gas flow."""

    collector: Collector
    end: OutletRing | OutletBell
    merge: Merge
    frame: Frame


def _seats(header: Header) -> Iterator[Seated]:
    for collector, merge in merge_seats(header):
        end = collector.end
        if end is not None:
            name = f"outlet {'ring' if isinstance(end, OutletRing) else 'bell'} {collector.name}"
            seat = EndSeat(collector, end, merge, end_frame(collector, merge))
            yield Seated(OUTLET_END, name, seat, collector.name)


def _envelopes(header: Header) -> Iterator[Envelope]:
    for collector, merge in merge_seats(header):
        if collector.end is not None:
            start, end, wide = end_reach(collector.end, merge)
            shape = Frustum(shifted(collector.frame, merge.end + start), wide, wide, end - start)
            yield collector_envelope(header.draft, collector, PIECE, shape)


def end_envelope_name(collector: str) -> str:
    return f"{PIECE} of {collector_part(collector)}"


def end_profile(end: OutletRing | OutletBell, merge: Merge) -> TurnedProfile:
    """The half section of an end, counter-clockwise.

    A ring lies round the outlet, flush with its end, with a tapered back; a bell continues the outlet with the same
    wall.
    """
    inner, outer = merge.outlet_inner, merge.outlet_outer
    if isinstance(end, OutletRing):
        wide = end.outside_diameter / 2
        return (outer, -end.thickness), (wide, -rim_of(end, outer)), (wide, 0.0), (outer, 0.0)
    wall, wide = outer - inner, end.inside_diameter / 2
    flare = abs(wide - inner) / math.tan(FLARE)
    last = flare + end.length
    return (inner, 0.0), (outer, 0.0), (wide + wall, flare), (wide + wall, last), (wide, last), (wide, flare)


def rim_of(ring: OutletRing, bore: float) -> float:
    """Thickness of a ring at its rim; `bore` is the radius of the tube in it."""
    return ring.thickness - (ring.outside_diameter / 2 - bore) * math.tan(ring.taper)


def end_frame(collector: Collector, merge: Merge) -> Frame:
    return replace(collector.frame, origin=point_in(collector.frame, (0.0, 0.0, merge.end)))


def end_reach(end: OutletRing | OutletBell, merge: Merge) -> tuple[float, float, float]:
    """The cylinder around an end: its start and end, from the end of the outlet, and its radius."""
    radii, places = zip(*end_profile(end, merge), strict=True)
    return min(places), max(places), max(radii)


def ring_bolts(collector: Collector, merge: Merge) -> tuple[Vec, ...]:
    """Centres of a ring's bolt holes on its back, the side away from the mating part."""
    ring = collector.end
    if not isinstance(ring, OutletRing):
        return ()
    frame, reach = end_frame(collector, merge), ring.bolt_circle / 2
    angles = [ring.turn + 2 * math.pi * k / ring.bolts for k in range(ring.bolts)]
    return tuple(point_in(frame, (reach * math.cos(a), reach * math.sin(a), -ring.thickness)) for a in angles)


OUTLET_END = PartKind("outlet end", "turned", _seats, _envelopes, "machined", is_drawn=True)
