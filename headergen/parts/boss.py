"""Bosses: where they sit on tubes and outlets."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.curves.stepped import tube_at
from headergen.geometry.distance.convex import Frustum
from headergen.geometry.frames import add, dot, frame_from_normal, norm, rotated, unit
from headergen.geometry.merge.design import possible_merge
from headergen.model import Boss, Collector, Draft, Header, OutletBall, OutletPlate, OutletRing, Vec
from headergen.parts.collector import collector_part
from headergen.parts.kind import Footing, PartKind, Seated
from headergen.parts.outlet import outlet_slope
from headergen.parts.run_place import bare_about

UPRIGHT = math.sin(math.radians(2))  # sine of a tube's angle from vertical below which its clock counts from forward
FORWARD: Vec = (1.0, 0.0, 0.0)  # ISO 8855


@dataclass(frozen=True)
class Seat:
    """The seat of a boss: a point on its tube's axis, the directions of tube and boss, the tube's outer radius.

    `straight`: how far the tube is straight and bare from there, to the nearer end, bend or part around it. `slope`: by
    how much the radius grows per mm along the tube, on an outlet that tapers.
    """

    place: Vec
    along: Vec
    out: Vec
    radius: float
    straight: float
    slope: float = 0.0


@dataclass(frozen=True)
class BossPlace:
    """`host`: the name of the part on which it is seated, and which its hole goes through."""

    boss: Boss
    seat: Seat
    host: str


def boss_seat(header: Header, boss: Boss) -> Seat | None:
    """The seat of a boss; None if its host is missing: a merge that cannot be made, or a place beyond a tube's end."""
    if boss.on_outlet:
        return _on_outlet(header.draft, boss)
    found = next((tube for tube in header.tubes if tube[0].name == boss.host), None)
    if found is None:
        return None
    run, line = found
    if boss.at > line.length:
        return None
    place, along, _ = frame_at(line, boss.at)
    straight = max(bare_about(header, run, line, boss.at)[0], 0.0)
    return Seat(place, along, _out(header.draft, along, boss.clock), tube_at(run, boss.at).radius, straight)


def boss_seats(header: Header) -> Iterator[tuple[Boss, Seat]]:
    """The bosses that have a seat, with it."""
    for boss in header.draft.bosses:
        seat = boss_seat(header, boss)
        if seat is not None:
            yield boss, seat


def boss_frustum(boss: Boss, seat: Seat) -> Frustum:
    """The cylinder of a boss, from the axis of its tube."""
    radius = boss.outside_diameter / 2
    return Frustum(frame_from_normal(seat.place, seat.out), radius, radius, seat.radius + boss.height)


def saddle_radii(boss: Boss, seat: Seat, beyond: float) -> tuple[float, float]:
    """The radii of the tube `beyond` mm past both edges of a boss, along the gas."""
    reach = boss.outside_diameter / 2 + beyond
    return seat.radius - seat.slope * reach, seat.radius + seat.slope * reach


def host_length(header: Header, boss: Boss) -> float | None:
    """The length of the tube under a boss, along which `at` counts; None if there is no such tube."""
    draft = header.draft
    if not boss.on_outlet:
        return next((line.length for line in header.centrelines if line.run == boss.host), None)
    collector = next((each for each in draft.collectors if each.name == boss.host), None)
    merge = _merge_range(draft, collector) if collector is not None else None
    return None if merge is None else merge[1] - merge[0]


def _on_outlet(draft: Draft, boss: Boss) -> Seat | None:
    collector = next((each for each in draft.collectors if each.name == boss.host), None)
    merge = _merge_range(draft, collector) if collector is not None else None
    if collector is None or merge is None or boss.at > merge[1] - merge[0]:
        return None
    start, end, radius, slope = merge
    along = collector.frame.z
    place = add(collector.frame.origin, along, start + boss.at)
    straight = max(min(boss.at, end - _covered(collector) - start - boss.at), 0.0)
    return Seat(place, along, _out(draft, along, boss.clock), radius + slope * boss.at, straight, slope)


def _covered(collector: Collector) -> float:
    """Length of the outlet's end that its end part covers."""
    end = collector.end
    if isinstance(end, OutletRing):
        return end.thickness
    if isinstance(end, OutletBall):
        return end.length
    return end.thickness if isinstance(end, OutletPlate) and not end.transition else 0.0


def _merge_range(draft: Draft, collector: Collector) -> tuple[float, float, float, float] | None:
    """The start and end of the outlet tube, its radius at the start, and by how much that grows per mm."""
    merge = possible_merge(draft.tube, collector)
    return None if merge is None else (merge.cone_end, merge.end, merge.outlet_outer, outlet_slope(merge))


def _out(draft: Draft, along: Vec, clock: float) -> Vec:
    zero = draft.up
    if norm(add(zero, along, -dot(zero, along))) < UPRIGHT:
        zero = FORWARD
    return rotated(unit(add(zero, along, -dot(zero, along))), along, clock)


def _seats(header: Header) -> Iterator[Seated]:
    for boss, seat in boss_seats(header):
        host = collector_part(boss.host) if boss.on_outlet else boss.host
        yield Seated(BOSS, boss.part, BossPlace(boss, seat, host))


def _feet_on_runs(header: Header) -> Iterator[Footing]:
    for boss in header.draft.bosses:
        if not boss.on_outlet:
            yield Footing(boss.host, boss.part, boss.at, boss.outside_diameter)


def _welds(header: Header) -> Iterator[float]:
    """Round each."""
    return (math.pi * boss.outside_diameter for boss, _ in boss_seats(header))


BOSS = PartKind("boss", "boss", _seats, finish="machined", follows_runs=True, footings=_feet_on_runs, welds=_welds)
