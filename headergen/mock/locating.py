"""Locating plates: two for each collector, at least 1.5 diameters apart, on the last straights or just past them."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from manifold3d import CrossSection, Manifold, OpType

from headergen.geometry.frames import axes_matrix, dot, point_in, scaled, subtract
from headergen.mock.joint import SIDES
from headergen.mock.lettering import on_flat, text_solid
from headergen.mock.part import MockPart, sound_mesh
from headergen.mock.solid import prism
from headergen.model import (
    Centreline,
    Collector,
    Frame,
    Header,
    Line,
    LocatingPlate,
    MockSettings,
    Plane,
    PlateHole,
    PlatePair,
)

THICKNESS = 6.0
APART = 1.5  # outside diameters between the facing faces, at least
FROM_BEND = 5.0  # mm of straight left free before the first plate
RIM = 12.0  # mm of plate round a tube
ROD, ROUND_ROD = 8.5, 6.0  # hole for a threaded rod, and plate round it
LETTERS = 5.0
FLATTEST = 0.2  # sine of the angle between plate and table under which no foot reaches it


def plate_pairs(header: Header, settings: MockSettings) -> tuple[PlatePair, ...]:
    """A pair for each collector that has a primary."""
    lines = {line.primary: line for line in header.centrelines}
    pairs: list[PlatePair] = []
    for collector in header.draft.collectors:
        mine = [lines[bore.primary] for bore in collector.bores if bore.primary in lines]
        if mine:
            pairs.append(_pair(collector, mine, header.draft.tube.outside_diameter, settings, 2 * len(pairs)))
    return tuple(pairs)


def last_straight(line: Centreline) -> float:
    """How much of a tube is straight before its end."""
    length = 0.0
    for segment in reversed(line.segments):
        if not isinstance(segment, Line) and segment.length > 1e-6:
            break
        length += segment.length
    return length


def possible_lean(gap: float, apart: float) -> float:
    """Radians by which a tube can lean between two plates, with `gap` to each side, `apart` between their faces."""
    return math.atan2(2 * gap, apart)


def _pair(
    collector: Collector, lines: Sequence[Centreline], diameter: float, settings: MockSettings, named: int
) -> PlatePair:
    """Both plates before the collector plane where the straights are long enough, else as far past it as need be."""
    apart = APART * diameter
    room = min(last_straight(line) for line in lines) - FROM_BEND
    add = max(0.0, 2 * THICKNESS + apart - max(room, THICKNESS))
    second = add  # its downstream face
    first = second - THICKNESS - apart
    spots = _spots(collector, {line.primary for line in lines})
    outline, rods, has_feet = _outline(collector, list(spots.values()), diameter, settings, (first - THICKNESS, second))
    holes = [PlateHole(at, diameter + 2 * settings.gap, number) for number, at in spots.items()]
    holes += [PlateHole(at, ROD, None) for at in rods]
    plates = [
        LocatingPlate(f"L{named + k}", collector.name, outline, tuple(holes), THICKNESS, at)
        for k, at in ((1, first), (2, second))
    ]
    return PlatePair((plates[0], plates[1]), apart, add, possible_lean(settings.gap, apart), has_feet)


def _spots(collector: Collector, numbers: set[int]) -> dict[int, tuple[float, float]]:
    axes = axes_matrix(collector.frame)
    spots = {}
    for bore in collector.bores:
        if bore.primary in numbers:
            x, y, _ = axes @ subtract(bore.frame.origin, collector.frame.origin)
            spots[bore.primary] = (float(x), -float(y))
    return spots


Outline = tuple[tuple[float, float], ...]


def _outline(
    collector: Collector,
    spots: Sequence[tuple[float, float]],
    diameter: float,
    settings: MockSettings,
    span: tuple[float, float],
) -> tuple[Outline, list[tuple[float, float]], bool]:
    """The plate, the places of its two rods, and whether it has feet on the table."""
    circles = [CrossSection.circle(diameter / 2 + RIM, SIDES).translate(spot) for spot in spots]
    x0, y0, x1, y1 = CrossSection.batch_hull(circles).bounds()
    out = ROD / 2 + 3.0
    rods = [(x0 - out, (y0 + y1) / 2), (x1 + out, (y0 + y1) / 2)]
    circles += [CrossSection.circle(ROD / 2 + ROUND_ROD, 48).translate(rod) for rod in rods]
    shape = CrossSection.batch_hull(circles)
    feet = None if settings.table is None else _feet(collector, shape, settings.table, span)
    if feet is not None:
        shape = feet
    polygon = max(shape.to_polygons(), key=lambda points: float(np.ptp(points)))
    return tuple((round(float(x), 4), round(float(y), 4)) for x, y in polygon), rods, feet is not None


def _feet(collector: Collector, shape: CrossSection, table: Plane, span: tuple[float, float]) -> CrossSection | None:
    """The plate carried down to the table and cut along it; None where it does not stand over the table.

    Both faces of both plates are kept off the table, so that the square edge rests on its lower side.
    """
    frame = collector.frame
    across, up = dot(table.normal, frame.x), -dot(table.normal, frame.y)  # as seen from the tubes' side
    size = math.hypot(across, up)
    if size < FLATTEST:
        return None
    heights = [dot(subtract(point_in(frame, (0.0, 0.0, z)), table.origin), table.normal) / size for z in span]
    level = -min(heights)  # of the table, along the direction (across, up) in the plate
    turn = math.degrees(math.atan2(across, up))
    upright = shape.rotate(turn)
    x0, y0, x1, _ = upright.bounds()
    if level >= y0:
        return None
    base = CrossSection.square((x1 - x0, 1.0)).translate((x0, level))
    return CrossSection.batch_hull([upright, base]).rotate(-turn)


def _outward(hole: PlateHole, middle: tuple[float, float]) -> tuple[float, float]:
    """Half way over the rim beside a hole, away from the middle of them all; under a hole that stands there."""
    x, y = hole.at[0] - middle[0], hole.at[1] - middle[1]
    away = math.hypot(x, y)
    reach = (hole.diameter + RIM) / 2
    if away < 1.0:
        return (hole.at[0], hole.at[1] - reach)
    return (hole.at[0] + x / away * reach, hole.at[1] + y / away * reach)


def plate_part(plate: LocatingPlate, collector: Collector) -> MockPart:
    """The plate lying on its downstream face. Raises UnsoundPart when it does not come out sound."""
    section = CrossSection([plate.outline])
    holes = [CrossSection.circle(hole.diameter / 2, SIDES).translate(hole.at) for hole in plate.holes]
    solid = prism(CrossSection.batch_boolean([section, *holes], OpType.Subtract), 0.0, plate.thickness)
    letters: list[Manifold] = []
    tubes = [hole for hole in plate.holes if hole.primary is not None]
    middle = tuple(sum(hole.at[k] for hole in tubes) / len(tubes) for k in (0, 1))
    for hole in tubes:
        place = _outward(hole, (middle[0], middle[1]))
        letters += text_solid(f"P{hole.primary}", on_flat(place, plate.thickness), LETTERS)
    top = max(y for _, y in plate.outline) - 1.5 - LETTERS / 2
    letters += text_solid(plate.name, on_flat((middle[0], top), plate.thickness), LETTERS)
    mesh = sound_mesh(plate.name, Manifold.batch_boolean([solid, *letters], OpType.Subtract))
    frame = collector.frame
    home = Frame(point_in(frame, (0.0, 0.0, plate.downstream)), frame.x, scaled(frame.y, -1.0), scaled(frame.z, -1.0))
    numbers = tuple(hole.primary for hole in plate.holes if hole.primary is not None)
    return MockPart(plate.name, numbers, (), mesh, home, 0.0)
