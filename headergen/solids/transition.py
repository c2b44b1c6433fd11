"""The transition from the shape of a port to its tube, as a ruled solid with the tube's wall."""

from __future__ import annotations

from typing import Any

from headergen.geometry.plate.outline import Outline, grown, port_outline
from headergen.geometry.transition.rulings import matched
from headergen.model import PortShape, Tube
from headergen.parts.kind import Seated
from headergen.parts.transition import TransitionSeat
from headergen.solids.flange import outline_wire
from headergen.solids.making import Making, Shaped
from headergen.solids.shapes import cut, only_solid, ruled


def transition_solid(shape: PortShape, tube: Tube, lengths: tuple[float, float], name: str) -> Any:
    """The port's shape from z = 0 over the first of `lengths` mm, then ruled to the tube's circle over the second.

    Raises SolidError, naming the part, if the kernel makes no single body of it.
    """
    opening = port_outline(shape)
    outside = _filled(grown(opening, tube.wall), tube.radius, lengths)
    inside = _filled(opening, tube.radius - tube.wall, lengths)
    return only_solid(cut(outside, inside), name)


def _filled(outline: Outline, radius: float, lengths: tuple[float, float]) -> Any:
    lead, length = lengths
    edges, arcs = matched(outline, radius)
    start = [outline_wire(edges)] if lead > 0 else []
    return ruled(*start, outline_wire(edges, lead), outline_wire(arcs, lead + length))


def transition_part(part: Seated, making: Making) -> Shaped:
    seat = part.seat
    assert isinstance(seat, TransitionSeat)
    tube, lengths, shape = seat.tube, (seat.lead, seat.port.transition), seat.port.shape
    key = ("transition", shape, tube, *lengths)
    return making.once(key, lambda: transition_solid(shape, tube, lengths, part.name), part.name, (seat.frame, 0.0))
