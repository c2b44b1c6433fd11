"""The place and shape of the tabs of slip joints.

Each joint has a pair of tabs for the spring that holds it. The sleeve's tab is just past the sleeve's mouth. The tube's
tab is where the two holes are as far apart as the spring is long, even on a bend. Both are on the side away from the
collector's axis, where there is no neighbour.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from headergen.geometry.curves.centreline import cut_out, frame_at
from headergen.geometry.curves.stepped import tube_at
from headergen.geometry.distance.extruded import extruded_solid
from headergen.geometry.frames import add, cross, dot, norm, point_in, rotated, subtract, unit
from headergen.geometry.merge.design import AnyMerge, possible_merge
from headergen.geometry.merge.measures import with_seams
from headergen.geometry.merge.uneven import UnevenMerge
from headergen.geometry.plate.outline import Outline, hull
from headergen.model import Bore, Centreline, Collector, Frame, Header, Line, Run, Tabs, Vec
from headergen.parts.collector import collector_part, merge_seats
from headergen.parts.kind import Demand, Envelope, Footing, PartKind, PlateBody, Seated
from headergen.parts.sheet import Sheet, back_of, lowest_skin
from headergen.words.say import say_length

RIM = 3.0  # mm of metal round a hole, at least
BEAD = 4.0  # mm of sleeve before the foot of its tab, for the weld
APART = 2.0  # mm, at least, from the foot of the tube's tab to the mouth of the sleeve
BEYOND = 5.0  # mm of tube past both ends of a foot that is used to fit the foot
ON_AXIS = 1e-6  # mm
WAYS = 72  # round a sleeve, that are tried for its tab
STEP, HALVINGS = 0.5, 40  # of the search along the tube: mm, and how often a step is halved


@dataclass(frozen=True)
class TabSeat:
    """A tab: its name, the tube it is on, and its place.

    `host`: the name of a run, or the collector's for the sleeve. `frame`: on the tube's axis below the hole, x along
    the gas flow, y out of the tube, z across the sheet. `line`, `radius`: the tube below it; `reach`: the hole's
    distance from the tube's axis. `at`: the length along its run; None for a sleeve's tab.
    """

    name: str
    host: str
    frame: Frame
    line: Centreline
    radius: float
    reach: float
    tabs: Tabs
    at: float | None = None


def tab_seats(header: Header, collector: Collector) -> Iterator[TabSeat]:
    """For each bore of a collector with tabs and a merge, and so with sleeves: the sleeve's tab, then the tube's tab.

    The tube's tab is missing if the tube is, or if the tube is too short for it.
    """
    tabs, merge = collector.tabs, possible_merge(header.draft.tube, collector)
    if tabs is None or merge is None:
        return
    for bore in collector.bores:
        on_sleeve = _on_sleeve(collector, merge, bore, tabs)
        yield on_sleeve
        arriving = next((tube for tube in header.tubes if tube[0].name == bore.run), None)
        on_tube = None if arriving is None else _on_tube(*arriving, on_sleeve, collector.slip)
        if on_tube is not None:
            yield on_tube


def sleeve_room(merge: AnyMerge, tabs: Tabs) -> tuple[float, float]:
    """The straight length of a sleeve to its mitre, on the side away from the axis, and how much of it a tab needs.

    Of several lengths, the shortest.
    """
    if isinstance(merge, UnevenMerge):
        straight = min(merge.mitre - merge.mouth + tube.outer * math.tan(tube.turn / 2) for tube in merge.tubes)
    else:
        straight = merge.mitre - merge.mouth + merge.outer * math.tan(merge.half_angle / 2)
    return straight, BEAD + tabs.length


def _on_sleeve(collector: Collector, merge: AnyMerge, bore: Bore, tabs: Tabs) -> TabSeat:
    along = bore.frame.z
    if isinstance(merge, UnevenMerge):
        outer, away = merge.tubes[collector.bores.index(bore)].outer, _freest(collector, bore)
    else:
        outer, away = with_seams(merge).outer, _away(collector, bore)
    out = rotated(away, along, tabs.turn)
    middle = add(bore.frame.origin, along, merge.mouth + BEAD + tabs.length / 2)
    frame, half = Frame(middle, along, out, cross(along, out)), tabs.length / 2 + BEYOND
    line = Centreline("", (Line(1, add(middle, along, -half), along, out, 2 * half),))
    name = f"tab on bore {bore.number} of {collector.name}"
    return TabSeat(name, collector.name, frame, line, outer, outer + tabs.height, tabs)


def _away(collector: Collector, bore: Bore) -> Vec:
    """The unit vector from the collector's axis to a bore; for a bore on the axis, the plane's y."""
    off = subtract(bore.frame.origin, collector.frame.origin)
    off = add(off, collector.frame.z, -dot(off, collector.frame.z))
    return unit(off) if norm(off) > ON_AXIS else collector.frame.y


def _freest(collector: Collector, bore: Bore) -> Vec:
    """The unit vector across a bore along which the other bores stay farthest; of equal ones, the first from x.

    Between uneven bores, the next bore may be on the side away from the axis.
    """
    along, x = bore.frame.z, bore.frame.x
    across = unit(add(x, along, -dot(x, along)))
    off = [subtract(other.frame.origin, bore.frame.origin) for other in collector.bores if other is not bore]
    beside = [add(each, along, -dot(each, along)) for each in off]

    def room(way: Vec) -> float:
        return round(min(norm(each) if dot(way, each) <= 0 else norm(cross(way, each)) for each in beside), 6)

    return max((rotated(across, along, 2 * math.pi * k / WAYS) for k in range(WAYS)), key=room)


def _on_tube(run: Run, line: Centreline, pair: TabSeat, slip: float) -> TabSeat | None:
    tabs = pair.tabs
    hole, reach = point_in(pair.frame, (0.0, pair.reach, 0.0)), pair.reach

    def apart(at: float) -> float:
        return math.dist(hole, point_in(_frame(line, at, pair.frame.y), (0.0, reach, 0.0)))

    last, first = line.length - slip - APART - tabs.length / 2, tabs.length / 2 + BEYOND
    places = np.arange(last, first, -STEP).tolist()
    beyond = next((at for at in places if apart(at) >= tabs.apart), None)
    if beyond is None:
        return None
    low, high = beyond, min(beyond + STEP, last)
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if apart(middle) >= tabs.apart else (low, middle)
    below = cut_out(line, low - tabs.length / 2 - BEYOND, low + tabs.length / 2 + BEYOND)
    seat = _frame(line, low, pair.frame.y)
    return TabSeat(f"tab on {run.name}", run.name, seat, below, tube_at(run, low).radius, reach, tabs, low)


def _frame(line: Centreline, at: float, out: Vec) -> Frame:
    place, along, normal = frame_at(line, at)
    across = add(out, along, -dot(out, along))
    y = unit(across) if norm(across) > ON_AXIS else normal
    return Frame(place, along, y, cross(along, y))


def tab_sheet(seat: TabSeat) -> Sheet:
    """The hull of the hole's rim and the foot; the foot goes on into the tube."""
    half, rim = seat.tabs.length / 2, (0.0, seat.reach, seat.tabs.hole / 2 + RIM)
    feet = [(x, y, 0.0) for x in (-half, half) for y in (seat.radius / 2, seat.radius)]
    return Sheet(
        outline=hull([*feet, rim]),
        holes=(((0.0, seat.reach), seat.tabs.hole / 2),),
        frame=seat.frame,
        thickness=seat.tabs.thickness,
        tubes=((seat.line, seat.radius),),
    )


def tab_plate(seat: TabSeat) -> tuple[Outline, Frame, float]:
    """The plate around it: an outline in x and y of a frame, and the thickness along z.

    Its foot reaches as deep as the tube's skin falls away below it, across the sheet and along a bend.
    """
    sheet, half = tab_sheet(seat), seat.tabs.length / 2
    lowest = lowest_skin((seat.line, seat.radius), seat.frame, (half, seat.tabs.thickness / 2))
    feet = [(x, y, 0.0) for x in (-half, half) for y in (lowest, seat.radius)]
    outline = hull([*feet, (0.0, seat.reach, seat.tabs.hole / 2 + RIM)])
    return outline, back_of(sheet), sheet.thickness


def _seats(header: Header) -> Iterator[Seated]:
    for collector in header.draft.collectors:
        for seat in tab_seats(header, collector):
            yield Seated(TAB, seat.name, tab_sheet(seat), collector.name)


def _envelopes(header: Header) -> Iterator[Envelope]:
    for collector in header.draft.collectors:
        beside = tuple(run.name for run in header.runs if collector.name in (run.end.collector, run.source))
        for seat in tab_seats(header, collector):
            solid = extruded_solid(*tab_plate(seat))
            yield Envelope(seat.name, solid, collector.name, joined=(seat.host,), beside=beside)


def _demands(header: Header) -> Iterator[Demand]:
    """Requires room on the sleeve before its mitre, and on the tube before its mouth."""
    units = header.draft.units
    for collector, merge in merge_seats(header):
        if collector.tabs is None:
            continue
        part, point = collector_part(collector.name), collector.frame.origin
        straight, needed = sleeve_room(merge, collector.tabs)
        if straight < needed:
            said = (
                f"has sleeves that are straight for {say_length(straight, units)}; their tabs need "
                f"{say_length(needed, units)}"
            )
            yield Demand(part, straight, needed, said, point)
        hosts = {seat.host for seat in tab_seats(header, collector)}
        for run, line in header.tubes:
            if run.end.collector == collector.name and run.name not in hosts:
                room, apart = line.length - collector.slip, collector.tabs.apart
                said = (
                    f"leaves {say_length(room, units)} of {run.name} before its sleeve; for a tab "
                    f"{say_length(apart, units)} from the other one more is needed"
                )
                yield Demand(part, room, apart, said, point)


def _plates(header: Header) -> Iterator[PlateBody]:
    for collector in header.draft.collectors:
        for seat in tab_seats(header, collector):
            yield PlateBody(seat.name, *tab_plate(seat))


def _feet_on_runs(header: Header) -> Iterator[Footing]:
    for collector in header.draft.collectors:
        for seat in tab_seats(header, collector):
            if seat.at is not None:
                yield Footing(seat.host, "its tab", seat.at, seat.tabs.length)


def _welds(header: Header) -> Iterator[float]:
    """Round the foot of each."""
    tabs = (seat.tabs for collector in header.draft.collectors for seat in tab_seats(header, collector))
    return (2 * (each.length + each.thickness) for each in tabs)


TAB = PartKind(
    "tab", "sheet", _seats, _envelopes, demands=_demands, footings=_feet_on_runs, plates=_plates, welds=_welds
)
