"""Cuts of a tube that are not square: the mitre and the end of each tube of a merge.

Primaries and secondaries are cut square, since their pieces meet at sections of the centreline; but for the first end
of a tube that leans on its flange (lean_cuts.py). A merge has two cuts, the same on each of its tubes. The mitre serves
both halves of a straight tube, one of them turned half round. The end is trimmed on the planes halfway to the
neighbours and on the cut, so it is the intersection of three half spaces. Where a merge is not of revolution, each tube
has cuts of its own; a tube of another size is met in its round.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from headergen.geometry.frames import add, cross, dot, point_in, scaled, subtract, unit
from headergen.geometry.merge.design import possible_merge
from headergen.geometry.merge.measures import Merge
from headergen.geometry.merge.uneven import (
    UnevenMerge,
    directions_out,
    halfway,
    into_tube,
    is_one_size,
    neighbours,
    turning_point,
)
from headergen.model import Collector, CutTemplate, Cylinder, Frame, Header, Plane, Vec

PLACES = 384  # round a template: 24 for each of its 16 ordinates
SQUARE = 1e-9  # radians of a turn that is none
ALONG: Vec = (0.0, 0.0, 1.0)
ABOVE_BASE = 20.0  # mm from the base line to the lowest place of the cut: room for figures, and for tape


@dataclass(frozen=True)
class AngledCut:
    """A cut across a straight tube of `radius` mm that is not square to it.

    `frame`: z along the collector's first tube, from the kept side toward the cut, x toward the witness line, in engine
    axes. `planes`, in the axes of `frame`: the kept part is behind all of them. `count`: how many tubes have this cut;
    `bores`: which, where not all of them do. `rounds`, in the same axes: other tubes at whose near side the tube ends.
    """

    name: str
    collector: str
    what: Literal["mitre", "end", "lean"]
    radius: float
    frame: Frame
    planes: tuple[Plane, ...]
    count: int
    bores: tuple[int, ...] = ()
    rounds: tuple[Cylinder, ...] = ()


def angled_cuts(header: Header) -> Iterator[AngledCut]:
    """G1-1 and G1-2 for the first collector with a merge, G2-1 and G2-2 for the next, with the bank's letter."""
    for number, collector in enumerate(header.draft.collectors, 1):
        merge = possible_merge(header.draft.tube, collector)
        if merge is None:
            continue
        if isinstance(merge, UnevenMerge):
            yield from _of_uneven(f"{header.draft.letter}G{number}", collector, merge)
            continue
        name, middle, out = f"{header.draft.letter}G{number}", *_first_tube(collector, merge)
        along = collector.frame.z
        square = Frame(middle, out, cross(along, out), along)
        yield AngledCut(f"{name}-1", collector.name, "mitre", merge.outer, square, _mitre(merge), merge.count)
        half = merge.half_angle
        way = add(scaled(along, math.cos(half)), out, -math.sin(half))
        toward = add(scaled(out, math.cos(half)), along, math.sin(half))
        leaning = Frame(middle, toward, cross(way, toward), way)
        yield AngledCut(f"{name}-2", collector.name, "end", merge.outer, leaning, _end(merge), merge.count)


def height_of(cut: AngledCut, x: float, y: float) -> float:
    """The place, along z of its frame, where the cut crosses the line through (x, y)."""
    at_planes = [
        (n[0] * (o[0] - x) + n[1] * (o[1] - y)) / n[2] + o[2] for n, o in ((p.normal, p.origin) for p in cut.planes)
    ]
    axes = ((each, unit(subtract(each.end, each.start))) for each in cut.rounds)
    entered = (into_tube((x, y, 0.0), ALONG, each.end, axis, each.diameter / 2) for each, axis in axes)
    return min([*at_planes, *(at for at in entered if at is not None)])


def template_of(cut: AngledCut) -> CutTemplate:
    """A cut as a line on paper that is wrapped round the tube."""
    round_it = (2 * math.pi * k / PLACES for k in range(PLACES))
    heights = [height_of(cut, cut.radius * math.cos(a), cut.radius * math.sin(a)) for a in round_it]
    base = min(heights) - ABOVE_BASE
    above = tuple(height - base for height in heights)
    return CutTemplate(cut.name, cut.collector, cut.what, cut.radius, cut.count, base, above, cut.bores)


def _of_uneven(name: str, collector: Collector, merge: UnevenMerge) -> Iterator[AngledCut]:
    """The mitre, where there is one, and the end of each tube in turn."""
    number = 0
    for k, (bore, tube) in enumerate(zip(collector.bores, merge.tubes, strict=True)):
        out, across = directions_out(tube)
        middle = point_in(collector.frame, turning_point(merge, tube))
        leaning = Frame(middle, *(_direction(collector.frame, each) for each in (out, across, tube.way)))
        if tube.turn > SQUARE:
            number += 1
            along = collector.frame.z
            away = unit(add(leaning.x, along, -dot(leaning.x, along)))
            square = Frame(middle, away, cross(along, away), along)
            quarter = tube.turn / 2
            mitre = Plane((0.0, 0.0, 0.0), (-math.sin(quarter), 0.0, math.cos(quarter)))
            said = f"{name}-{number}"
            yield AngledCut(said, collector.name, "mitre", tube.outer, square, (mitre,), 1, (bore.number,))
        number += 1
        planes, rounds = _end_of(merge, k)
        yield AngledCut(
            f"{name}-{number}", collector.name, "end", tube.outer, leaning, planes, 1, (bore.number,), rounds
        )


def _end_of(merge: UnevenMerge, number: int) -> tuple[tuple[Plane, ...], tuple[Cylinder, ...]]:
    """The cut and the planes to the neighbours, and the tubes of another size, in the axes of a leaning tube."""
    tube, turn = merge.tubes[number], turning_point(merge, merge.tubes[number])
    axes = (*directions_out(tube), tube.way)

    def seen(place: Vec) -> Vec:
        x, y, z = (dot(subtract(place, turn), axis) for axis in axes)
        return x, y, z

    def pointing(way: Vec) -> Vec:
        x, y, z = (dot(way, axis) for axis in axes)
        return x, y, z

    apex: Vec = (0.0, 0.0, merge.apex)
    planes = [Plane(seen((0.0, 0.0, merge.cut)), pointing((0.0, 0.0, 1.0)))]
    others = [merge.tubes[k] for k in neighbours(merge, number)]
    planes += [Plane(seen(apex), pointing(halfway(merge, tube, other))) for other in others]
    sizes = [other for other in merge.tubes if not is_one_size(tube, other)]
    rounds = [Cylinder(seen(turning_point(merge, other)), seen(apex), 2 * other.outer) for other in sizes]
    return tuple(planes), tuple(rounds)


def _direction(frame: Frame, local: Vec) -> Vec:
    return subtract(point_in(frame, local), frame.origin)


def _first_tube(collector: Collector, merge: Merge) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
    """The centre of the first tube's mitre, and the direction outward from the collector's axis there."""
    frame = collector.frame
    out = add(scaled(frame.x, math.cos(merge.turn)), frame.y, math.sin(merge.turn))
    return add(add(frame.origin, out, merge.ring), frame.z, merge.mitre), out


def _mitre(merge: Merge) -> tuple[Plane, ...]:
    quarter = merge.half_angle / 2
    return (Plane((0.0, 0.0, 0.0), (-math.sin(quarter), 0.0, math.cos(quarter))),)


def _end(merge: Merge) -> tuple[Plane, ...]:
    """The cut, and the two planes through the axis halfway to the neighbours."""
    c, s = math.cos(merge.half_angle), math.sin(merge.half_angle)
    axis = (-merge.ring * c, 0.0, merge.ring * s)
    wide = merge.sector
    sides = (1.0,) if merge.count == 2 else (1.0, -1.0)
    halfway = (Plane(axis, (-math.sin(wide) * c, way * math.cos(wide), math.sin(wide) * s)) for way in sides)
    return (Plane((0.0, 0.0, (merge.cut - merge.mitre) / c), (s, 0.0, c)), *halfway)
