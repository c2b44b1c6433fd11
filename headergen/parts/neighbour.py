"""A header as an obstacle for another one: round tubes and plates that must not be touched."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from headergen.geometry.curves.centreline import cut_out
from headergen.geometry.curves.stepped import is_stepped, outside_spans
from headergen.geometry.frames import add, dot, point_in, scaled, subtract, unit
from headergen.geometry.merge.design import bore_radii, possible_merge
from headergen.geometry.merge.measures import Merge, with_seams
from headergen.geometry.merge.uneven import UnevenMerge, turning_point
from headergen.geometry.plate.flange import plate_of
from headergen.geometry.plate.outline import points_on
from headergen.geometry.transition.rulings import matched_places, widest
from headergen.model import Bore, Centreline, Collector, Frame, Header, Line, OtherPlate, RoundTube, Run, Vec
from headergen.parts.boss import boss_frustum, boss_seats
from headergen.parts.collector import merge_seats
from headergen.parts.kind import PlateBody
from headergen.parts.outlet_end import Turned, end_reach
from headergen.parts.outlet_plate import Mouth, mouths
from headergen.parts.table import KINDS
from headergen.parts.transition import TransitionSeat, transition_name, transition_seat

SHORTEST = 1e-3  # mm; the shortest tube that is kept
CHORDS = 1.0  # mm between corners along an arc of a plate's edge: under a hundredth of a millimetre off one of 13 mm
ON_LINE = 1e-9  # mm²


def round_tubes(header: Header) -> Iterator[RoundTube]:
    """The runs, the sleeves, leaning tubes and outlet of each collector, what ends outlets, and the bosses.

    In a merge, the leaning tubes are extended to the outlet, and the outlet begins at the cut. Together they cover the
    cone, except for a sliver beside each crest.
    """
    draft = header.draft
    for run, line in header.tubes:
        yield from _of_run(run, line)
    for collector in draft.collectors:
        merge = possible_merge(draft.tube, collector)
        if merge is None and collector.slip > 0 and collector.mouth != "over":
            for bore in collector.bores:
                yield _tube(bore.frame, (-collector.slip, 0.0), 2 * bore_radii(draft.tube, collector, bore)[0])
        elif isinstance(merge, UnevenMerge):
            yield from _of_uneven(collector, merge)
        elif merge is not None:
            yield from _of_merge(collector, with_seams(merge))
    for collector, merge in merge_seats(header):
        if isinstance(collector.end, Turned):
            start, end, wide = end_reach(collector.end, merge)
            yield _tube(collector.frame, (merge.end + start, merge.end + end), 2 * wide)
    for mouth in mouths(header):
        yield from _of_mouth(mouth)
    for boss, seat in boss_seats(header):
        solid = boss_frustum(boss, seat)
        yield _tube(solid.frame, (0.0, solid.length), 2 * solid.start)


def other_plates(header: Header) -> Iterator[tuple[str, OtherPlate]]:
    """The name and shape of each flange, tab, bracket and transition, with holes and slots filled."""
    for kind in KINDS:
        for plate in kind.plates(header):
            yield plate.name, _plate(plate, kind.on_head)
    for run in header.primaries:
        if run.port.transition:
            yield transition_name(run.number), _transition(transition_seat(header, run.port))


def _plate(plate: PlateBody, on_head: bool) -> OtherPlate:
    points = points_on(plate.outline, CHORDS)
    before, after = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    turns = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    corners = points[turns > ON_LINE]  # those along a straight edge are none
    return OtherPlate(plate.frame, tuple((float(x), float(y)) for x, y in corners), plate.thickness, on_head)


def _transition(seat: TransitionSeat) -> OtherPlate:
    """Its outside: the port's shape over its lead, and its own rulings from there to the tube."""
    rings = matched_places(seat.port.shape, seat.tube)
    port, circle = (tuple((float(x), float(y)) for x, y in ring) for ring in rings)
    return OtherPlate(seat.frame, port, max(seat.lead, SHORTEST), True, seat.port.transition, circle)


def _of_run(run: Run, line: Centreline) -> Iterator[RoundTube]:
    """A stepped run as a tube for each of its sizes; a cone as the cylinder round it."""
    if not is_stepped(run):
        yield line, run.tube.outside_diameter
        return
    for span in outside_spans(run):
        yield cut_out(line, span.start, span.end), 2 * max(span.radii)


def _of_mouth(mouth: Mouth) -> Iterator[RoundTube]:
    """The cylinders round an outlet's plate and round its transition."""
    flange, seat = mouth.plate.flange, mouth.transition
    plate = plate_of(flange, mouth.plate.tube)
    reach = float(np.linalg.norm(points_on(plate.outline, 1.0), axis=1).max())
    yield _tube(flange.frame, (0.0, plate.thickness), 2 * reach)
    if seat is not None:
        length = seat.lead + seat.port.transition
        yield _tube(seat.frame, (0.0, length), 2 * widest(seat.port.shape, seat.tube))


def _of_merge(collector: Collector, merge: Merge) -> Iterator[RoundTube]:
    width = 2 * merge.outer
    for bore in collector.bores:
        yield _tube(bore.frame, (merge.mouth, merge.mitre + merge.outer * math.tan(merge.half_angle / 2)), width)
        way = _leaning(collector, merge, bore)
        length = (merge.cone_end - merge.mitre) / math.cos(merge.half_angle)
        yield _straight(add(bore.frame.origin, bore.frame.z, merge.mitre), way, collector.frame, length), width
    yield _tube(collector.frame, (merge.cut, merge.end), 2 * max(merge.outlet_outer, merge.end_outer))


def _of_uneven(collector: Collector, merge: UnevenMerge) -> Iterator[RoundTube]:
    for bore, tube in zip(collector.bores, merge.tubes, strict=True):
        turned = tube.outer * math.tan(tube.turn / 2)
        yield _tube(bore.frame, (merge.mouth, merge.mitre + turned), 2 * tube.outer)
        way = subtract(point_in(collector.frame, tube.way), collector.frame.origin)
        start, length = point_in(collector.frame, turning_point(merge, tube)), merge.cone_end - merge.mitre
        yield _straight(start, way, collector.frame, length / tube.way[2]), 2 * tube.outer
    yield _tube(collector.frame, (merge.cut, merge.end), 2 * max(merge.outlet_outer, merge.end_outer))


def _leaning(collector: Collector, merge: Merge, bore: Bore) -> Vec:
    inward = unit(subtract(collector.frame.origin, bore.frame.origin))
    return add(scaled(collector.frame.z, math.cos(merge.half_angle)), inward, math.sin(merge.half_angle))


def _tube(frame: Frame, span: tuple[float, float], diameter: float) -> RoundTube:
    return _straight(add(frame.origin, frame.z, span[0]), frame.z, frame, span[1] - span[0]), diameter


def _straight(start: Vec, way: Vec, frame: Frame, length: float) -> Centreline:
    """A straight centreline; any zero direction perpendicular to it does, because the tube is round."""
    toward = frame.y if abs(dot(way, frame.y)) < 0.9 else frame.x
    across = add(toward, way, -dot(way, toward))
    return Centreline("", (Line(1, start, way, unit(across), max(length, SHORTEST)),))
