"""What a header is made of, as tables of plain figures: one table a kind of part, lengths in mm, angles in degrees."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Any

from headergen.geometry.curves.centreline import cut_out, frame_on
from headergen.geometry.frames import add, cross, dot, point_in, scaled
from headergen.geometry.merge.design import possible_merge
from headergen.geometry.merge.measures import PLUG_DEPTH, SPIKE_DEPTH, Merge, middle_closed, spike_point, with_seams
from headergen.geometry.plate.flange import (
    Hole,
    hole_outline,
    is_square,
    plate_of,
    seated_from,
    transition_lead,
    tube_from,
)
from headergen.geometry.plate.outline import Outline, grown, is_circle, port_outline
from headergen.geometry.transition.rulings import matched
from headergen.model import Arc, Boss, Centreline, Collector, Frame, Header, OutletRing, Port, Run, Vec
from headergen.outputs.cad_script.literal import axis
from headergen.parts.fittings import Seat, boss_seat
from headergen.parts.outlet_end import end_frame, end_profile
from headergen.parts.tabs import TabSeat, tab_outline, tab_seats

Figures = dict[str, Any]
SHORTEST = 1e-6  # mm; a shorter step is no edge to the kernel


@dataclass(frozen=True)
class Tables:
    """Name of a part → its figures, by kind; `merges` by the collector's name. `left_out`: what cannot be said."""

    tubes: dict[str, Figures] = field(default_factory=dict)
    plates: dict[str, Figures] = field(default_factory=dict)
    transitions: dict[str, Figures] = field(default_factory=dict)
    merges: dict[str, Figures] = field(default_factory=dict)
    collectors: dict[str, Figures] = field(default_factory=dict)
    spikes: dict[str, Figures] = field(default_factory=dict)
    outlet_ends: dict[str, Figures] = field(default_factory=dict)
    bosses: dict[str, Figures] = field(default_factory=dict)
    tabs: dict[str, Figures] = field(default_factory=dict)
    left_out: tuple[str, ...] = ()


def tables_of(header: Header, made: Collection[str]) -> Tables:
    """The figures of the parts named in `made`; those of a kind that has no figures here are `left_out`."""
    draft = header.draft
    merges = {each.name: merge for each in draft.collectors if (merge := possible_merge(draft.tube, each)) is not None}
    with_merge = [(each, merges[each.name]) for each in draft.collectors if each.name in merges]
    makers = _makers(header, with_merge)
    found = {
        kind: {name: figures() for name, figures in table.items() if name in made} for kind, table in makers.items()
    }
    said = {name for table in found.values() for name in table}
    used = {each["merge"] for kind in ("collectors", "spikes") for each in found[kind].values()}
    missing = [name for name in made if name not in said]
    missing += [f"hole for {name}" for name in makers["bosses"] if name not in made]
    return Tables(**found, merges={c.name: _merge(c, m) for c, m in with_merge if c.name in used}, left_out=(*missing,))


def _makers(
    header: Header, with_merge: Sequence[tuple[Collector, Merge]]
) -> dict[str, dict[str, Callable[[], Figures]]]:
    """By kind, the name of each part that a header may have and a call for its figures, which not every part has."""
    ports = [run.port for run in header.primaries if run.port.transition]
    seats = [(boss, seat) for boss in header.draft.bosses if (seat := boss_seat(header, boss)) is not None]
    tabs = [tab for collector, _ in with_merge for tab in tab_seats(header, collector)]
    return {
        "plates": {"flange": partial(_plate, header)},
        "tubes": {run.name: partial(_tube, header, run, line) for run, line in header.tubes},
        "transitions": {f"transition {port.number}": partial(_transition, header, port) for port in ports},
        "collectors": {f"collector {c.name}": partial(_of_merge, c) for c, _ in with_merge},
        "spikes": {f"spike {c.name}": partial(_spike, c, m) for c, m in with_merge},
        "outlet_ends": {_end_name(c): partial(_outlet_end, c, m) for c, m in with_merge if c.end is not None},
        "bosses": {boss.part: partial(_boss, boss, seat) for boss, seat in seats},
        "tabs": {tab.name: partial(_tab, tab) for tab in tabs},
    }


def _of_merge(collector: Collector) -> Figures:
    return {"merge": collector.name}


def _frame(frame: Frame) -> tuple[Any, ...]:
    return frame.origin, axis(frame.x), axis(frame.z)


def _path(line: Centreline) -> Figures:
    """Straights and bends from where the tube begins; the rotation of each bend counts from the plane before it."""
    segments = [each for each in line.segments if each.length > SHORTEST]
    first, steps = segments[0], list[tuple[Any, ...]]()
    carried = first.normal
    for segment in segments:
        if isinstance(segment, Arc):
            turn = math.atan2(dot(cross(carried, segment.normal), segment.tangent), dot(carried, segment.normal))
            steps.append(("bend", math.degrees(segment.angle), segment.radius, math.degrees(turn)))
        else:
            steps.append(("straight", segment.length))
        carried = frame_on(segment, segment.length)[2]
    return {"start": first.start, "way": axis(first.tangent), "zero": axis(first.normal), "steps": steps}


def _tube(header: Header, run: Run, line: Centreline) -> Figures:
    begins = tube_from(header.draft.flange, run.port, run.tube) if run.is_primary else 0.0
    size = {"outside": run.tube.outside_diameter, "wall": run.tube.wall}
    return {**size, **_path(cut_out(line, begins, line.length))}


def _outline(outline: Outline) -> list[tuple[float, ...]]:
    """A start, then the end of each edge, that of an arc after a place in its middle; closed to the digit."""
    ends = [*(edge.start for edge in outline[1:]), outline[0].start]
    steps = [end if edge.centre is None else (*edge.at(0.5), *end) for edge, end in zip(outline, ends, strict=True)]
    return [outline[0].start, *steps]


def _round(outline: Outline) -> tuple[float, float, float]:
    assert outline[0].centre is not None
    return (*outline[0].centre, 2 * outline[0].radius)


def _plate(header: Header) -> Figures:
    flange, tube = header.draft.flange, header.draft.tube
    plate = plate_of(flange, tube)
    leaning = [port for port in flange.ports if not is_square(flange, port)]
    apart = {f"port {port.number}" for port in leaning}
    holes: list[Hole] = [hole for hole in plate.holes if hole.what not in apart]
    return {
        "frame": _frame(flange.frame),
        "thickness": plate.thickness,
        "outline": _outline(plate.outline),
        "round_holes": [_round(hole.outline) for hole in holes if is_circle(hole.outline)],
        "holes": [_outline(hole.outline) for hole in holes if not is_circle(hole.outline)],
        "leaning_ports": [
            {"frame": _frame(port.frame), "outline": _outline(hole_outline(flange, port, tube))} for port in leaning
        ],
    }


def _transition(header: Header, port: Port) -> Figures:
    flange, tube = header.draft.flange, header.draft.tube
    opening = port_outline(port.shape)
    start = point_in(port.frame, (0.0, 0.0, seated_from(flange, port, tube)))
    return {
        "frame": (start, axis(port.frame.x), axis(port.frame.z)),
        "outside": tube.outside_diameter,
        "wall": tube.wall,
        "lead": transition_lead(flange, port),
        "length": port.transition,
        "inner_outline": _outline(matched(opening, tube.radius)[0]),
        "outer_outline": _outline(matched(grown(opening, tube.wall), tube.radius)[0]),
    }


def _turned(frame: Frame, angle: float) -> tuple[Any, ...]:
    x: Vec = add(scaled(frame.x, math.cos(angle)), frame.y, math.sin(angle))
    return frame.origin, axis(x), axis(frame.z)


def _merge(collector: Collector, merge: Merge) -> Figures:
    drawn = with_seams(merge)
    return {
        "frame": _turned(collector.frame, drawn.turn),
        "count": drawn.count,
        "half_angle": math.degrees(drawn.half_angle),
        "ring": drawn.ring,
        "outside": 2 * drawn.outer,
        "bore": 2 * drawn.inner,
        "mouth": drawn.mouth,
        "mitre": drawn.mitre,
        "cut": drawn.cut,
        "cone_end": drawn.cone_end,
        "end": drawn.end,
        "outlet_outside": 2 * drawn.outlet_outer,
        "outlet_bore": 2 * drawn.outlet_inner,
    }


def _spike(collector: Collector, merge: Merge) -> Figures:
    drawn = with_seams(merge)
    meet = middle_closed(drawn)
    tip = min(drawn.cut, meet)
    return {
        "merge": collector.name,
        "start": drawn.mitre if drawn.is_welded else max(drawn.mitre, tip - SPIKE_DEPTH),
        "tip": tip,
        "point": 0.0 if meet <= drawn.cut else spike_point(drawn),
        "between_ends": PLUG_DEPTH if drawn.is_welded else 0.0,
    }


def _end_name(collector: Collector) -> str:
    return f"outlet {'ring' if isinstance(collector.end, OutletRing) else 'bell'} {collector.name}"


def _outlet_end(collector: Collector, merge: Merge) -> Figures:
    end, holes = collector.end, []
    assert end is not None
    if isinstance(end, OutletRing):
        angles = [end.turn + 2 * math.pi * k / end.bolts for k in range(end.bolts)]
        reach = end.bolt_circle / 2
        holes = [(reach * math.cos(a), reach * math.sin(a), end.hole) for a in angles]
    section = list(end_profile(end, merge))
    return {"frame": _frame(end_frame(collector, merge)), "half_section": section, "round_holes": holes}


def _boss(boss: Boss, seat: Seat) -> Figures:
    return {
        "host": f"collector {boss.host}" if boss.on_outlet else boss.host,
        "frame": (seat.place, axis(seat.out), axis(seat.along)),
        "tube_outside": 2 * seat.radius,
        "outside": boss.outside_diameter,
        "height": boss.height,
        "hole": boss.hole,
    }


def _tab(seat: TabSeat) -> Figures:
    outline, (spot, radius) = tab_outline(seat)
    return {
        "frame": _frame(seat.frame),
        "thickness": seat.tabs.thickness,
        "outline": _outline(outline),
        "round_hole": (*spot, 2 * radius),
        "tube_outside": 2 * seat.radius,
        "tube": _path(seat.line),
    }
