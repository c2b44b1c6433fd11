"""The flange plates on which primaries start."""

from __future__ import annotations

from collections.abc import Iterator

from headergen.geometry.distance.extruded import extruded_solid
from headergen.geometry.plate.flange import holes_are_apart, plate_of
from headergen.model import Header, primary_name
from headergen.parts.kind import Envelope, PartKind, Seated


def _seats(header: Header) -> Iterator[Seated]:
    for flange in header.draft.flanges:
        apart = holes_are_apart(plate_of(flange, header.draft.tube))
        why_not = "" if apart else "its holes run into each other"
        yield Seated(FLANGE, flange.part, flange, why_not=why_not, flange=flange.name)


def _envelopes(header: Header) -> Iterator[Envelope]:
    """The plates, with their holes filled."""
    for flange in header.draft.flanges:
        plate = plate_of(flange, header.draft.tube)
        solid = extruded_solid(plate.outline, flange.frame, plate.thickness)
        own = tuple(primary_name(port.number) for port in flange.ports)
        yield Envelope(flange.part, solid, joined=own, on_head=True, flange=flange.name)


FLANGE = PartKind("flange", "plate", _seats, _envelopes, "machined", on_head=True, is_drawn=True)
