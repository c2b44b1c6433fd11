"""The figures of each shape of part: lengths in mm, angles in degrees."""

from __future__ import annotations

import math
from typing import Any

from headergen.geometry.curves.centreline import cut_out, frame_on
from headergen.geometry.curves.stepped import WallSpan
from headergen.geometry.frames import add, cross, dot, scaled
from headergen.geometry.merge.measures import (
    PLUG_DEPTH,
    SEAM,
    SPIKE_DEPTH,
    Merge,
    middle_closed,
    spike_point,
    with_seams,
)
from headergen.geometry.merge.uneven import (
    UnevenMerge,
    apart,
    halfway,
    middle_opening,
    mouth_of,
    neighbours,
    turning_point,
)
from headergen.geometry.plate.flange import Hole, hole_outline, is_square, plate_of
from headergen.geometry.plate.outline import Outline, grown, is_circle, port_outline
from headergen.geometry.transition.rulings import matched
from headergen.model import Arc, Centreline, Draft, Frame, OutletRing, Vec
from headergen.outputs.cad_script.literal import axis
from headergen.parts.boss import BossPlace
from headergen.parts.collector import MergeSeat
from headergen.parts.flange import PlateSeat
from headergen.parts.outlet_end import EndSeat, end_profile
from headergen.parts.run import RunSeat
from headergen.parts.sheet import Sheet
from headergen.parts.transition import TransitionSeat

Figures = dict[str, Any]
SHORTEST = 1e-6  # mm; a shorter step is not an edge for the kernel


def _frame(frame: Frame) -> tuple[Any, ...]:
    return frame.origin, axis(frame.x), axis(frame.z)


def _path(line: Centreline) -> Figures:
    """Straights and bends from the start of the tube; the rotation of each bend counts from the plane before it."""
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
    return {"start": first.start, "direction": axis(first.tangent), "rotation_zero": axis(first.normal), "steps": steps}


def tube(_: Draft, seat: RunSeat) -> Figures:
    cuts = {"cut_out": [(each.start, axis(each.way), 2 * each.radius, each.length) for each in seat.cuts]}
    if seat.walls:
        return {"lengths": [_wall(seat, wall) for wall in seat.walls], **(cuts if seat.cuts else {})}
    plain = {"outside": seat.tube.outside_diameter, "wall": seat.tube.wall, **_path(seat.line)}
    return {**plain, **(cuts if seat.cuts else {})}


def _wall(seat: RunSeat, wall: WallSpan) -> Figures:
    outside, bore = (tuple(2 * radius for radius in radii) for radii in (wall.outer, wall.inner))
    return {"outside": outside, "bore": bore, **_path(cut_out(seat.line, wall.start, wall.end))}


def _outline(outline: Outline) -> list[tuple[float, ...]]:
    """A start, then the end of each edge; for an arc, a point in its middle before its end; closed to the digit."""
    ends = [*(edge.start for edge in outline[1:]), outline[0].start]
    steps = [end if edge.centre is None else (*edge.at(0.5), *end) for edge, end in zip(outline, ends, strict=True)]
    return [outline[0].start, *steps]


def _round(outline: Outline) -> tuple[float, float, float]:
    assert outline[0].centre is not None
    return (*outline[0].centre, 2 * outline[0].radius)


def plate(_: Draft, seat: PlateSeat) -> Figures:
    flange = seat.flange
    made = plate_of(flange, seat.tube)
    leaning = [port for port in flange.ports if not is_square(flange, port)]
    apart = {f"port {port.number}" for port in leaning}
    holes: list[Hole] = [hole for hole in made.holes if hole.what not in apart]
    return {
        "frame": _frame(flange.frame),
        "thickness": made.thickness,
        "outline": _outline(made.outline),
        "round_holes": [_round(hole.outline) for hole in holes if is_circle(hole.outline)],
        "holes": [_outline(hole.outline) for hole in holes if not is_circle(hole.outline)],
        "leaning_ports": [
            {"frame": _frame(port.frame), "outline": _outline(hole_outline(flange, port, seat.tube))}
            for port in leaning
        ],
    }


def transition(_: Draft, seat: TransitionSeat) -> Figures:
    tube, opening = seat.tube, port_outline(seat.port.shape)
    return {
        "frame": _frame(seat.frame),
        "outside": tube.outside_diameter,
        "wall": tube.wall,
        "lead": seat.lead,
        "length": seat.port.transition,
        "inner_outline": _outline(matched(opening, tube.radius)[0]),
        "outer_outline": _outline(matched(grown(opening, tube.wall), tube.radius)[0]),
    }


def _turned(frame: Frame, angle: float) -> tuple[Any, ...]:
    x: Vec = add(scaled(frame.x, math.cos(angle)), frame.y, math.sin(angle))
    return frame.origin, axis(x), axis(frame.z)


def merge(seat: MergeSeat) -> Figures:
    assert isinstance(seat.merge, Merge)
    drawn = with_seams(seat.merge)
    tapered = {"end_outside": 2 * drawn.end_outer, "end_bore": 2 * drawn.end_inner}
    return {
        "frame": _turned(seat.collector.frame, drawn.turn),
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
        **({} if drawn.taper_to is None else tapered),
    }


def collector(_: Draft, seat: MergeSeat) -> Figures:
    return {"merge": seat.collector.name}


def uneven_collector(_: Draft, seat: MergeSeat) -> Figures:
    assert isinstance(seat.merge, UnevenMerge)
    drawn = apart(seat.merge)
    return {
        "frame": _frame(seat.collector.frame),
        "tubes": [_merge_tube(drawn, number) for number in range(drawn.count)],
        "apex": drawn.apex,
        "cut": drawn.cut,
        "cone_end": drawn.cone_end,
        "end": drawn.end,
        "outlet_outside": 2 * drawn.outlet_outer,
        "outlet_bore": 2 * drawn.outlet_inner,
        "end_outside": 2 * drawn.end_outer,
        "end_bore": 2 * drawn.end_inner,
    }


def _merge_tube(merge: UnevenMerge, number: int) -> Figures:
    tube = merge.tubes[number]
    return {
        "outside": 2 * tube.outer,
        "bore": 2 * tube.inner,
        "mouth": mouth_of(merge, tube),
        "turn": turning_point(merge, tube),
        "arrival": axis(tube.arrival),
        "direction": axis(tube.way),
        "halfway": [axis(halfway(merge, tube, merge.tubes[k])) for k in neighbours(merge, number)],
    }


def spike(_: Draft, seat: MergeSeat) -> Figures:
    assert isinstance(seat.merge, Merge)
    drawn = with_seams(seat.merge)
    meet = middle_closed(drawn)
    tip = min(drawn.cut, meet)
    return {
        "merge": seat.collector.name,
        "start": drawn.mitre if drawn.is_welded else max(drawn.mitre, tip - SPIKE_DEPTH),
        "tip": tip,
        "point": 0.0 if meet <= drawn.cut else spike_point(drawn),
        "between_ends": PLUG_DEPTH if drawn.is_welded else 0.0,
    }


def uneven_spike(_: Draft, seat: MergeSeat) -> Figures:
    assert isinstance(seat.merge, UnevenMerge)
    drawn, opening = apart(seat.merge), middle_opening(seat.merge)
    assert opening is not None
    start = drawn.mitre if drawn.is_welded else max(drawn.mitre, opening.closed - SPIKE_DEPTH)
    return {
        "frame": _frame(seat.collector.frame),
        "start": start,
        "tip": opening.closed + SEAM,
        "corners": list(opening.corners),
        "between_ends": PLUG_DEPTH if drawn.is_welded else 0.0,
        "corners_between_ends": list(opening.at_plane) if drawn.is_welded else [],
        "tube_length": drawn.cut - drawn.mitre + abs(drawn.mouth) + 4 * SPIKE_DEPTH,
        "tubes": [_spiked_tube(drawn, number) for number in range(drawn.count)],
    }


def _spiked_tube(merge: UnevenMerge, number: int) -> Figures:
    figures = _merge_tube(merge, number)
    return {key: figures[key] for key in ("outside", "turn", "arrival", "direction")}


def outlet_end(_: Draft, seat: EndSeat) -> Figures:
    end, holes = seat.end, []
    if isinstance(end, OutletRing):
        angles = [end.turn + 2 * math.pi * k / end.bolts for k in range(end.bolts)]
        reach = end.bolt_circle / 2
        holes = [(reach * math.cos(a), reach * math.sin(a), end.hole) for a in angles]
    return {"frame": _frame(seat.frame), "half_section": list(end_profile(end, seat.merge)), "round_holes": holes}


def boss(_: Draft, place: BossPlace) -> Figures:
    return {
        "host": place.host,
        "frame": (place.seat.place, axis(place.seat.out), axis(place.seat.along)),
        "tube_outside": 2 * place.seat.radius,
        **({"tube_widens": 2 * place.seat.slope} if place.seat.slope else {}),
        "outside": place.boss.outside_diameter,
        "height": place.boss.height,
        "hole": place.boss.hole,
    }


def sheet(_: Draft, seat: Sheet) -> Figures:
    return {
        "frame": _frame(seat.frame),
        "thickness": seat.thickness,
        "outline": _outline(seat.outline),
        "round_holes": [(*spot, 2 * radius) for spot, radius in seat.holes],
        "tubes": [{"outside": 2 * radius, **_path(line)} for line, radius in seat.tubes],
    }
