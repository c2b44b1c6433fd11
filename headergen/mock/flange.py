"""The flange end of the mock: plates for the studs, each with as many ports as the bed has room for."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from manifold3d import CrossSection, JoinType, Manifold, OpType

from headergen.geometry.curves.centreline import cut_out, frame_at
from headergen.geometry.frames import add, axes_matrix, dot, subtract
from headergen.geometry.mesh.triangles import Points
from headergen.geometry.mesh.tube import outer_skin
from headergen.geometry.plate.lettering import Words, with_room
from headergen.geometry.plate.outline import points_on, polygon
from headergen.mock.beginning import Beginning, least_reach, outside
from headergen.mock.cuts import EDGE, SOCKET_BOTTOM
from headergen.mock.joint import FULL_RING, NOTCH_BEYOND, NOTCH_DEPTH, SIDES, JointFit, fins, joint_frame, socket
from headergen.mock.lap import APART, Lap, ear, hollow, hollow_on_face, lap_at, neck, upper_round
from headergen.mock.lettering import HAND, cut_words
from headergen.mock.part import MockPart, sound_mesh
from headergen.mock.solid import inverse, placement, prism, seen_in, solid_of
from headergen.mock.strength import sections_at
from headergen.mock.swing import said_of_bolts
from headergen.mock.tubes import CHORD_ERROR, THROUGH
from headergen.mock.web import Disc, bars_from, label, open_web
from headergen.model import Bolt, Centreline, Flange, Line, MockSettings, Port, Vec2, primary_name

RING = 10.0  # mm of plate round a tube, if the ports leave room
ROUND_BOLT = 5.0  # mm of plate round a bolt hole
FAR = 500.0  # mm
WEB = 5.0  # mm, the thickness of a plate beside its bolts
OVER_PLATE = 1.0  # mm of a leaning stub's end above the plate
LEANS = 0.01  # sine above which a stub counts as leaning
HOLDING = 2  # bolts that keep a plate from turning
LEAST_RING = 5.0  # mm of plate round a tube, if a plate makes room for a shared bolt
REACHES = 1.5  # of the distance from a bolt to the nearest port: how far the port of a plate that shares it may be
SAME_DISTANCE = 2.0  # mm within which a bolt counts as between two ports
SECTIONS = (0.9, 0.5, 0.1)  # of a socket's depth, from its face, at which its wall is measured


@dataclass(frozen=True)
class Stub:
    """The first stretch of a primary, up to the socket of its flange plate."""

    line: Centreline
    end: float
    fit: JointFit
    begins: Beginning
    pieces: int  # of the primary, that it includes, whole or in part


@dataclass(frozen=True)
class PlateShape:
    """Ports and bolts of a plate; at some shared bolts it is `under`, at others `over`, another plate."""

    ports: tuple[Port, ...]
    bolts: tuple[Bolt, ...]
    under: tuple[Lap, ...] = ()
    over: tuple[Lap, ...] = ()


def least_stub(line: Centreline, flange: Flange, settings: MockSettings, radius: float) -> float:
    """The least length of a stub from the face: its square end clear of the plate, with room for its socket."""
    at = max(flange.finished, settings.spigot + SOCKET_BOTTOM + 1.0)
    while at < line.length - 1.0:
        point, tangent, _ = frame_at(line, at)
        sine = math.sqrt(max(0.0, 1.0 - dot(tangent, flange.frame.z) ** 2))
        height = dot(subtract(point, flange.frame.origin), flange.frame.z)
        if height - radius * sine >= flange.finished - 1e-6 + (OVER_PLATE if sine > LEANS else 0.0):
            break
        at += 1.0
    return at


def plate_shapes(
    flange: Flange, numbers: Collection[int], radius: float, settings: MockSettings
) -> tuple[PlateShape, ...]:
    """The ports and bolts of each plate: ports in their order, bolts between two plates in turns.

    A plate with too few bolts to hold it shares one with the plate beside it. `numbers` are the ports that have a stub.
    A bolt farther off than the width of the bed is left out.
    """
    near = {bolt: set(_ports_near(bolt, flange)) for bolt in flange.bolts}
    groups: list[list[Port]] = []
    for port in (port for port in flange.ports if port.number in numbers):
        if groups and _fits(_all_bolts([*groups[-1], port], near), flange, radius, settings):
            groups[-1].append(port)
        else:
            groups.append([port])
    shapes = [PlateShape(tuple(ports), ()) for ports in groups]
    for bolt in sorted(flange.bolts, key=lambda bolt: (len(near[bolt]), flange.bolts.index(bolt))):
        able = [k for k, ports in enumerate(groups) if any(port.number in near[bolt] for port in ports)]
        for k in sorted(able, key=lambda k: (len(shapes[k].bolts), k)):
            more = PlateShape(shapes[k].ports, (*shapes[k].bolts, bolt))
            if _fits(more, flange, radius, settings):
                shapes[k] = more
                break
    return _sharing(shapes, (flange, radius, settings))


def _sharing(shapes: Sequence[PlateShape], given: tuple[Flange, float, MockSettings]) -> tuple[PlateShape, ...]:
    """Adds bolts shared by two plates if one plate has too few; the bolt farthest from its own first."""
    found = tuple(shapes)
    for k in range(len(shapes)):
        able = [bolt for bolt in given[0].bolts if bolt not in found[k].bolts and _reaches(shapes[k], bolt, given[0])]
        at = [bolt.at for bolt in found[k].bolts]
        for bolt in sorted(able, key=lambda bolt: -min((math.dist(bolt.at, spot) for spot in at), default=0.0)):
            holders = [m for m, shape in enumerate(found) if bolt in shape.bolts]
            if len(found[k].bolts) < HOLDING and len(holders) == 1:
                found = _shared(found, bolt, (k, holders[0]), given) or found
    return found


def _reaches(shape: PlateShape, bolt: Bolt, flange: Flange) -> bool:
    mine = min(math.dist(bolt.at, spot_of(flange, port)) for port in shape.ports)
    return mine <= REACHES * min(math.dist(bolt.at, spot_of(flange, port)) for port in flange.ports)


def _shared(
    shapes: tuple[PlateShape, ...], bolt: Bolt, pair: tuple[int, int], given: tuple[Flange, float, MockSettings]
) -> tuple[PlateShape, ...] | None:
    """The plates with a bolt that goes through both of a pair, the first plate under the other; None without room."""
    (flange, radius, settings), (low, high) = given, sorted(pair)
    toward = min((spot_of(flange, port) for port in shapes[low].ports), key=lambda spot: math.dist(spot, bolt.at))
    lap = lap_at(bolt, toward, flange.finished, settings.lean)
    if lap is None:
        return None
    bolts = [tuple(dict.fromkeys((*shapes[k].bolts, bolt))) for k in (low, high)]
    under = replace(shapes[low], bolts=bolts[0], under=(*shapes[low].under, lap))
    over = replace(shapes[high], bolts=bolts[1], over=(*shapes[high].over, lap))
    # what each keeps whole: the lower plate gives way to the upper, whose hollow gives way to nothing
    bare = replace(shapes[high], bolts=tuple(each for each in shapes[high].bolts if each != bolt))
    others = [outline(shape, flange, radius) for k, shape in enumerate(shapes) if k not in (low, high)]
    kept = CrossSection.batch_boolean([*_rounds(under, flange, radius, LEAST_RING), *others], OpType.Add)
    beside = CrossSection.batch_boolean([*_rounds(bare, flange, radius, LEAST_RING), *others], OpType.Add)
    upper = _grown(outline(over, flange, radius))
    if any(overlap.area() > 0 for overlap in (kept ^ upper, beside ^ hollow_on_face(lap))):
        return None
    shared = tuple({low: under, high: over}.get(k, shape) for k, shape in enumerate(shapes))
    if len(_whole(under, shared, flange, radius).decompose()) > 1:
        return None
    if not all(_fits(shape, flange, radius, settings) for shape in (under, over)):
        return None
    return shared


def _all_bolts(ports: Sequence[Port], near: Mapping[Bolt, Collection[int]]) -> PlateShape:
    numbers = {port.number for port in ports}
    return PlateShape(tuple(ports), tuple(bolt for bolt, others in near.items() if numbers & set(others)))


def spot_of(flange: Flange, port: Port) -> Vec2:
    """A port's centre on the flange face."""
    x, y, _ = axes_matrix(flange.frame) @ subtract(port.frame.origin, flange.frame.origin)
    return (float(x), float(y))


def _ports_near(bolt: Bolt, flange: Flange) -> tuple[int, ...]:
    away = {port.number: math.dist(bolt.at, spot_of(flange, port)) for port in flange.ports}
    least = min(away.values())
    return tuple(number for number, distance in away.items() if distance <= least + SAME_DISTANCE)


def _fits(shape: PlateShape, flange: Flange, radius: float, settings: MockSettings) -> bool:
    ears = [CrossSection.circle(lap.base, SIDES).translate(lap.bolt.at) for lap in shape.under]
    x0, y0, x1, y1 = CrossSection.batch_boolean([outline(shape, flange, radius), *ears], OpType.Add).bounds()
    size, bed = sorted((x1 - x0, y1 - y0)), sorted(settings.bed[:2])
    return bool(size[0] + 2 * EDGE <= bed[0] and size[1] + 2 * EDGE <= bed[1])


def outline(shape: PlateShape, flange: Flange, radius: float) -> CrossSection:
    """The plate from above, in the flange's axes: round its tubes and its bolts, and the area between them.

    Without its ears under other plates.
    """
    return CrossSection.batch_hull(_rounds(shape, flange, radius))


def _rounds(shape: PlateShape, flange: Flange, radius: float, most: float = RING) -> list[CrossSection]:
    """The discs of a plate round each of its ports (at most `most` mm wide) and round each of its bolts."""
    ring = radius + min(most, ring_width(flange, radius))
    shared = {lap.bolt for lap in (*shape.under, *shape.over)}
    circles = [CrossSection.circle(ring, SIDES).translate(spot_of(flange, port)) for port in shape.ports]
    circles += [
        CrossSection.circle(bolt.hole / 2 + ROUND_BOLT, 48).translate(bolt.at)
        for bolt in shape.bolts
        if bolt not in shared
    ]
    return circles + [upper_round(lap) for lap in shape.over]


def ring_width(flange: Flange, radius: float) -> float:
    spots = [spot_of(flange, port) for port in flange.ports]
    pairs = [math.dist(a, b) for k, a in enumerate(spots) for b in spots[:k]]
    return min([RING, *((apart - 2 * radius - APART) / 2 for apart in pairs)])


def flange_plates(
    flange: Flange, stubs: Mapping[int, Stub], radius: float, settings: MockSettings, first: int = 1
) -> tuple[MockPart, ...]:
    """A plate for each group of ports; `stubs` by primary; `first`: the number of the first plate.

    Raises UnsoundPartError if one is not sound.
    """
    wide = max(stub.begins.reach for stub in stubs.values())
    shapes = plate_shapes(flange, stubs.keys(), wide, settings)
    parts = []
    taken = CrossSection()
    for number, shape in enumerate(shapes, first):
        whole = _whole(shape, shapes, flange, wide)
        parts.append(_plate(f"{settings.letter}F{number}", shape, whole - taken, (flange, stubs, radius, settings)))
        taken = taken + _grown(whole)
    names = [part.name for part in parts]
    return tuple(
        replace(part, notes=(*part.notes, *_said_of_laps(shape, shapes, names)))
        for part, shape in zip(parts, shapes, strict=True)
    )


def _whole(shape: PlateShape, shapes: Sequence[PlateShape], flange: Flange, radius: float) -> CrossSection:
    """The plate from above in full thickness, up to the plates over its ears."""
    ring = radius + ring_width(flange, radius)
    above = [outline(other, flange, radius) for lap in shape.under for other in shapes if lap in other.over]
    necks = [neck(lap, ring) for lap in shape.under]
    return CrossSection.batch_boolean([outline(shape, flange, radius), *necks], OpType.Add) - _grown(
        CrossSection.batch_boolean([CrossSection(), *above], OpType.Add)
    )


def _grown(section: CrossSection) -> CrossSection:
    return section.offset(APART, JoinType.Round, circular_segments=48)


def _said_of_laps(shape: PlateShape, shapes: Sequence[PlateShape], names: Sequence[str]) -> tuple[str, ...]:
    """With which plates it shares a bolt, and which of them is mounted first."""
    over = [name for lap in shape.under for name, other in zip(names, shapes, strict=True) if lap in other.over]
    under = [name for lap in shape.over for name, other in zip(names, shapes, strict=True) if lap in other.under]
    said = [f"shares a bolt with {name}, its ear under that of {name}: it goes on before {name}" for name in over]
    said += [f"shares a bolt with {name}, its ear over that of {name}: it goes on after {name}" for name in under]
    return tuple(said)


def _plate(
    name: str,
    shape: PlateShape,
    section: CrossSection,
    given: tuple[Flange, Mapping[int, Stub], float, MockSettings],
) -> MockPart:
    flange, stubs, radius, settings = given
    reach, face = max(stub.begins.reach for stub in stubs.values()), min(WEB, flange.finished)
    thick = _thick(shape, reach, flange)
    words = _words(name, shape, (section, thick, face), (flange, stubs, radius))
    section = _web(shape, section, words, (thick, flange, reach))
    holes = [CrossSection.circle(bolt.hole / 2, 48).translate(bolt.at) for bolt in shape.bolts]
    flat = [prism(section, -THROUGH, face)]
    if not thick.is_empty():
        flat.append(prism(section ^ thick, -THROUGH, flange.finished))
    solid = Manifold.batch_boolean([*flat, *map(ear, shape.under)], OpType.Add)
    cut = [prism(hole, -2 * THROUGH, flange.finished + THROUGH) for hole in holes] + [hollow(lap) for lap in shape.over]
    solid = Manifold.batch_boolean([solid, *cut], OpType.Subtract)
    away, sockets, stations = [], [], []
    local = inverse(flange.frame)
    for port in shape.ports:
        stub = stubs[port.number]
        bore = min(stub.fit.core, least_reach(stub.begins)) - settings.wall
        through = outer_skin(_from_behind(stub, radius, THROUGH), bore, CHORD_ERROR)
        solid = solid + _outside(stub, radius).transform(local)
        away.append(solid_of(through.mesh).transform(local))
        away += [hollow.transform(local) for hollow in _under_ring(stub, radius, settings)]
        end = joint_frame(stub.line, stub.end)
        away.append(socket(stub.fit, radius, bore).transform(placement(end)).transform(local))
        sockets.append((primary_name(port.number), seen_in(flange.frame, end)))
        for share in SECTIONS:
            frame = seen_in(flange.frame, joint_frame(stub.line, stub.end - share * stub.fit.length))
            stations.append((primary_name(port.number), frame, 0.0))
    away += [cut_words(each, face) for each in words]
    # the face of the plate and of its tubes in one cut
    solid = Manifold.batch_boolean([solid.trim_by_plane((0.0, 0.0, 1.0), 0.0), *away], OpType.Subtract)
    reaches = (frame_at(stubs[port.number].line, stubs[port.number].line.length)[0] for port in shape.ports)
    seen = [axes_matrix(flange.frame) @ subtract(reach, flange.frame.origin) for reach in reaches]
    said = said_of_bolts(shape.bolts, [(float(x), float(y)) for x, y, _ in seen], settings.units)
    notes = (*([f"goes on {flange.part}"] if flange.name else []), *said)
    numbers = tuple(port.number for port in shape.ports)
    mesh = sound_mesh(name, solid)
    sections = sections_at(solid, stations, radius + 1.0)
    least = min(section.area for section in sections)
    pieces = tuple(range(1, max(stubs[number].pieces for number in numbers) + 1))
    runs = tuple(map(primary_name, numbers))
    return MockPart(
        name, runs, pieces, mesh, flange.frame, least, None, tuple(sockets), notes, sections, kind="flange plate"
    )


def _web(
    shape: PlateShape, plate: CrossSection, words: Sequence[Words], given: tuple[CrossSection, Flange, float]
) -> CrossSection:
    """What is printed of a plate: rings round its tubes, bars from tube to tube and from each bolt and name to the
    tubes that it is nearest to, what is `thick`, and the metal of its names. `given`: what is thick, the flange, the
    reach of its tubes."""
    thick, flange, reach = given
    ring, spots = reach + min(LEAST_RING, ring_width(flange, reach)), [spot_of(flange, port) for port in shape.ports]
    bars = [*pairwise(spots), *(bar for bolt in shape.bolts for bar in bars_from(bolt.at, spots, REACHES))]
    names = [label(each.middle, (each.width + 2 * HAND.clear, each.height + 2 * HAND.clear)) for each in words]
    bars += [bar for each in words for bar in bars_from(each.middle, spots, 1.0)]
    return open_web(plate, [Disc(spot, ring) for spot in spots], bars, [thick, *names])


def _thick(shape: PlateShape, reach: float, flange: Flange) -> CrossSection:
    """Where a plate has its whole thickness: round its bolts, and where it laps another plate."""
    ring = reach + min(LEAST_RING, ring_width(flange, reach))
    rounds = [CrossSection.circle(bolt.hole / 2 + ROUND_BOLT, 48).translate(bolt.at) for bolt in shape.bolts]
    laps = [neck(lap, ring) for lap in shape.under] + [upper_round(lap) for lap in shape.over]
    return CrossSection.batch_boolean([*rounds, *laps], OpType.Add)


def _outside(stub: Stub, radius: float) -> Manifold:
    if stub.begins.tube:
        return outside(stub.begins, stub.line, stub.end, radius + 2 * THROUGH)
    return solid_of(outer_skin(_from_behind(stub, radius), radius, CHORD_ERROR).mesh)


def _under_ring(stub: Stub, radius: float, settings: MockSettings) -> list[Manifold]:
    """What a stub that is round from its face on can do without below the full ring of its socket, which opens to it at
    45°, beside fins, in engine axes."""
    fit, wide = stub.fit, radius - settings.tube_wall
    if stub.begins.tube or wide < fit.cavity + THROUGH / 2:
        return []
    most, low = wide + 1.0, -FAR
    profile = [
        (0.0, low),
        (most, low),
        (most, fit.cavity - most - FULL_RING),
        (fit.cavity, -FULL_RING),
        (0.0, -FULL_RING),
    ]
    below = Manifold.revolve(CrossSection([profile]), SIDES) - fins(fit, radius, settings.tube_wall, low)
    hollow = solid_of(outer_skin(_from_behind(stub, radius), wide, CHORD_ERROR).mesh)
    return [hollow ^ below.transform(placement(joint_frame(stub.line, stub.end)))]


def _from_behind(stub: Stub, radius: float, beyond: float = 0.0) -> Centreline:
    """The stub's centreline, started so far behind the face that its square end is clear of it."""
    back = radius + 2 * THROUGH
    part = cut_out(stub.line, 0.0, stub.end)
    first, last = part.segments[0], part.segments[-1]
    lead = Line(first.step, add(first.start, first.tangent, -back), first.tangent, first.normal, back)
    segments = (lead, *part.segments)
    if beyond:
        end = joint_frame(part, part.length)
        segments += (Line(last.step, end.origin, end.z, end.x, beyond),)
    return Centreline(part.run, segments)


def _words(
    name: str,
    shape: PlateShape,
    plate: tuple[CrossSection, CrossSection, float],
    given: tuple[Flange, Mapping[int, Stub], float],
) -> list[Words]:
    """Each primary's name below its tube, and the plate's name above the first, clear of tubes, notches and bolts.

    `plate`: its whole section, what of it is thick, and the height of the face beside that.
    """
    (section, thick, face), (flange, stubs, radius) = plate, given
    holes = [_footprint(stubs[port.number], (flange, face), radius) for port in shape.ports]
    edge, *windows = sorted(section.to_polygons(), key=lambda corners: -float(np.ptp(corners)))
    holes += [_along(corners) for corners in (*windows, *thick.to_polygons())]
    texts = _texts(name, shape, flange, max(stubs[port.number].begins.reach for port in shape.ports))
    return list(with_room(texts, _along(edge), holes, HAND))


def _texts(name: str, shape: PlateShape, flange: Flange, reach: float) -> list[tuple[str, Vec2]]:
    """The texts of a plate, and where they belong."""
    spots, away = [spot_of(flange, port) for port in shape.ports], reach + RING / 2
    words = [(f"P{port.number}", (x, y - away)) for port, (x, y) in zip(shape.ports, spots, strict=True)]
    return [*words, (name, (spots[0][0], spots[0][1] + away))]


def _footprint(stub: Stub, plate: tuple[Flange, float], radius: float) -> Points:
    """(n, 2) points round a stub's area on the plate, including notches cut into the plate, whose face is so high."""
    flange, face = plate
    frames = [joint_frame(stub.line, stub.end * k / 8) for k in range(9)]
    seen = [axes_matrix(flange.frame) @ subtract(frame.origin, flange.frame.origin) for frame in frames]
    reach = max(radius, stub.begins.reach)
    level = dot(frames[-1].z, flange.frame.z)
    lowest = seen[-1][2] - NOTCH_DEPTH * level - (radius + NOTCH_BEYOND) * math.sqrt(max(0.0, 1.0 - level**2))
    reach = max(reach, radius + (NOTCH_BEYOND if lowest < face else 0.0))
    circles = [CrossSection.circle(reach, SIDES).translate((float(x), float(y))) for x, y, _ in seen]
    return _along(CrossSection.batch_hull(circles).to_polygons()[0])


def _along(corners: Points) -> Points:
    """(n, 2) points along a polygon, at most a millimetre apart."""
    return points_on(polygon([(float(x), float(y)) for x, y in corners]), 1.0)
