"""Bosses: where they sit on tubes and outlets."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from headergen.geometry.curves.centreline import frame_at, place_at, segment_starts
from headergen.geometry.frames import add, dot, norm, rotated, unit
from headergen.geometry.merge.design import possible_merge
from headergen.geometry.plate.flange import bare_from
from headergen.model import Bore, Boss, Centreline, Collector, Draft, Header, Line, OutletRing, Vec
from headergen.parts.collector import collector_part
from headergen.parts.kind import PartKind, Seated

UPRIGHT = math.sin(math.radians(2))  # of a tube off the upright under which its clock counts from forward
FORWARD: Vec = (1.0, 0.0, 0.0)  # ISO 8855


@dataclass(frozen=True)
class Seat:
    """Where a boss sits: a place on its tube's axis, the ways the tube and the boss point, the tube's outer radius.

    `straight`: how far the tube runs straight and bare from there, to the nearer end, bend or part that is round it.
    """

    place: Vec
    along: Vec
    out: Vec
    radius: float
    straight: float


@dataclass(frozen=True)
class BossPlace:
    """`host`: the name of the part that it stands on, and goes through."""

    boss: Boss
    seat: Seat
    host: str


def boss_seat(header: Header, boss: Boss) -> Seat | None:
    """None where what the boss stands on is not there: a merge that cannot be made, or a place beyond a tube's end."""
    if boss.on_outlet:
        return _on_outlet(header.draft, boss)
    found = next((tube for tube in header.tubes if tube[0].name == boss.host), None)
    if found is None:
        return None
    (run, line), flange = found, header.draft.flange
    start = bare_from(flange, run.port, run.tube) if run.is_primary else 0.0
    return _on_line(header.draft, (line, run.tube.radius, (start, line.length - _slip(header.draft, run.end))), boss)


def host_length(header: Header, boss: Boss) -> float | None:
    """How long the tube is that a boss stands on, where `at` counts from; None where there is no such tube."""
    draft = header.draft
    if not boss.on_outlet:
        return next((line.length for line in header.centrelines if line.run == boss.host), None)
    collector = next((each for each in draft.collectors if each.name == boss.host), None)
    merge = _merge_range(draft, collector) if collector is not None else None
    return None if merge is None else merge[1] - merge[0]


def _slip(draft: Draft, bore: Bore) -> float:
    """How deep a tube stands in the sleeve it goes into."""
    return next((each.slip for each in draft.collectors if each.name == bore.collector), 0.0)


def _on_line(draft: Draft, on: tuple[Centreline, float, tuple[float, float]], boss: Boss) -> Seat | None:
    """`on`: the line of a tube, its radius, and from where to where nothing is round it."""
    line, radius, bare = on
    if boss.at > line.length:
        return None
    place, along, _ = frame_at(line, boss.at)
    step, straight = place_at(line, boss.at).step, 0.0
    for segment, start in zip(line.segments, segment_starts(line), strict=False):
        low, high = max(start, bare[0]), min(start + segment.length, bare[1])
        if isinstance(segment, Line) and segment.step == step and low <= boss.at <= high:
            straight = min(boss.at - low, high - boss.at)
    return Seat(place, along, _out(draft, along, boss.clock), radius, straight)


def _on_outlet(draft: Draft, boss: Boss) -> Seat | None:
    collector = next((each for each in draft.collectors if each.name == boss.host), None)
    merge = _merge_range(draft, collector) if collector is not None else None
    if collector is None or merge is None or boss.at > merge[1] - merge[0]:
        return None
    start, end, radius = merge
    along = collector.frame.z
    place = add(collector.frame.origin, along, start + boss.at)
    ring = collector.end.thickness if isinstance(collector.end, OutletRing) else 0.0
    straight = max(min(boss.at, end - ring - start - boss.at), 0.0)
    return Seat(place, along, _out(draft, along, boss.clock), radius, straight)


def _merge_range(draft: Draft, collector: Collector) -> tuple[float, float, float] | None:
    """Where the outlet tube begins and ends, and its radius."""
    merge = possible_merge(draft.tube, collector)
    return None if merge is None else (merge.cone_end, merge.end, merge.outlet_outer)


def _out(draft: Draft, along: Vec, clock: float) -> Vec:
    zero = draft.up
    if norm(add(zero, along, -dot(zero, along))) < UPRIGHT:
        zero = FORWARD
    return rotated(unit(add(zero, along, -dot(zero, along))), along, clock)


def _seats(header: Header) -> Iterator[Seated]:
    for boss in header.draft.bosses:
        seat = boss_seat(header, boss)
        if seat is not None:
            host = collector_part(boss.host) if boss.on_outlet else boss.host
            yield Seated(BOSS, boss.part, BossPlace(boss, seat, host))


BOSS = PartKind("boss", "boss", _seats, finish="machined", follows_runs=True)
