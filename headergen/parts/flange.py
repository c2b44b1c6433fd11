"""The flange plates on which primaries start."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from headergen.geometry.distance.extruded import extruded_solid
from headergen.geometry.plate.flange import holes_are_apart, plate_of
from headergen.model import Flange, Header, Tube, primary_name
from headergen.parts.kind import Envelope, PartKind, PlateBody, Seated


@dataclass(frozen=True)
class PlateSeat:
    """A plate in its place, and the tube for which its openings are made."""

    flange: Flange
    tube: Tube


def _seats(header: Header) -> Iterator[Seated]:
    for flange in header.draft.flanges:
        apart = holes_are_apart(plate_of(flange, header.draft.tube))
        infeasibility = "" if apart else "its holes run into each other"
        seat = PlateSeat(flange, header.draft.tube)
        yield Seated(FLANGE, flange.part, seat, infeasibility=infeasibility, flange=flange.name)


def _envelopes(header: Header) -> Iterator[Envelope]:
    """The plates, with their holes filled."""
    for flange in header.draft.flanges:
        plate = plate_of(flange, header.draft.tube)
        solid = extruded_solid(plate.outline, flange.frame, plate.thickness)
        own = tuple(primary_name(port.number) for port in flange.ports)
        yield Envelope(flange.part, solid, joined=own, on_head=True, flange=flange.name)


def _plates(header: Header) -> Iterator[PlateBody]:
    for flange in header.draft.flanges:
        plate = plate_of(flange, header.draft.tube)
        yield PlateBody(flange.part, plate.outline, flange.frame, plate.thickness)


FLANGE = PartKind("flange", "plate", _seats, _envelopes, "machined", on_head=True, is_drawn=True, plates=_plates)
