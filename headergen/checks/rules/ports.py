"""The way from each port into its tube, and from an outlet into its plate: steps, throats and forming."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from headergen.checks.part_findings import Said, length_finding
from headergen.geometry.plate.flange import far_side, is_square, lean, run_from
from headergen.geometry.transition.rulings import farthest, largest_step, section_areas, stretch
from headergen.model import Draft, Header, OutletPlate, Port, PortShape, Run, Straight, Tube, Vec
from headergen.model.finding import Finding, Level
from headergen.parts.outlet_plate import mouths
from headergen.words.say import say_angle, say_length

LARGEST_STEP = 2.0  # mm between the edge of a port and the tube's bore; common practice, no source
SAME_BORE = 0.05  # mm of bore below which a place does not count as narrower


@dataclass(frozen=True)
class _Way:
    """The way between an opening and a tube: `where` is the name of the opening."""

    where: str
    shape: PortShape
    tube: Tube
    transition: float
    point: Vec
    is_outlet: bool = False


def _ways(header: Header) -> Iterator[_Way]:
    """From every port into its tube, and from every outlet that ends in a plate to its opening."""
    for port in header.draft.ports:
        yield _Way(f"port {port.number}", port.shape, header.draft.tube_at(port), port.transition, port.frame.origin)
    for mouth in mouths(header):
        plate, seat = mouth.collector.end, mouth.plate
        assert isinstance(plate, OutletPlate)
        point, name = seat.flange.frame.origin, f"opening of {mouth.name}"
        yield _Way(name, plate.shape, seat.tube, plate.transition, point, is_outlet=True)


def port_step(header: Header) -> Iterator[Finding]:
    units = header.draft.units
    for way in _ways(header):
        step = 0.0 if way.transition or _is_too_wide(way) else largest_step(way.shape, way.tube)
        if step > LARGEST_STEP:
            said = (
                f"is up to {say_length(step, units)} off its tube's bore; without a transition at most "
                f"{say_length(LARGEST_STEP, units)} is allowed"
            )
            yield _of_way(header, way, (step, LARGEST_STEP, said), rule="port-step", level="warning")


def port_wide(header: Header) -> Iterator[Finding]:
    """Without a transition no opening is wider than the outside of its tube."""
    units = header.draft.units
    for way in _ways(header):
        if _is_too_wide(way):
            reach, tube = farthest(way.shape), way.tube.radius
            said = (
                f"is wider than its tube: it reaches {say_length(reach, units)} from its middle, and the outside "
                f"of the tube {say_length(tube, units)}; give it a transition, or choose a wider tube"
            )
            yield _of_way(header, way, (reach, tube, said), rule="port-wide", level="error")


def _is_too_wide(way: _Way) -> bool:
    return not way.transition and farthest(way.shape) > way.tube.radius + SAME_BORE / 2


def port_slope(header: Header) -> Iterator[Finding]:
    """No wall of a transition slopes by more than 45 degrees, inward or outward."""
    units = header.draft.units
    for way in _ways(header):
        step = largest_step(way.shape, way.tube) if way.transition else 0.0
        if step > way.transition:
            said = (
                f"has a transition of {say_length(way.transition, units)} for a step of "
                f"{say_length(step, units)}; it must be at least as long as the step is high"
            )
            yield _of_way(header, way, (way.transition, step, said), rule="port-slope", level="warning")


def port_forming(header: Header) -> Iterator[Finding]:
    limit = header.draft.limits.forming
    for way in _ways(header):
        change = stretch(way.shape, way.tube) if way.transition else 0.0
        if abs(change) > limit:
            done = "stretched" if change > 0 else "shrunk"
            yield Finding(
                rule="port-forming",
                level="warning",
                where=way.where,
                value=round(100 * abs(change), 1),
                limit=round(100 * limit, 1),
                unit="%",
                message=f"The {way.where} has a perimeter outside what the tube can be formed to: formed from "
                f"tube, its transition would be {done} by {100 * abs(change):.1f} %; at most {100 * limit:.1f} % is "
                "allowed; make it of sheet, or choose another tube.",
                point=way.point,
            )


def port_throat(header: Header) -> Iterator[Finding]:
    """The flow area through a transition is constant or grows; one on an outlet narrows no further than its ends."""
    units = header.draft.units
    for way in _ways(header):
        if not way.transition:
            continue
        areas = section_areas(way.shape, way.tube)[:, 1]
        ends = min(areas[0], areas[-1]) if way.is_outlet else areas[0]
        least, open_to = (2 * math.sqrt(area / math.pi) for area in (areas.min(), ends))
        if least < open_to - SAME_BORE:
            narrower = "the narrower of its ends has" if way.is_outlet else "the port has"
            said = (
                f"is throttled by its transition, whose narrowest section has the area of a bore of "
                f"{say_length(least, units)}; {narrower} that of a bore of {say_length(open_to, units)}"
            )
            yield _of_way(header, way, (least, open_to, said), rule="port-throat", level="warning")


def port_room(header: Header) -> Iterator[Finding]:
    """Plate and transition end within the first straight of their primary."""
    draft = header.draft
    for primary, needed in crowded_ports(header):
        straight = _first_straight(primary)
        said = (
            f"has a transition that ends {say_length(needed, draft.units)} from the gasket face, but its primary "
            f"is straight for {say_length(straight, draft.units)} only"
        )
        yield _of_port(draft, primary.port, (straight, needed, said), rule="port-room", level="error")


def port_lean(header: Header) -> Iterator[Finding]:
    """The tube or transition at a leaning port, made with its end sawn square, must close its hole all round."""
    draft = header.draft
    for port in draft.ports:
        flange = draft.flange_of(port)
        if is_square(flange, port):
            continue
        ends, longer = far_side(flange, port, draft.tube)
        if ends > flange.finished + draft.limits.chord_error:
            what, by = ("transition", "") if port.transition else ("tube", ", by the template in the sheets")
            said = (
                f"leans {say_angle(lean(flange, port))}, so that its {what}, made with a square end, leaves the hole "
                f"open on the far side: it begins {say_length(ends, draft.units)} above the face there, and the faced "
                f"plate is {say_length(flange.finished, draft.units)} thick. Saw that end to the lean{by}, "
                f"{say_length(longer, draft.units)} longer on the far side than drawn, or take a thicker plate with a "
                "socket"
            )
            yield _of_port(draft, port, (ends, flange.finished, said), rule="port-lean", level="warning")


def crowded_ports(header: Header) -> Iterator[tuple[Run, float]]:
    """Primaries whose first straight ends before their transition does, and the length at which the transition ends."""
    for primary in header.primaries:
        needed = run_from(header.draft, primary)
        if primary.port.transition and _first_straight(primary) < needed:
            yield primary, needed


def _first_straight(primary: Run) -> float:
    first = primary.steps[0]
    return first.length if isinstance(first, Straight) else 0.0


def _of_way(header: Header, way: _Way, said: Said, *, rule: str, level: Level) -> Finding:
    return length_finding(header.draft, way.where, said, way.point, rule=rule, level=level)


def _of_port(draft: Draft, port: Port, said: Said, *, rule: str, level: Level) -> Finding:
    return length_finding(draft, f"port {port.number}", said, port.frame.origin, rule=rule, level=level)
