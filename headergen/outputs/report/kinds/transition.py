"""Transitions in the report, from the shape of a port to the round tube."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Literal

from pydantic import Field

from headergen.geometry.plate.flange import transition_lead
from headergen.geometry.transition.development import patterns
from headergen.geometry.transition.rulings import rounds, section_areas, stretch
from headergen.model import Header, Port, Tube
from headergen.outputs.report.kinds.made import PartRecord
from headergen.outputs.report.records.base import Mm, Ordinal, Percent, PositiveMm, PositiveMm2, Record
from headergen.outputs.report.sections import Bullets, Section, Table
from headergen.parts.outlet_plate import LEAD, mouths
from headergen.parts.transition import transition_name
from headergen.words.numbers import area, both


class TransitionAreaRecord(Record):
    """A section of the gas in a transition."""

    at_mm: Mm = Field(description="along it")
    area_mm2: PositiveMm2 = Field(description="of the gas")


class TransitionRecord(Record):
    """A piece between the tube and the shape of a port, or of the opening in an outlet's plate."""

    port: Ordinal | None = Field(description="the port it begins at")
    collector: str | None = Field(description="the collector whose outlet it is on")
    straight_mm: Mm = Field(ge=0, description="how far it keeps the shape of the port, inside the plate")
    length_mm: PositiveMm = Field(description="from there to the tube")
    round_port_mm: PositiveMm = Field(description="round the port at the middle of the wall")
    round_tube_mm: PositiveMm = Field(description="round the tube at the middle of its wall")
    flat_pattern_mm2: PositiveMm2 = Field(
        description="area of its flat pattern, without the band that is straight in the plate"
    )
    stretch_percent: Percent = Field(
        description="by which the tube is stretched to the port's perimeter; negative: shrunk"
    )
    made_of: Literal["tube", "sheet"] = Field(
        description="tube: swaged from it; sheet: outside what the tube can be formed to"
    )
    areas: tuple[TransitionAreaRecord, ...] = Field(description="from the shape of the port to the bore of the tube")


def transition_records(header: Header) -> tuple[TransitionRecord, ...]:
    draft = header.draft
    of_ports = (
        _record(port, transition_lead(draft.flange_of(port), port), draft.tube_at(port), draft.limits.forming)
        for port in draft.ports
        if port.transition
    )
    on_outlets = (
        _record(seat.port, seat.lead, seat.tube, draft.limits.forming, mouth.collector.name)
        for mouth in mouths(header)
        if (seat := mouth.transition) is not None
    )
    return (*of_ports, *on_outlets)


def _record(port: Port, lead: float, tube: Tube, forming: float, collector: str | None = None) -> TransitionRecord:
    change = stretch(port.shape, tube)
    round_port, round_tube = rounds(port.shape, tube)
    return TransitionRecord(
        port=port.number if collector is None else None,
        collector=collector,
        straight_mm=lead,
        length_mm=port.transition,
        round_port_mm=round_port,
        round_tube_mm=round_tube,
        flat_pattern_mm2=sum(half.count * half.area for half in patterns(port.shape, tube, port.transition)),
        stretch_percent=100 * change,
        made_of="tube" if abs(change) <= forming else "sheet",
        areas=tuple(
            TransitionAreaRecord(at_mm=share * port.transition, area_mm2=each)
            for share, each in section_areas(port.shape, tube).tolist()
        ),
    )


def transitions_section(
    transitions: Sequence[TransitionRecord], parts: Sequence[PartRecord], units: str
) -> Iterator[Section]:
    """Their sizes, and how each is formed; `parts` say where there is a flat pattern."""
    rows = []
    for each in transitions:
        way = {"tube": "swage from tube", "sheet": "make of sheet"}[each.made_of]
        areas = [one.area_mm2 for one in each.areas]
        shown = (area(units, one) for one in (areas[0], min(areas), areas[-1]))
        rows.append((_where(each), both(units, each.length_mm), f"{each.stretch_percent:+.1f} %, {way}", *shown))
    if rows:
        heads = (
            "Port or outlet",
            "Length",
            "Round the opening",
            "Area of the opening",
            "Smallest area",
            "Area of the tube",
        )
        yield Section("Transitions", (Table(heads, rows), _how_formed(transitions, parts, units)))


def _where(each: TransitionRecord) -> str:
    return f"port {each.port}" if each.collector is None else f"outlet {each.collector}"


def _part(each: TransitionRecord) -> str:
    return transition_name(each.port) if each.port is not None else f"{LEAD} {each.collector}"


def _how_formed(transitions: Sequence[TransitionRecord], parts: Sequence[PartRecord], units: str) -> Bullets:
    """How each kind of transition is formed, and where its flat pattern is."""
    alike = dict[str, list[str]]()
    drawn = {part.name: [file for file in part.files if file.endswith(".dxf")] for part in parts}
    for each in transitions:
        around, tube = (f"{both(units, length)} round" for length in (each.round_port_mm, each.round_tube_mm))
        pattern = " ".join(drawn.get(_part(each), ()))
        if each.made_of == "tube":
            said = f"swage the end of a tube from {tube} to {around} (middle of the wall) over a plug of its shape"
            said += f"; or, of sheet, cut its flat pattern {pattern}" if pattern else ""
        else:
            said = f"from {around} to {tube} (middle of the wall), outside what the tube can be formed to; of sheet"
            said += f": cut its flat pattern {pattern}" if pattern else ""
        alike.setdefault(said, []).append(_where(each))
    return Bullets(tuple(f"{', '.join(called)}: {said}." for said, called in alike.items()))
