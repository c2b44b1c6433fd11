"""Cuts of a tube that are not square: the mitre and the end of each tube of a merge.

Primaries and secondaries are cut square everywhere: their pieces meet at sections of the centreline, and the tube of a
leaning port begins farther out. A merge has two cuts, the same on each of its tubes. The mitre serves both halves of a
straight tube, one of them turned half round. The end is trimmed on the planes halfway to the neighbours and on the cut,
so it is the intersection of three half spaces.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from headergen.geometry.frames import add, cross, scaled
from headergen.geometry.merge.design import possible_merge
from headergen.geometry.merge.measures import Merge
from headergen.model import Collector, CutTemplate, Frame, Header, Plane

PLACES = 384  # round a template: 24 for each of its 16 ordinates
ABOVE_BASE = 20.0  # mm from the base line to the lowest place of the cut: room for figures, and for tape


@dataclass(frozen=True)
class AngledCut:
    """A cut across a straight tube of `radius` mm that is not square to it.

    `frame`: z along the collector's first tube, from the kept side toward the cut, x toward the witness line, in engine
    axes. `planes`, in the axes of `frame`: the kept part is behind all of them. `count`: how many tubes have this cut.
    """

    name: str
    collector: str
    what: Literal["mitre", "end"]
    radius: float
    frame: Frame
    planes: tuple[Plane, ...]
    count: int


def angled_cuts(header: Header) -> Iterator[AngledCut]:
    """G1-1 and G1-2 for the first collector with a merge, G2-1 and G2-2 for the next, with the bank's letter."""
    for number, collector in enumerate(header.draft.collectors, 1):
        merge = possible_merge(header.draft.tube, collector)
        if merge is None:
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
    return min(
        (n[0] * (o[0] - x) + n[1] * (o[1] - y)) / n[2] + o[2] for n, o in ((p.normal, p.origin) for p in cut.planes)
    )


def template_of(cut: AngledCut) -> CutTemplate:
    """A cut as a line on paper that is wrapped round the tube."""
    round_it = (2 * math.pi * k / PLACES for k in range(PLACES))
    heights = [height_of(cut, cut.radius * math.cos(a), cut.radius * math.sin(a)) for a in round_it]
    base = min(heights) - ABOVE_BASE
    above = tuple(height - base for height in heights)
    return CutTemplate(cut.name, cut.collector, cut.what, cut.radius, cut.count, base, above)


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
