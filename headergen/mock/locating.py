"""Locating plates: two for each collector, at least 1.5 diameters apart, on the last straights or just past them."""

from __future__ import annotations

import math
from collections.abc import Container, Iterator, Sequence
from contextlib import suppress
from dataclasses import replace

import numpy as np
from manifold3d import CrossSection, JoinType, Manifold, OpType

from headergen.geometry.curves.stepped import growth_places
from headergen.geometry.frames import axes_matrix, dot, point_in, scaled, subtract
from headergen.geometry.plate.lettering import Words, with_room
from headergen.geometry.plate.outline import points_on, polygon
from headergen.geometry.plate.united import ends_of, openings_of
from headergen.mock.joint import SIDES
from headergen.mock.lettering import HAND, cut_words
from headergen.mock.packing import has_room
from headergen.mock.part import MockPart, sound_mesh
from headergen.mock.play import play, section_of
from headergen.mock.solid import MockError, prism
from headergen.mock.web import BAR, bars_from, label, open_web
from headergen.model import (
    Centreline,
    Collector,
    Datum,
    DatumHole,
    Frame,
    Header,
    Line,
    LocatingPlate,
    MockSettings,
    Plane,
    PlateHole,
    PlatePair,
    Run,
    Vec2,
)
from headergen.words.numbers import with_unit
from headergen.words.say import capital

THICKNESS = 6.0
APART = 1.5  # outside diameters between the facing faces, at least
FROM_BEND = 5.0  # mm of straight left free before the first plate
RIM = 12.0  # mm of plate round a tube, as it is drawn
RING = 5.0  # mm of it that is printed
AS_NEAR = 1.1  # of the way to the nearest tube: how far those are that a bar goes to as well
SLIVER = 0.1  # mm by which rims drawn anew may differ
ROD, ROUND_ROD = 8.5, 6.0  # hole for a threaded rod, and plate round it
REACH = 150.0  # mm from a tube, and along the tubes: the reach of a plate to a reference point
LEAST_BETWEEN = 1.2  # mm of plate between two slots
BESIDE = 3.0  # mm of plate between a reference point's hole and any other
FLATTEST = 0.2  # sine of the angle between plate and table below which the plate has no feet


def plate_pairs(
    header: Header, settings: MockSettings, printed: Sequence[tuple[Run, Centreline]] | None = None
) -> tuple[PlatePair, ...]:
    """A pair for each collector that one of the `printed` runs, else of the primaries, goes into.

    A Y whose tubes would run into each other before both plates hold them has none: `without_plates` says so.
    """
    pairs: list[PlatePair] = []
    for collector, held in _held(header, printed):
        with suppress(MockError):
            pairs.append(_pair(collector, held, settings, 2 * len(pairs)))
    return tuple(pairs)


def without_plates(header: Header, settings: MockSettings, printed: Sequence[tuple[Run, Centreline]]) -> Iterator[str]:
    """A note for each collector whose tubes no pair can hold."""
    for collector, held in _held(header, printed):
        try:
            _pair(collector, held, settings, 0)
        except MockError as error:
            yield f"{capital(str(error))}."


def _held(
    header: Header, printed: Sequence[tuple[Run, Centreline]] | None
) -> Iterator[tuple[Collector, tuple[list[tuple[Run, Centreline]], dict[str, str]]]]:
    """Each collector with the tubes that go into it, and the mark of each."""
    tubes = header.with_runs({run.name for run in header.primaries}).tubes if printed is None else printed
    lines = {run.name: (run, line) for run, line in tubes}
    for collector in header.draft.collectors:
        if collector.mouth == "side":  # its run sits on another with its fishmouth
            continue
        mine = [lines[bore.run] for bore in collector.bores if bore.run in lines]
        if mine:
            yield collector, (mine, {run.name: header.draft.mock_mark(run) for run, _ in mine})


def unreached(pairs: Sequence[PlatePair], settings: MockSettings) -> Iterator[str]:
    """A note for each reference point for which no plate has a hole."""
    reached = {datum.name for pair in pairs for datum in pair.datums}
    for datum in settings.datums:
        if datum.name not in reached:
            yield (
                f"Reference point {datum.name}: no locating plate has a hole for it; it lies within a hole for a tube "
                f"or a rod, or more than {with_unit(REACH, settings.units, 0)} off."
            )


def last_straight(line: Centreline) -> float:
    """The straight length at the end of a tube."""
    length = 0.0
    for segment in reversed(line.segments):
        if not isinstance(segment, Line) and segment.length > 1e-6:
            break
        length += segment.length
    return length


def _last_bare(run: Run, line: Centreline) -> float:
    """The straight length of one size at the end of a run."""
    grown = [place.end for place in growth_places(run)]
    return min(last_straight(line), line.length - grown[-1]) if grown else last_straight(line)


def possible_lean(gap: float, apart: float) -> float:
    """Largest angle (rad) of a tube in two plates, with `gap` on each side, `apart` between their faces."""
    return math.atan2(2 * gap, apart)


def _pair(
    collector: Collector,
    held: tuple[Sequence[tuple[Run, Centreline]], dict[str, str]],
    settings: MockSettings,
    named: int,
) -> PlatePair:
    """Both plates before the collector plane if the straights are long enough, else as far past it as necessary.

    `held`: the tubes that go through, and the mark of each beside its hole.
    """
    tubes, marks = held
    diameter, leans = max(run.tubes[-1].outside_diameter for run, _ in tubes), abs(collector.lean)
    apart, aside = APART * diameter, diameter / 2 * math.sin(leans)  # an end reaches farther on one side
    room = min(_last_bare(run, line) for run, line in tubes) * math.cos(leans) - aside - FROM_BEND
    past = max(0.0, 2 * THICKNESS + apart + aside - max(room, THICKNESS))  # of the middles of the ends
    second = past - aside  # its downstream face
    first, add = second - THICKNESS - apart, past / math.cos(leans)
    wide = {run.name: run.tubes[-1].outside_diameter + 2 * settings.gap for run, _ in tubes}
    both = [_tube_holes(collector, at, (marks, wide)) for at in (first, second)]
    _refuse_crossing(collector, both[1], past, settings.units)
    rods = [PlateHole(at, ROD, None) for at in _rods([hole.at for holes in both for hole in holes], diameter)]
    span = (first - THICKNESS, second)
    datums = _datum_holes(collector, settings.datums, [*both[0], *(both[1] if leans else ()), *rods], span)
    drilled, table = [[*holes, *rods, *datums] for holes in both], settings.table
    outlines = [
        _outline(collector, holes, table, (at - THICKNESS, at))
        for holes, at in zip(drilled, (first, second), strict=True)
    ]
    holes = drilled[0]
    plates = [
        LocatingPlate(f"{settings.letter}L{named + k}", collector.name, outline, tuple(own), THICKNESS, at)
        for k, at, own, (outline, _) in zip((1, 2), (first, second), drilled, outlines, strict=True)
    ]
    reached = tuple(_nearest(plates, hole.datum, height) for hole, height in datums.items())
    has_feet = all(feet for _, feet in outlines)
    tilt = math.asin(min(1.0, abs(dot(table.normal, collector.frame.z)))) if table is not None and has_feet else 0.0
    lean = possible_lean(play(holes, settings.gap) / 2, apart)
    pair = PlatePair((plates[0], plates[1]), apart, add, lean, has_feet, reached, tilt, tubes=tubes[0][0].role)
    return replace(pair, run=collector.bores[0].run if collector.mouth else "", leaning=leans)


def _tube_holes(collector: Collector, at: float, named: tuple[dict[str, str], dict[str, float]]) -> list[PlateHole]:
    """The holes for the tubes in a plate whose downstream face is `at`; `named`: by run, its mark and its hole's width.

    The sides of a hole are square to the plate. A tube that leans goes through both faces in ellipses, one beside the
    other, and has a slot round both: as wide as another tube's hole, and rounded like it.
    """
    marks, wide = named
    if not collector.lean:
        return [PlateHole(spot, wide[run], run, mark=marks[run]) for run, spot in _spots(collector, marks).items()]
    axes, found = axes_matrix(collector.frame), list[PlateHole]()
    for bore in (bore for bore in collector.bores if bore.run in marks):
        start = axes @ subtract(bore.frame.origin, collector.frame.origin)
        way = axes @ np.array(bore.frame.z)
        x, y, _ = start + way * ((at - THICKNESS / 2 - start[2]) / way[2])
        across = float(np.hypot(way[0], way[1]))
        half = THICKNESS / 2 * across / way[2] + wide[bore.run] / 2 * (1 / way[2] - 1)
        slot = (float(half * way[0] / across), float(-half * way[1] / across))
        found.append(PlateHole((float(x), -float(y)), wide[bore.run], bore.run, mark=marks[bore.run], slot=slot))
    return found


def _refuse_crossing(collector: Collector, holes: Sequence[PlateHole], past: float, units: str) -> None:
    """Raises MockError where tubes that lean to each other have too little plate between them."""
    for k, hole in enumerate(holes):
        for other in holes[:k] if collector.lean else ():
            ends = [(a, b) for a in ends_of(hole) for b in ends_of(other)]
            web = min(math.dist(a[:2], b[:2]) - a[2] - b[2] for a, b in ends)
            if web < LEAST_BETWEEN:
                raise MockError(
                    f"the last straights of collector {collector.name} are too short for its locating plates: they "
                    f"would reach {with_unit(past, units)} past the plane, where its tubes lean into each other; make "
                    f"these straights {with_unit(past, units, 0)} longer for plates"
                )


def _spots(collector: Collector, names: Container[str]) -> dict[str, Vec2]:
    axes = axes_matrix(collector.frame)
    spots: dict[str, Vec2] = {}
    for bore in collector.bores:
        if bore.run in names:
            x, y, _ = axes @ subtract(bore.frame.origin, collector.frame.origin)
            spots[bore.run] = (float(x), -float(y))
    return spots


def _rods(spots: Sequence[Vec2], diameter: float) -> list[Vec2]:
    """Beside the tubes, to the left and to the right of all of them."""
    reach = diameter / 2 + RIM
    xs, ys = zip(*spots, strict=True)
    out, middle = reach + ROD / 2 + 3.0, (min(ys) + max(ys)) / 2
    return [(min(xs) - out, middle), (max(xs) + out, middle)]


def _datum_holes(
    collector: Collector, datums: Sequence[Datum], others: Sequence[PlateHole], span: tuple[float, float]
) -> dict[PlateHole, float]:
    """A hole for each reference point that the plates reach, and the point's distance past the collector plane."""
    axes, found = axes_matrix(collector.frame), dict[PlateHole, float]()
    for datum in datums:
        x, y, z = (float(v) for v in axes @ subtract(datum.at, collector.frame.origin))
        hole = PlateHole((x, -y), datum.hole, None, datum.name)
        rooms = [math.dist(hole.at, o.at) - (hole.diameter + o.diameter) / 2 for o in (*others, *found)]
        tubes = [math.dist(hole.at, o.at) for o in others if o.run is not None]
        if min(rooms) >= BESIDE and min(tubes) <= REACH and span[0] - REACH <= z <= span[1] + REACH:
            found[hole] = z
    return found


def _nearest(plates: Sequence[LocatingPlate], name: str, height: float) -> DatumHole:
    """The plate nearest to a reference point, and the distance."""
    off = {plate: max(height - plate.downstream, plate.downstream - plate.thickness - height) for plate in plates}
    plate = min(plates, key=lambda plate: off[plate])
    return DatumHole(name, plate.name, max(off[plate], 0.0), height > plate.downstream)


def _outline(
    collector: Collector, holes: Sequence[PlateHole], table: Plane | None, span: tuple[float, float]
) -> tuple[tuple[Vec2, ...], bool]:
    """The plate, and whether it has feet on the table."""
    shape = _rims(holes)
    feet = None if table is None else _feet(collector, shape, table, span)
    if feet is not None:
        shape = feet
    corners = max(shape.to_polygons(), key=lambda points: float(np.ptp(points)))
    return tuple((round(float(x), 4), round(float(y), 4)) for x, y in corners), feet is not None


def _rounds(hole: PlateHole) -> tuple[tuple[float, float, float], ...]:
    """The circle of a hole, or both of a slot."""
    return ends_of(hole)[:1] if hole.slot == (0.0, 0.0) else ends_of(hole)


def _rims(holes: Sequence[PlateHole]) -> CrossSection:
    """The plate without feet."""
    return CrossSection.batch_hull([_rim(hole, ROUND_ROD if hole.run is None else RIM) for hole in holes])


def _rim(hole: PlateHole, wide: float) -> CrossSection:
    """A hole or a slot with so much plate round it, filled."""
    return CrossSection.batch_hull(
        [CrossSection.circle(r + wide, SIDES).translate((x, y)) for x, y, r in _rounds(hole)]
    )


def _feet(collector: Collector, shape: CrossSection, table: Plane, span: tuple[float, float]) -> CrossSection | None:
    """The plate extended down to the table and cut along it; None if it is not above the table.

    Both of its faces, at `span` past the collector plane, stay clear of the table: a square edge rests on its lower
    side.
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


def _words(plate: LocatingPlate) -> list[Words]:
    """The plate's name, and each run's mark beside its hole, wherever there is room."""
    edge = points_on(polygon(plate.outline), 1.0)
    holes = [points_on(opening.outline, 1.0) for opening in openings_of(plate.holes)]
    tubes = {hole.mark: hole.at for hole in plate.holes if hole.run is not None}
    top = (float(edge[:, 0].mean()), float(edge[:, 1].max()))
    return list(with_room([(plate.name, top), *tubes.items()], edge, holes, HAND))


def _web(plate: LocatingPlate, words: Sequence[Words], holes: Sequence[CrossSection]) -> CrossSection:
    """What is printed of a plate, before its holes: rings round them, bars to the tubes from rods, reference points
    and texts, and its feet whole."""
    outline, tubes = CrossSection([plate.outline]), [hole.at for hole in plate.holes if hole.run is not None]
    rims = [_rim(hole, ROUND_ROD if hole.run is None else RING) for hole in plate.holes]
    beside = [hole.at for hole in plate.holes if hole.run is None]
    beside += [text.middle for text in words if text.text == plate.name]
    bars = [bar for at in beside for bar in bars_from(at, tubes, AS_NEAR)]
    labels = [label(text.middle, (text.width + 2 * HAND.clear, text.height + 2 * HAND.clear)) for text in words]
    feet = outline - _rims(plate.holes).offset(SLIVER, JoinType.Round)
    return open_web(outline, [], bars, [*rims, *labels, feet.offset(BAR, JoinType.Round)], holes)


def printed_plates(
    header: Header, pairs: Sequence[PlatePair], settings: MockSettings
) -> tuple[tuple[MockPart, ...], list[str]]:
    """The locating plates for which the bed has room, and a note for each other one."""
    collectors = {collector.name: collector for collector in header.draft.collectors}
    made, notes = [], []
    for plate in (plate for pair in pairs for plate in pair.plates):
        part = plate_part(plate, collectors[plate.collector])
        if has_room(part.mesh, settings.bed):
            made.append(part)
        else:
            x, y = (with_unit(each, settings.units, 0) for each in part.size[:2])
            notes.append(f"Locating plate {plate.name}, {x} × {y}, is too large for the bed: cut it by its DXF.")
    return tuple(made), notes


def plate_part(plate: LocatingPlate, collector: Collector) -> MockPart:
    """The plate lying on its downstream face. Raises UnsoundPartError if it is not sound."""
    words = _words(plate)
    holes = [section_of(opening) for opening in openings_of(plate.holes)]
    solid = prism(
        CrossSection.batch_boolean([_web(plate, words, holes), *holes], OpType.Subtract), 0.0, plate.thickness
    )
    cut = [cut_words(text, plate.thickness) for text in words]
    mesh = sound_mesh(plate.name, Manifold.batch_boolean([solid, *cut], OpType.Subtract))
    frame = collector.frame
    home = Frame(point_in(frame, (0.0, 0.0, plate.downstream)), frame.x, scaled(frame.y, -1.0), scaled(frame.z, -1.0))
    numbers = tuple(hole.run for hole in plate.holes if hole.run is not None)
    least = plate.thickness * least_web(plate)
    return MockPart(plate.name, numbers, (), mesh, home, least, kind="locating plate", collector=collector.name)


def least_web(plate: LocatingPlate) -> float:
    """The narrowest web between two openings, or between an opening and the edge, mm."""
    edge = points_on(polygon(plate.outline), 0.5)
    rounds = [
        [(np.array((x, y)), r) for k in opening.holes for x, y, r in _rounds(plate.holes[k])]
        for opening in openings_of(plate.holes)
    ]
    to_edge = [float(np.linalg.norm(edge - at, axis=1).min()) - radius for group in rounds for at, radius in group]
    between = [
        math.dist(a, b) - r - s
        for k, group in enumerate(rounds)
        for other in rounds[:k]
        for a, r in group
        for b, s in other
    ]
    return min(to_edge + between)
