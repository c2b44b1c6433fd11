"""Transitions from the shape of a port to its tube."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from headergen.geometry.frames import point_in
from headergen.geometry.plate.flange import seated_from, transition_lead
from headergen.model import Frame, Header, Port, Tube
from headergen.parts.kind import PartKind, Seated


@dataclass(frozen=True)
class TransitionSeat:
    """`frame`: where it begins, z along the port; `lead`: the length over which it keeps the port's shape.

    `tube`: what it leads to; `label`: what it is called on its pattern, the port's number or the collector's name.
    """

    port: Port
    frame: Frame
    lead: float
    tube: Tube
    label: str


def transition_name(port: int) -> str:
    return f"transition {port}"


def transition_seat(header: Header, port: Port) -> TransitionSeat:
    flange, tube = header.draft.flange_of(port), header.draft.tube_at(port)
    start = point_in(port.frame, (0.0, 0.0, seated_from(flange, port, tube)))
    lead = transition_lead(flange, port)
    return TransitionSeat(port, replace(port.frame, origin=start), lead, tube, f"{port.number}")


def _seats(header: Header) -> Iterator[Seated]:
    for run in header.primaries:
        if run.port.transition:
            seat = transition_seat(header, run.port)
            yield Seated(TRANSITION, transition_name(run.number), seat, flange=run.port.flange)


TRANSITION = PartKind("transition", "transition", _seats, on_head=True, is_drawn=True)
