"""Plates across the ends of outlets, and the transitions that lead to their openings.

Such a plate is a flange turned round: its gasket face is where the header ends, and its normal points against the gas.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

from headergen.geometry.distance.convex import Frustum
from headergen.geometry.distance.extruded import extruded_solid
from headergen.geometry.frames import add, cross, point_in, scaled
from headergen.geometry.merge.design import possible_merge
from headergen.geometry.merge.divided import wall_outline, why_undivided
from headergen.geometry.merge.measures import Merge
from headergen.geometry.plate.flange import holes_are_apart, plate_of, transition_lead
from headergen.geometry.plate.outline import points_on, polygon
from headergen.geometry.transition.rulings import widest
from headergen.model import Collector, Draft, Flange, Frame, Header, OutletPlate, Port, PortShape, Tube
from headergen.parts.collector import called, collector_envelope, shifted
from headergen.parts.flange import PlateSeat
from headergen.parts.kind import Envelope, PartKind, Seated
from headergen.parts.outlet import outlet_tubes
from headergen.parts.sheet import Sheet
from headergen.parts.transition import TransitionSeat

SPACING = 1.0  # mm between the places by which a wall's outline is measured
PIECE, LEAD, DIVIDER = "outlet plate", "outlet transition", "outlet divider"


@dataclass(frozen=True)
class Mouth:
    """The plate of a collector's outlet as a flange, and the transition to its opening, if it has one."""

    collector: Collector
    name: str
    plate: PlateSeat
    transition: TransitionSeat | None


def mouths(header: Header) -> Iterator[Mouth]:
    """The outlets that end in a plate."""
    for collector, tube, end in outlet_tubes(header.draft):
        if isinstance(collector.end, OutletPlate):
            yield mouth_of(collector, collector.end, tube, end)


def mouth_of(collector: Collector, plate: OutletPlate, tube: Tube, end: Frame) -> Mouth:
    """`end`: at the end of the outlet's tube, z along the gas."""
    origin = shifted(end, plate_reach(plate)).origin
    x = add(scaled(end.x, math.cos(plate.turn)), end.y, math.sin(plate.turn))
    z = scaled(end.z, -1.0)
    frame = Frame(origin, x, cross(z, x), z)
    flange = _flange(plate, frame)
    seat, lead = None, 0.0
    if plate.transition:
        whole = Port(1, frame, plate.shape, plate.transition)
        lead = transition_lead(flange, whole)
        begins = replace(frame, origin=point_in(frame, (0.0, 0.0, flange.tube_start)))
        seat = TransitionSeat(whole, begins, lead, tube, collector.name)
    return Mouth(collector, f"{PIECE} {collector.name}", PlateSeat(flange, tube), seat)


def plate_reach(plate: OutletPlate) -> float:
    """Length from the end of the outlet's tube to the plate's gasket face; the tube itself may stand in the plate."""
    flange = _flange(plate, Frame((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)))
    return flange.tube_start + plate.transition + transition_lead(flange, flange.ports[0])


def _flange(plate: OutletPlate, frame: Frame) -> Flange:
    """A divided plate has two openings, and its transition stands on it, round both."""
    ports = tuple(
        Port(number, replace(frame, origin=point_in(frame, (at, 0.0, 0.0))), shape, plate.transition)
        for number, (at, shape) in enumerate(openings_of(plate), 1)
    )
    seat: Literal["socket", "butt"] = "butt" if plate.divider else "socket"
    return Flange(frame, plate.thickness, plate.bolts, ports, margin=plate.margin, seat=seat, facing=plate.facing)


def openings_of(plate: OutletPlate) -> tuple[tuple[float, PortShape], ...]:
    """The openings of a plate, each with the place of its centre along the plate's x."""
    if not plate.divider:
        return ((0.0, plate.shape),)
    width, height, corner = plate.shape.size
    half = PortShape("rectangle", ((width - plate.divider) / 2, height, corner))
    away = (width + plate.divider) / 4
    return (-away, half), (away, half)


def _plates(header: Header) -> Iterator[Seated]:
    for mouth in mouths(header):
        apart = holes_are_apart(plate_of(mouth.plate.flange, mouth.plate.tube))
        infeasibility = "" if apart else "its holes run into each other"
        yield Seated(OUTLET_PLATE, mouth.name, mouth.plate, mouth.collector.name, infeasibility)


def _plate_envelopes(header: Header) -> Iterator[Envelope]:
    """The plates, with their holes filled."""
    for mouth in mouths(header):
        flange, draft = mouth.plate.flange, header.draft
        plate = plate_of(flange, mouth.plate.tube)
        solid = extruded_solid(plate.outline, flange.frame, plate.thickness)
        joined = tuple(run.name for run in draft.runs if mouth.collector.name in (run.end.collector, run.source))
        yield Envelope(plate_envelope_name(mouth.collector), solid, mouth.collector.name, None, joined)


def plate_envelope_name(collector: Collector) -> str:
    return f"{PIECE} of {called(collector)}"


def _transitions(header: Header) -> Iterator[Seated]:
    for mouth in mouths(header):
        if mouth.transition is not None:
            yield Seated(OUTLET_TRANSITION, f"{LEAD} {mouth.collector.name}", mouth.transition, mouth.collector.name)


def _transition_envelopes(header: Header) -> Iterator[Envelope]:
    """A frustum: no ruling is farther out than the straight line between the largest distances at its ends."""
    for mouth in mouths(header):
        seat = mouth.transition
        if seat is None:
            continue
        wide = widest(seat.port.shape, seat.tube)
        if seat.lead > 0:
            yield _piece(header, mouth, Frustum(seat.frame, wide, wide, seat.lead))
        start = shifted(seat.frame, seat.lead)
        yield _piece(header, mouth, Frustum(start, wide, seat.tube.radius, seat.port.transition))


def _piece(header: Header, mouth: Mouth, shape: Frustum) -> Envelope:
    return collector_envelope(header.draft, mouth.collector, LEAD, shape)


def _dividers(header: Header) -> Iterator[Seated]:
    for mouth in mouths(header):
        plate = mouth.collector.end
        if isinstance(plate, OutletPlate) and plate.divider and mouth.transition is not None:
            sheet = divider_sheet(plate, mouth.transition, divided_merge(header.draft, mouth.collector, plate))
            yield Seated(OUTLET_DIVIDER, f"{DIVIDER} {mouth.collector.name}", sheet, mouth.collector.name)


def divided_merge(draft: Draft, collector: Collector, plate: OutletPlate) -> Merge | None:
    """The merge through which a wall goes on; None where it ends with the transition."""
    merge = None if collector.mouth else possible_merge(draft.tube, collector)
    return merge if isinstance(merge, Merge) and not why_undivided(merge, wall_turn(plate)) else None


def wall_turn(plate: OutletPlate) -> float:
    """The direction of the wall between two inlets, in radians from x of the collector's plane."""
    return plate.turn + math.pi / 2


def divider_sheet(plate: OutletPlate, seat: TransitionSeat, merge: Merge | None = None) -> Sheet:
    """The wall between two inlets, through the transition: from the plate's back to the end of the outlet.

    It is in the plane through the axis and square to the plate's x. There the transition's inside runs straight from
    the rectangle's edge to the outlet's bore. The wall stops short of it by as much as that curves in its thickness. In
    a `merge` it goes on through the outlet and the cone to where the tubes part, between their insides.
    """
    half, bore = plate.shape.size[1] / 2, seat.tube.radius - seat.tube.wall
    sink = plate.divider / 2 / min(half, bore)
    far, end = bore * math.sqrt(1.0 - sink**2), seat.lead + seat.port.transition
    side = [(0.0, half), *([(seat.lead, half)] if seat.lead > 0.0 else []), (end, far)]
    outline = polygon([*((x, -y) for x, y in side), *reversed(side)])
    if merge is not None:
        beyond = [(end + merge.end - at, -y) for at, y in wall_outline(merge, plate.divider)]
        outline = polygon([*((x, -y) for x, y in side[:-1]), *beyond, *reversed(side[:-1])])
    at = seat.frame
    frame = Frame(at.origin, at.z, at.y, scaled(at.x, -1.0))
    return Sheet(outline, (), frame, plate.divider, (), flat=outline)


def _divider_welds(header: Header) -> Iterator[float]:
    """Along both edges of each, which are along the gas."""
    for part in _dividers(header):
        along = points_on(part.seat.outline, SPACING)[:, 0]
        yield 2 * float(along.max() - along.min())


OUTLET_PLATE = PartKind("outlet plate", "plate", _plates, _plate_envelopes, "machined", is_drawn=True)
OUTLET_TRANSITION = PartKind("outlet transition", "transition", _transitions, _transition_envelopes, is_drawn=True)
OUTLET_DIVIDER = PartKind("outlet divider", "sheet", _dividers, is_drawn=True, welds=_divider_welds)
