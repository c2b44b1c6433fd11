"""Collectors: sleeves, merge and outlet, and the spikes in their merges."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from headergen.geometry.distance.convex import Frustum, frustum_solid
from headergen.geometry.frames import add, cross, frame_from_normal, norm, point_in, scaled, subtract, unit
from headergen.geometry.merge.design import AnyMerge, bore_radii, has_merge, possible_merge
from headergen.geometry.merge.measures import Merge, has_spike_room, with_seams
from headergen.geometry.merge.uneven import UnevenMerge, has_room, turning_point
from headergen.model import Bore, Collector, Draft, Frame, Header, Vec
from headergen.parts.kind import Envelope, PartKind, Seated

SAME_WIDTH = 1e-6  # mm of radius below which no merge is needed


@dataclass(frozen=True)
class MergeSeat:
    """A collector with its merge; None if none is possible."""

    collector: Collector
    merge: AnyMerge | None


def merge_seats(header: Header) -> Iterator[tuple[Collector, AnyMerge]]:
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
    return collector.bores[0].run if collector.mouth else collector_part(collector.name)


def _seats(header: Header) -> Iterator[Seated]:
    for collector in header.draft.collectors:
        if has_merge(collector):
            merge = possible_merge(header.draft.tube, collector)
            infeasibility = "no merge is possible" if merge is None else ""
            seat = MergeSeat(collector, merge)
            yield Seated(COLLECTOR, collector_part(collector.name), seat, collector.name, infeasibility)


def _spikes(header: Header) -> Iterator[Seated]:
    for collector, merge in merge_seats(header):
        if collector.spike and spike_has_room(merge):
            yield Seated(SPIKE, f"spike {collector.name}", MergeSeat(collector, merge), collector.name)


def spike_has_room(merge: AnyMerge) -> bool:
    """Whether a merge leaves an opening in the middle that a spike fills."""
    return has_room(merge) if isinstance(merge, UnevenMerge) else has_spike_room(merge)


def _envelopes(header: Header) -> Iterator[Envelope]:
    """Sleeves and outlets as cylinders, and a merge by its bores, so that the hollows between its lobes stay free."""
    draft = header.draft
    for collector in draft.collectors:
        merge = possible_merge(draft.tube, collector)
        around = [bore_radii(draft.tube, collector, bore)[0] for bore in collector.bores]
        if isinstance(merge, Merge):
            around = [with_seams(merge).outer] * len(around)
        for piece, shape in _sleeves(collector, around):
            yield replace(collector_envelope(draft, collector, piece, shape), is_sleeve=True)
        for piece, shape in _merge_and_outlet(collector, merge, max(around)):
            yield collector_envelope(draft, collector, piece, shape)


def collector_envelope(draft: Draft, collector: Collector, piece: str, shape: Frustum) -> Envelope:
    """The envelope of a collector's piece, joined to the runs that end at the collector or start from it."""
    joined = tuple(run.name for run in draft.runs if collector.name in (run.end.collector, run.source))
    name = f"{piece} of {called(collector)}"
    return Envelope(name, frustum_solid(shape), collector.name, shape, joined)


def _sleeves(collector: Collector, around: Sequence[float]) -> Iterator[tuple[str, Frustum]]:
    """From the mouth to the collector plane; a pipe that a tube slides over is inside the tube."""
    has_sleeves = collector.slip > 0 and collector.mouth != "over"
    for bore, radius in zip(collector.bores, around, strict=True) if has_sleeves else ():
        mouth = shifted(bore.frame, -collector.slip)
        piece = "mouth" if collector.mouth else f"slip sleeve of bore {bore.number}"
        yield piece, Frustum(mouth, radius, radius, collector.slip)


def _merge_and_outlet(collector: Collector, merge: AnyMerge | None, around: float) -> Iterator[tuple[str, Frustum]]:
    """From the collector plane downstream."""
    if collector.half_angle is None or collector.outlet is None:
        return
    narrow = collector.outlet / 2
    if merge is not None:
        length = merge.cone_end
        yield from (("merge", piece) for bore in collector.bores for piece in _pieces(merge, collector, bore))
    else:
        wide, length = _plain_cone(collector, around)
        if length > SAME_WIDTH:
            yield "merge", Frustum(collector.frame, wide, narrow, length)
    if collector.outlet_length > 0:
        end = narrow if collector.outlet_to is None else collector.outlet_to / 2
        yield "outlet", Frustum(shifted(collector.frame, length), narrow, end, collector.outlet_length)


def _plain_cone(collector: Collector, around: float) -> tuple[float, float]:
    """If no merge can be made: the radius at the collector plane and the length of a cone round all bores."""
    assert collector.half_angle is not None and collector.outlet is not None
    wide = max(math.dist(bore.frame.origin, collector.frame.origin) for bore in collector.bores) + around
    return wide, abs(wide - collector.outlet / 2) / math.tan(collector.half_angle)


def _pieces(merge: AnyMerge, collector: Collector, bore: Bore) -> Iterator[Frustum]:
    if isinstance(merge, UnevenMerge):
        return _uneven_pieces(merge, collector, bore)
    return _merge_pieces(merge, collector, bore)


def _uneven_pieces(merge: UnevenMerge, collector: Collector, bore: Bore) -> Iterator[Frustum]:
    """As _merge_pieces: the straight tube to its turn, the leaning tube to the cut, and the cone.

    The last is round the line from the tube's middle at the cut to the middle of the outlet, and contains every line
    between the tube's section and the outlet.
    """
    tube = merge.tubes[[each.number for each in collector.bores].index(bore.number)]
    turned, half, frame = tube.outer * math.tan(tube.turn / 2), tube.lean, collector.frame
    if merge.mitre + turned > 0.0:
        yield Frustum(bore.frame, tube.outer, tube.outer, merge.mitre + turned)
    way = direction_in(frame, tube.way)
    turn = point_in(frame, turning_point(merge, tube))
    length = (merge.cut - merge.mitre) / math.cos(half)
    back = frame_from_normal(add(turn, way, -turned), way)
    yield Frustum(back, tube.outer, tube.outer, turned + length + tube.outer * math.tan(half))
    start = add(turn, way, length)
    yield _round_cone(start, point_in(frame, (0.0, 0.0, merge.cone_end)), frame, tube.outer / math.cos(half), merge)


def _round_cone(start: Vec, end: Vec, frame: Frame, wide: float, merge: AnyMerge) -> Frustum:
    """A right frustum round all lines from a disc of radius `wide` about `start` to the outlet about `end`.

    Both are square to the axis of `frame`; it begins as far back as the first disc reaches.
    """
    way, narrow = subtract(end, start), merge.outlet_outer
    length = norm(way)
    lean = norm(cross(way, frame.z)) / length  # sine of the angle between that line and the axis
    slope = (narrow - wide) / length
    low, high = wide * lean, narrow * lean  # how far the discs reach along the line
    more = max(wide, narrow) * slope**2 / 2  # discs that lean by u need r·(√(1 − u²) − 1 + slope·u) ≤ r·slope²/2 more
    low_at = wide - slope * low + more
    return Frustum(
        frame_from_normal(add(start, unit(way), -low), way), low_at, narrow + slope * high + more, low + length + high
    )


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


def direction_in(frame: Frame, local: Vec) -> Vec:
    """A direction given in the axes of a frame."""
    return subtract(point_in(frame, local), frame.origin)


def shifted(frame: Frame, along: float) -> Frame:
    return replace(frame, origin=add(frame.origin, frame.z, along))


COLLECTOR = PartKind("collector", "merge", _seats, _envelopes)
SPIKE = PartKind("spike", "spike", _spikes)
