"""The flange end of the mock: plates that go on the studs, as many ports on each as the bed has room for."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from manifold3d import CrossSection, JoinType, Manifold, OpType

from headergen.geometry.centreline import cut_out, frame_at
from headergen.geometry.frames import add, axes_matrix, dot, subtract
from headergen.geometry.mesh import Points
from headergen.geometry.outline import circle, points_on, polygon
from headergen.geometry.tube_mesh import outer_skin
from headergen.mock.beginning import Beginning, least_reach, outside
from headergen.mock.cuts import EDGE, SOCKET_BOTTOM
from headergen.mock.joint import NOTCH_BEYOND, NOTCH_DEPTH, SIDES, Fit, joint_frame, socket
from headergen.mock.lettering import words_on_plate
from headergen.mock.part import MockPart, sound_mesh
from headergen.mock.solid import inverse, placement, prism, seen_in, solid_of
from headergen.mock.strength import section_at
from headergen.mock.swing import said_of_bolts
from headergen.mock.tubes import CHORD_ERROR, THROUGH
from headergen.model import Bolt, Centreline, Flange, Line, MockSettings, Port

RING = 10.0  # mm of plate round a tube, where the ports leave room
ROUND_BOLT = 5.0  # mm of plate round a bolt hole
APART = 0.5  # mm between two plates
OVER_PLATE = 1.0  # mm that the end of a leaning stub stays over the plate
LEANS = 0.01  # sine from which a stub counts as leaning
SAME_DISTANCE = 2.0  # mm within which a bolt counts as between two ports
SECTIONS = (0.9, 0.5, 0.1)  # of a socket's depth, from its face, at which its wall is looked at

Spot = tuple[float, float]


@dataclass(frozen=True)
class Stub:
    """The first stretch of a primary, up to the socket of its flange plate."""

    line: Centreline
    end: float
    fit: Fit
    begins: Beginning
    pieces: int  # of the primary, that it reaches into


@dataclass(frozen=True)
class PlateShape:
    ports: tuple[Port, ...]
    bolts: tuple[Bolt, ...]


def least_stub(line: Centreline, flange: Flange, settings: MockSettings, radius: float) -> float:
    """How far a stub reaches from the face at least: its square end clear of the plate, with room for its socket."""
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
    flange: Flange, wanted: Collection[int], radius: float, settings: MockSettings
) -> tuple[PlateShape, ...]:
    """Which ports and bolts go on which plate: ports in their order, bolts between two plates by turns.

    `wanted` are the ports that have a stub. A bolt farther off than the bed is wide is left out.
    """
    near = {bolt: set(_ports_near(bolt, flange)) for bolt in flange.bolts}
    groups: list[list[Port]] = []
    for port in (port for port in flange.ports if port.number in wanted):
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
    return tuple(shapes)


def _all_bolts(ports: Sequence[Port], near: Mapping[Bolt, Collection[int]]) -> PlateShape:
    numbers = {port.number for port in ports}
    return PlateShape(tuple(ports), tuple(bolt for bolt, others in near.items() if numbers & set(others)))


def spot_of(flange: Flange, port: Port) -> Spot:
    """A port's middle on the flange face."""
    x, y, _ = axes_matrix(flange.frame) @ subtract(port.frame.origin, flange.frame.origin)
    return (float(x), float(y))


def _ports_near(bolt: Bolt, flange: Flange) -> tuple[int, ...]:
    away = {port.number: math.dist(bolt.at, spot_of(flange, port)) for port in flange.ports}
    least = min(away.values())
    return tuple(number for number, distance in away.items() if distance <= least + SAME_DISTANCE)


def _fits(shape: PlateShape, flange: Flange, radius: float, settings: MockSettings) -> bool:
    x0, y0, x1, y1 = outline(shape, flange, radius).bounds()
    size, bed = sorted((x1 - x0, y1 - y0)), sorted(settings.bed[:2])
    return bool(size[0] + 2 * EDGE <= bed[0] and size[1] + 2 * EDGE <= bed[1])


def outline(shape: PlateShape, flange: Flange, radius: float) -> CrossSection:
    """The plate from above, in the flange's axes: round its tubes and its bolts, and what lies between them."""
    ring = radius + ring_width(flange, radius)
    circles = [CrossSection.circle(ring, SIDES).translate(spot_of(flange, port)) for port in shape.ports]
    circles += [CrossSection.circle(bolt.hole / 2 + ROUND_BOLT, 48).translate(bolt.at) for bolt in shape.bolts]
    return CrossSection.batch_hull(circles)


def ring_width(flange: Flange, radius: float) -> float:
    spots = [spot_of(flange, port) for port in flange.ports]
    pairs = [math.dist(a, b) for k, a in enumerate(spots) for b in spots[:k]]
    return min([RING, *((apart - 2 * radius - APART) / 2 for apart in pairs)])


def flange_plates(
    flange: Flange, stubs: Mapping[int, Stub], radius: float, settings: MockSettings
) -> tuple[MockPart, ...]:
    """A plate for each group of ports; `stubs` by primary. Raises UnsoundPart when one does not come out sound."""
    wide = max(stub.begins.reach for stub in stubs.values())
    shapes = plate_shapes(flange, stubs.keys(), wide, settings)
    parts = []
    taken = CrossSection()
    for number, shape in enumerate(shapes, 1):
        whole = outline(shape, flange, wide)
        parts.append(_plate(f"{settings.letter}F{number}", shape, whole - taken, (flange, stubs, radius, settings)))
        taken = taken + whole.offset(APART, JoinType.Round, circular_segments=48)
    return tuple(parts)


def _plate(
    name: str,
    shape: PlateShape,
    section: CrossSection,
    given: tuple[Flange, Mapping[int, Stub], float, MockSettings],
) -> MockPart:
    flange, stubs, radius, settings = given
    holes = [CrossSection.circle(bolt.hole / 2, 48).translate(bolt.at) for bolt in shape.bolts]
    solid = prism(CrossSection.batch_boolean([section, *holes], OpType.Subtract), -THROUGH, flange.finished)
    away, sockets, stations = [], [], []
    local = inverse(flange.frame)
    for port in shape.ports:
        stub = stubs[port.number]
        bore = min(stub.fit.core, least_reach(stub.begins)) - settings.wall
        through = outer_skin(_from_behind(stub, radius, THROUGH), bore, CHORD_ERROR)
        solid = solid + _outside(stub, radius).transform(local)
        away.append(solid_of(through.mesh).transform(local))
        end = joint_frame(stub.line, stub.end)
        away.append(socket(stub.fit, radius, bore).transform(placement(end)).transform(local))
        sockets.append((port.number, seen_in(flange.frame, end)))
        for share in SECTIONS:
            frame = seen_in(flange.frame, joint_frame(stub.line, stub.end - share * stub.fit.length))
            stations.append((port.number, frame))
    away += _letters(name, shape, section, (flange, stubs, radius))
    # the face of the plate and of its tubes in one cut
    solid = Manifold.batch_boolean([solid.trim_by_plane((0.0, 0.0, 1.0), 0.0), *away], OpType.Subtract)
    reaches = (frame_at(stubs[port.number].line, stubs[port.number].line.length)[0] for port in shape.ports)
    seen = [axes_matrix(flange.frame) @ subtract(reach, flange.frame.origin) for reach in reaches]
    notes = said_of_bolts(shape.bolts, [(float(x), float(y)) for x, y, _ in seen])
    numbers = tuple(port.number for port in shape.ports)
    mesh = sound_mesh(name, solid)
    sections = tuple(section_at(solid, frame, radius + 1.0, number) for number, frame in stations)
    least = min(section.area for section in sections)
    pieces = tuple(range(1, max(stubs[number].pieces for number in numbers) + 1))
    return MockPart(name, numbers, pieces, mesh, flange.frame, least, None, tuple(sockets), notes, sections)


def _outside(stub: Stub, radius: float) -> Manifold:
    if stub.begins.tube:
        return outside(stub.begins, stub.line, stub.end, radius + 2 * THROUGH)
    return solid_of(outer_skin(_from_behind(stub, radius), radius, CHORD_ERROR).mesh)


def _from_behind(stub: Stub, radius: float, beyond: float = 0.0) -> Centreline:
    """The stub's centreline, begun so far behind the face that its square end is clear of it."""
    back = radius + 2 * THROUGH
    part = cut_out(stub.line, 0.0, stub.end)
    first, last = part.segments[0], part.segments[-1]
    lead = Line(first.step, add(first.start, first.tangent, -back), first.tangent, first.toward, back)
    segments = (lead, *part.segments)
    if beyond:
        end = joint_frame(part, part.length)
        segments += (Line(last.step, end.origin, end.z, end.x, beyond),)
    return Centreline(part.primary, segments)


def _letters(
    name: str, shape: PlateShape, section: CrossSection, given: tuple[Flange, Mapping[int, Stub], float]
) -> list[Manifold]:
    """Each primary's name under its tube, and the plate's over the first, clear of tubes, notches and bolts."""
    flange, stubs, radius = given
    holes = [_footprint(stubs[port.number], flange, radius) for port in shape.ports]
    holes += [points_on(circle(bolt.at, bolt.hole / 2), 1.0) for bolt in shape.bolts]
    spots = [spot_of(flange, port) for port in shape.ports]
    away = max(stubs[port.number].begins.reach for port in shape.ports) + RING / 2
    words = [(f"P{port.number}", (x, y - away)) for port, (x, y) in zip(shape.ports, spots, strict=True)]
    words.append((name, (spots[0][0], spots[0][1] + away)))
    edge = max(section.to_polygons(), key=lambda corners: float(np.ptp(corners)))
    return words_on_plate(words, _along(edge), holes, flange.finished)


def _footprint(stub: Stub, flange: Flange, radius: float) -> Points:
    """(n, 2) places round what stands over a stub's stretch of the plate, notches that are cut into the plate too."""
    frames = [joint_frame(stub.line, stub.end * k / 8) for k in range(9)]
    seen = [axes_matrix(flange.frame) @ subtract(frame.origin, flange.frame.origin) for frame in frames]
    reach = max(radius, stub.begins.reach)
    reach = max(reach, radius + (NOTCH_BEYOND if seen[-1][2] - NOTCH_DEPTH - radius < flange.finished else 0.0))
    circles = [CrossSection.circle(reach, SIDES).translate((float(x), float(y))) for x, y, _ in seen]
    return _along(CrossSection.batch_hull(circles).to_polygons()[0])


def _along(corners: Points) -> Points:
    """(n, 2) places along a polygon, a millimetre apart or less."""
    return points_on(polygon([(float(x), float(y)) for x, y in corners]), 1.0)
