"""The way from each port into its tube: no step without a transition, no throat, no more forming than steel takes."""

from __future__ import annotations

import math
from collections.abc import Iterator

from headergen.checks.part_findings import Said, length_finding
from headergen.geometry.plate.flange import far_side, is_square, lean, tube_from
from headergen.geometry.transition.rulings import farthest, largest_step, section_areas, stretch
from headergen.model import Draft, Header, Port, Run, Straight
from headergen.model.finding import Finding, Level
from headergen.words.say import say_angle, say_length

LARGEST_STEP = 2.0  # mm between the edge of a port and the tube's bore; common practice, no source
SAME_BORE = 0.05  # mm of bore below which a place does not count as narrower


def port_step(header: Header) -> Iterator[Finding]:
    draft = header.draft
    for port in draft.ports:
        step = 0.0 if port.transition or _is_too_wide(port, draft) else largest_step(port.shape, draft.tube)
        if step > LARGEST_STEP:
            said = (
                f"is up to {say_length(step, draft.units)} off its tube's bore; without a transition at most "
                f"{say_length(LARGEST_STEP, draft.units)} is allowed"
            )
            yield _of_port(draft, port, (step, LARGEST_STEP, said), rule="port-step", level="warning")


def port_wide(header: Header) -> Iterator[Finding]:
    """Without a transition no port is wider than the outside of its tube."""
    draft = header.draft
    for port in draft.ports:
        if _is_too_wide(port, draft):
            reach, tube = farthest(port.shape), draft.tube.radius
            said = (
                f"is wider than its tube: it reaches {say_length(reach, draft.units)} from its middle, and the outside "
                f"of the tube {say_length(tube, draft.units)}; give it a transition, or choose a wider tube"
            )
            yield _of_port(draft, port, (reach, tube, said), rule="port-wide", level="error")


def _is_too_wide(port: Port, draft: Draft) -> bool:
    return not port.transition and farthest(port.shape) > draft.tube.radius + SAME_BORE / 2


def port_slope(header: Header) -> Iterator[Finding]:
    """No wall of a transition slopes by more than 45 degrees, inward or outward."""
    draft = header.draft
    for port in draft.ports:
        step = largest_step(port.shape, draft.tube) if port.transition else 0.0
        if step > port.transition:
            said = (
                f"has a transition of {say_length(port.transition, draft.units)} for a step of "
                f"{say_length(step, draft.units)}; it must be at least as long as the step is high"
            )
            yield _of_port(draft, port, (port.transition, step, said), rule="port-slope", level="warning")


def port_forming(header: Header) -> Iterator[Finding]:
    draft, limit = header.draft, header.draft.limits.forming
    for port in draft.ports:
        change = stretch(port.shape, draft.tube) if port.transition else 0.0
        if abs(change) > limit:
            way = "stretched" if change > 0 else "shrunk"
            yield Finding(
                rule="port-forming",
                level="warning",
                where=f"port {port.number}",
                value=round(100 * abs(change), 1),
                limit=round(100 * limit, 1),
                unit="%",
                message=f"The port {port.number} has a perimeter outside what the tube can be formed to: formed from "
                f"tube, its transition would be {way} by {100 * abs(change):.1f} %; at most {100 * limit:.1f} % is "
                "allowed; make it of sheet, or choose another tube.",
                point=port.frame.origin,
            )


def port_throat(header: Header) -> Iterator[Finding]:
    """The flow area through a transition is constant or grows."""
    draft = header.draft
    for port in draft.ports:
        if not port.transition:
            continue
        areas = section_areas(port.shape, draft.tube)[:, 1]
        least, opening = (2 * math.sqrt(area / math.pi) for area in (areas.min(), areas[0]))
        if least < opening - SAME_BORE:
            said = (
                f"is throttled by its transition, whose narrowest section has the area of a bore of "
                f"{say_length(least, draft.units)}; the port has that of a bore of {say_length(opening, draft.units)}"
            )
            yield _of_port(draft, port, (least, opening, said), rule="port-throat", level="warning")


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
            what = "transition" if port.transition else "tube"
            said = (
                f"leans {say_angle(lean(flange, port))}, so that its {what}, made with a square end, leaves the hole "
                f"open on the far side: it begins {say_length(ends, draft.units)} above the face there, and the faced "
                f"plate is {say_length(flange.finished, draft.units)} thick. Saw that end to the lean, "
                f"{say_length(longer, draft.units)} longer on the far side than drawn, or take a thicker plate with a "
                "socket"
            )
            yield _of_port(draft, port, (ends, flange.finished, said), rule="port-lean", level="warning")


def crowded_ports(header: Header) -> Iterator[tuple[Run, float]]:
    """Primaries whose first straight ends before their transition does, and the length at which the transition ends."""
    for primary in header.primaries:
        needed = tube_from(header.draft.flange_of(primary.port), primary.port, header.draft.tube)
        if primary.port.transition and _first_straight(primary) < needed:
            yield primary, needed


def _first_straight(primary: Run) -> float:
    first = primary.steps[0]
    return first.length if isinstance(first, Straight) else 0.0


def _of_port(draft: Draft, port: Port, said: Said, *, rule: str, level: Level) -> Finding:
    return length_finding(draft, f"port {port.number}", said, port.frame.origin, rule=rule, level=level)
