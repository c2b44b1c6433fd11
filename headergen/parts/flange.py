"""The flange plate on which all primaries start."""

from __future__ import annotations

from collections.abc import Iterator

from headergen.geometry.distance.extruded import extruded_solid
from headergen.geometry.plate.flange import holes_are_apart, plate_of
from headergen.model import Header
from headergen.parts.kind import Envelope, PartKind, Seated

NAME = "flange"


def _seats(header: Header) -> Iterator[Seated]:
    flange = header.draft.flange
    apart = holes_are_apart(plate_of(flange, header.draft.tube))
    yield Seated(FLANGE, NAME, flange, why_not="" if apart else "its holes run into each other")


def _envelopes(header: Header) -> Iterator[Envelope]:
    """The plate, with its holes filled."""
    draft = header.draft
    plate = plate_of(draft.flange, draft.tube)
    solid = extruded_solid(plate.outline, draft.flange.frame, plate.thickness)
    yield Envelope(NAME, solid, joined=tuple(run.name for run in draft.primaries), on_head=True)


FLANGE = PartKind("flange", "plate", _seats, _envelopes, "machined", on_head=True, is_drawn=True)
