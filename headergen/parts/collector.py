"""Collectors: sleeves, merge and outlet, and the spikes in their merges."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from headergen.geometry.distance.convex import Frustum, frustum_solid
from headergen.geometry.frames import add, frame_from_normal, norm, scaled, subtract, unit
from headergen.geometry.merge.design import has_merge, possible_merge, sleeve_radii
from headergen.geometry.merge.measures import Merge, has_spike_room, with_seams
from headergen.model import Bore, Collector, Draft, Frame, Header
from headergen.parts.kind import Envelope, PartKind, Seated

SAME_WIDTH = 1e-6  # mm of radius below which no merge is needed


@dataclass(frozen=True)
class MergeSeat:
    """A collector with its merge; None if none is possible."""

    collector: Collector
    merge: Merge | None


def merge_seats(header: Header) -> Iterator[tuple[Collector, Merge]]:
    """The collectors that have a merge, with it."""
    for collector in header.draft.collectors:
        merge = possible_merge(header.draft.tube, collector)
        if merge is not None:
            yield collector, merge


def collector_part(collector: str) -> str:
    """The name of a collector's own part."""
    return f"collector {collector}"


def called(collector: Collector) -> str:
    """A collector, or the place where a run ends, in the names of its envelopes."""
    return f"run {collector.name}" if collector.mouth else collector_part(collector.name)


def _seats(header: Header) -> Iterator[Seated]:
    for collector in header.draft.collectors:
        if has_merge(collector):
            merge = possible_merge(header.draft.tube, collector)
            why_not = "no merge is possible" if merge is None else ""
            seat = MergeSeat(collector, merge)
            yield Seated(COLLECTOR, collector_part(collector.name), seat, collector.name, why_not)


def _spikes(header: Header) -> Iterator[Seated]:
    for collector, merge in merge_seats(header):
        if collector.spike and has_spike_room(merge):
            yield Seated(SPIKE, f"spike {collector.name}", MergeSeat(collector, merge), collector.name)


def _envelopes(header: Header) -> Iterator[Envelope]:
    """Sleeves and outlets as cylinders, and a merge by its bores, so that the hollows between its lobes stay free."""
    draft = header.draft
    for collector in draft.collectors:
        merge = possible_merge(draft.tube, collector)
        around = sleeve_radii(draft.tube, collector)[0] if merge is None else with_seams(merge).outer
        for piece, shape in _sleeves(collector, around):
            yield replace(collector_envelope(draft, collector, piece, shape), is_sleeve=True)
        for piece, shape in _merge_and_outlet(collector, merge, around):
            yield collector_envelope(draft, collector, piece, shape)


def collector_envelope(draft: Draft, collector: Collector, piece: str, shape: Frustum) -> Envelope:
    """The envelope of a collector's piece, joined to the runs that end at the collector or start from it."""
    joined = tuple(run.name for run in draft.runs if collector.name in (run.end.collector, run.source))
    name = f"{piece} of {called(collector)}"
    return Envelope(name, frustum_solid(shape), collector.name, shape, joined)


def _sleeves(collector: Collector, around: float) -> Iterator[tuple[str, Frustum]]:
    """From the mouth to the collector plane; a pipe that a tube slides over is inside the tube."""
    for bore in collector.bores if collector.slip > 0 and collector.mouth != "over" else ():
        mouth = shifted(bore.frame, -collector.slip)
        piece = "mouth" if collector.mouth else f"slip sleeve of bore {bore.number}"
        yield piece, Frustum(mouth, around, around, collector.slip)


def _merge_and_outlet(collector: Collector, merge: Merge | None, around: float) -> Iterator[tuple[str, Frustum]]:
    """From the collector plane downstream."""
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
        yield "outlet", Frustum(shifted(collector.frame, length), narrow, narrow, collector.outlet_length)


def _plain_cone(collector: Collector, around: float) -> tuple[float, float]:
    """If no merge can be made: the radius at the collector plane and the length of a cone round all bores."""
    assert collector.half_angle is not None and collector.outlet is not None
    wide = max(math.dist(bore.frame.origin, collector.frame.origin) for bore in collector.bores) + around
    return wide, abs(wide - collector.outlet / 2) / math.tan(collector.half_angle)


def _merge_pieces(merge: Merge, collector: Collector, bore: Bore) -> Iterator[Frustum]:
    """For one bore: the straight tube to the mitre, the leaning tube to the cut, and the cone's part to the outlet.

    The last contains every straight line from the bore's lobe at the cut to its part of the outlet. It is a right
    frustum about the line between their centres, and begins as far back as the leaning disc at the cut reaches.
    """
    drawn, axis = with_seams(merge), collector.frame.z
    half, radius = drawn.half_angle, drawn.outer
    turned = radius * math.tan(half / 2)  # from the middle of a mitre to its crest, along the tube
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
    low = wide * lean  # how far the disc at the cut reaches back along the line
    more = max(wide, narrow) * slope**2 / 2  # discs that lean by u need r·(√(1 − u²) − 1 + slope·u) ≤ r·slope²/2 more
    frame = frame_from_normal(add(start, unit(way), -low), way)
    yield Frustum(frame, wide - slope * low + more, narrow + more, low + length)


def shifted(frame: Frame, along: float) -> Frame:
    return replace(frame, origin=add(frame.origin, frame.z, along))


COLLECTOR = PartKind("collector", "merge", _seats, _envelopes)
SPIKE = PartKind("spike", "spike", _spikes)
