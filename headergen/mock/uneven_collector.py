"""The shapes of a printed collector whose merge is not of revolution: a row, unequal places, two sizes, a Y.

Up to the cut its outside is the union of its tubes, which need no trimming: where two tubes of one size cross the plane
between them, each is inside the other. Each passage has a cell of its own, between planes through the apex.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

import numpy as np
from manifold3d import CrossSection, Manifold, OpType

from headergen.geometry.frames import add, angle_between, dot, frame_from_normal, scaled, subtract, unit
from headergen.geometry.merge.uneven import (
    MergeTube,
    UnevenMerge,
    cone_outline,
    directions_out,
    turning_point,
)
from headergen.geometry.mesh.triangles import Points
from headergen.mock.joint import SIDES
from headergen.mock.lettering import HEIGHT, on_round, text_solid
from headergen.mock.solid import placement, prism
from headergen.model import Collector, Frame, MockSettings, Tube, Vec

ACROSS = 0.02  # mm of overlap of a mitre's halves, so that rounding leaves no gap between them
OVERLAP = 0.5  # mm of tube inside the cone, so that no two faces coincide
LEAD = 4.0  # mm past a turn before a passage widens
STEEPEST = math.atan(0.5)  # from its axis, how fast a passage widens
SPARE = math.radians(2)  # of the printer's lean that is not used
FLATTEST = math.radians(3)  # of a passage's widening: a slower one is left out
STEPS = 48  # on each arc of the outline
FAR = 500.0  # mm


def tubes_at(collector: Collector, tube: Tube) -> tuple[Tube, ...]:
    """The tube that goes into each bore; `tube` where the bore names none."""
    return tuple(bore.tube or tube for bore in collector.bores)


def reach_back(merge: UnevenMerge, spigot: float) -> float:
    """How far upstream of the plane the print reaches: its mouths, or the spigots in the ends of its tubes."""
    length = max(-merge.mouth, spigot)
    return max(length * each.arrival[2] + each.outer * math.hypot(*each.arrival[:2]) for each in merge.tubes)


def size_across(merge: UnevenMerge, more: float) -> tuple[float, float]:
    """Width along x and y of the collector's frame, with `more` on each side."""
    back = -merge.mouth
    sides = []
    for axis in (0, 1):
        places = [each.place[axis] - back * each.arrival[axis] for each in merge.tubes]
        reach = [(place, tube.outer) for place, tube in zip(places, merge.tubes, strict=True)]
        reach.append((0.0, max(merge.outlet_outer, merge.end_outer)))
        sides.append(max(at + r for at, r in reach) - min(at - r for at, r in reach) + 2 * more)
    return sides[0], sides[1]


def steepest_lean(merge: UnevenMerge) -> float:
    """Between the axis and the tube that leans most."""
    return max(each.lean for each in merge.tubes)


def outside_of_tubes(merge: UnevenMerge) -> Manifold:
    """All tubes, filled, from their mouths to the cut."""
    solids = [tube for each in merge.tubes for tube in _filled(merge, each, each.outer, merge.mouth)]
    return Manifold.batch_boolean(solids, OpType.Add).trim_by_plane((0.0, 0.0, -1.0), -(merge.cut + OVERLAP))


def rings_of(merge: UnevenMerge, ends: Sequence[tuple[float, float]]) -> list[Points]:
    """Outlines (n, 3) of equal size: at the cut, at the start of the outlet, and at each (height, radius) after it."""
    flat = [cone_outline(merge, False, share, STEPS) for share in (0.0, 1.0)]
    flat += [flat[1] * (radius / merge.outlet_outer) for _, radius in ends]
    heights = (merge.cut, merge.cone_end, *(at for at, _ in ends))
    return [np.column_stack([each, np.full(len(each), at)]) for each, at in zip(flat, heights, strict=True)]


def least_reach(merge: UnevenMerge) -> float:
    """Distance from the axis to the nearest place of the outline at the cut."""
    return float(np.hypot(*cone_outline(merge, False, 0.0, STEPS).T).min())


def sleeves_of(merge: UnevenMerge, bores: Sequence[float], wall: float) -> Manifold:
    """The sleeves, where the wall round their `bores` (radii) is thicker in print; they taper into the tubes."""
    if merge.is_welded:
        return Manifold()
    solids = []
    for each, bore in zip(merge.tubes, bores, strict=True):
        wide = max(each.outer, bore + wall)
        more = wide - each.outer
        profile = [(0.0, merge.mouth), (wide, merge.mouth), (wide, 0.0), (each.outer, more), (0.0, more)]
        section = CrossSection([profile if more > ACROSS else [*profile[:3], (0.0, 0.0)]])
        solids.append(_placed(Manifold.revolve(section, SIDES), (*each.place, 0.0), each.arrival))
    return Manifold.batch_boolean(solids, OpType.Add)


def sleeve_bores_of(merge: UnevenMerge, bores: Sequence[float], low: float) -> Manifold:
    """The room of the tubes' ends, from `low` down to the plane on which they stop."""
    rooms = [
        _placed(prism(CrossSection.circle(bore, SIDES), low, 0.0), (*each.place, 0.0), each.arrival)
        for each, bore in zip(merge.tubes, bores, strict=True)
    ]
    return Manifold.batch_boolean(rooms, OpType.Add)


def ways_of(merge: UnevenMerge, bores: Sequence[float], settings: MockSettings) -> list[Manifold]:
    """The passage in each tube: first as wide as its spigot allows (`bores`), then wider, closed at the cut."""
    found = []
    for k, (each, bore) in enumerate(zip(merge.tubes, bores, strict=True)):
        rate = min(STEEPEST, settings.lean - SPARE - each.lean)
        wide = max(bore, each.outer - settings.wall - 1.0) if rate > FLATTEST else bore
        start = each.outer * math.tan(each.turn / 2) + LEAD
        widened = start + (wide - bore) / math.tan(max(rate, FLATTEST))
        profile = [(0.0, -4 * bore), (bore, -4 * bore), (bore, start), (wide, widened), (wide, FAR), (0.0, FAR)]
        straight, leaning = _turned(merge, each, bore, -settings.spigot - 1.0, _bored(profile))
        for other in (tube for number, tube in enumerate(merge.tubes) if number != k):
            normal = between(each, other)
            inset = dot(normal, (0.0, 0.0, merge.apex)) - settings.wall / 2
            leaning = leaning.trim_by_plane(scaled(normal, -1.0), -inset)
        found.append((straight + leaning).trim_by_plane((0.0, 0.0, -1.0), -merge.cut))
    return found


def between(one: MergeTube, other: MergeTube) -> Vec:
    """The normal, toward `other`, of a plane through the apex that divides the angle of two tubes as their radii do."""
    whole = angle_between(one.way, other.way)
    part = whole * one.outer / (one.outer + other.outer)
    dividing = add(
        scaled(one.way, math.sin(whole - part) / math.sin(whole)), other.way, math.sin(part) / math.sin(whole)
    )
    # upstream of the apex a tube lies against its way, so the side of the other one is reversed
    across = subtract(one.way, other.way)
    return unit(add(across, dividing, -dot(across, dividing)))


def words_on_tube(merge: UnevenMerge, text: str) -> Iterator[Manifold]:
    """A text on the outside of the first tube, just past its turn."""
    tube = merge.tubes[0]
    out, across = directions_out(tube)
    home = Frame(turning_point(merge, tube), out, across, tube.way)
    for bar in text_solid(text, on_round(tube.outer, 0.0, tube.outer * math.tan(tube.turn / 2) + HEIGHT + 2.0)):
        yield bar.transform(placement(home))


def cores_of(collector: Collector, cores: Mapping[str, float]) -> list[float]:
    """By bore: the radius of the core of its spigot; for a bore without a printed tube, the least of all."""
    return [cores.get(bore.run, min(cores.values())) for bore in collector.bores]


def _bored(profile: list[tuple[float, float]]) -> Manifold:
    return Manifold.revolve(CrossSection([profile]), SIDES)


def _filled(merge: UnevenMerge, tube: MergeTube, radius: float, start: float) -> tuple[Manifold, Manifold]:
    leaning = prism(CrossSection.circle(radius, SIDES), -4 * radius, FAR)
    return _turned(merge, tube, radius, start, leaning)


def _turned(
    merge: UnevenMerge, tube: MergeTube, radius: float, start: float, leaning: Manifold
) -> tuple[Manifold, Manifold]:
    """A straight tube from `start` past the plane, and the leaning one after it, mitred to each other.

    `leaning` is along z about its own centre, at the turn.
    """
    turn = turning_point(merge, tube)
    mouth = add((*tube.place, 0.0), tube.arrival, start)
    long = math.dist(mouth, turn)
    straight = _placed(prism(CrossSection.circle(radius, SIDES), 0.0, long + radius), mouth, tube.arrival)
    turned = _placed(leaning, turn, tube.way)
    mitre = unit(add(tube.arrival, tube.way))
    at = dot(mitre, turn)
    back = scaled(mitre, -1.0)
    return straight.trim_by_plane(back, -at - ACROSS), turned.trim_by_plane(mitre, at - ACROSS)


def _placed(solid: Manifold, origin: Vec, way: Vec) -> Manifold:
    return solid.transform(placement(frame_from_normal(origin, way)))
