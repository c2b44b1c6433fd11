"""Saddles: each holds the two pieces at a joint of the steel while they are tacked.

Ribs stand on a beam, two under each piece or a wide one under a short piece, and the tube lies in them up to its
middle. Whatever the tube takes on its way in from above is cut away, so that it can be laid in and lifted out, and
nothing overhangs in the print. Between the inner ribs is a window: no plastic comes nearer to the joint than that. A
slot in each inner rib shows the line scribed on its piece, which sets its turn; where a rib reaches far into a bend,
the bend itself does. The pieces may be of two sizes; a rib holds one.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise, product

import numpy as np
from manifold3d import CrossSection, Manifold, OpType

from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.frames import axes_matrix, cross, dot, point_in, scaled
from headergen.geometry.mesh.triangles import Points
from headergen.mock.joint import SIDES
from headergen.mock.lettering import HEIGHT, TO_COLLECTOR, flat_letters, text_width
from headergen.mock.packing import has_room
from headergen.mock.part import MockPart, sound_mesh
from headergen.mock.sizes import Outside, outside_of, radius_in
from headergen.mock.solid import MockError, UnsoundPartError, prism
from headergen.model import Centreline, CutPiece, Frame, Line, MockSettings, Run, SaddleFacts, Vec, WeldJoint
from headergen.words.numbers import with_unit

CLEAR = 25.0  # mm from the joint that are free of plastic: as far as the tube is cleaned bright
SEAT = 0.1  # mm between tube and rib
RIB, WALL = 6.0, 3.0  # mm along the tube; beside it
APART = 45.0  # mm between the ribs under a straight, middle to middle
LEAST_APART = 20.0
REACH = 95.0  # mm from the joint to the end of a rib, at most
INTO_BEND = math.radians(40)  # of a bend, to the rib that holds its turn
FROM_END = 2.0  # mm from the end of a piece
BEAM, WIDE, UNDER = 8.0, 20.0, 4.0  # mm: height and width of the beam, height of a rib under its tube
LEVER = 14.0  # mm beside the axis of the joint from which a rib holds the turn: 1° is more than the play
SLOT, SLOT_DEPTH = 1.2, 2.5  # mm: width, and depth into the rib
LEAST_DOWN, AT_RIM = 0.25, 30.0  # cosine from straight down of a line near the rim of a rib, and what that counts, mm
STEEPEST = 0.75  # sine of a tube's slope in a rib
SPARE = 6.0  # mm past the ribs, where the seat goes on
BESIDE = 3.0  # mm between the beam and the rest of the tube
LEANING = 1.0  # mm more to a rib in a bend, which stands upright where the tube is not level
AROUND = 260.0  # mm along the tube on both sides that are looked at
CHORD = 3.0  # mm along a bend between the sections of what is cut away
BETWEEN = 4.0  # mm between the name and the arrow
TURNS = 72  # ways up that are tried
TRIED = 8  # of these, the lowest
THIN = 0.01  # mm
START = "x of what it starts from"
AHEAD = 0.01  # mm into a bend at which its plane is taken


@dataclass(frozen=True)
class _Half:
    """One piece at a joint: the stretches of the run that lie in ribs, nearest first, and its scribed line.

    `line`: unit vector from the middle of the tube; `what`: whose line it is. `holds_turn`: a rib is far in its bend.
    """

    ribs: tuple[tuple[float, float], ...]
    line: Vec
    what: str
    holds_turn: bool


def saddles_of(
    tube: tuple[Run, Centreline, str], pieces: Sequence[CutPiece], joints: Sequence[WeldJoint], settings: MockSettings
) -> list[tuple[MockPart, SaddleFacts] | str]:
    """A saddle for each joint of a run, or why there is none. `tube`: the run, its centreline and its stem in names."""
    (run, line, stem), found = tube, list[tuple[MockPart, SaddleFacts] | str]()
    for joint in joints:
        name = f"{settings.letter}H{stem}-{joint.number}"
        before, after = pieces[joint.number - 1], pieces[joint.number]
        try:
            found.append(saddle_part(name, (run, line), (before, after, joint.at), settings))
        except MockError as error:
            found.append(f"There is no saddle {name} for joint {joint.number} of {run.name}: {error}.")
    return found


def saddle_part(
    name: str, tube: tuple[Run, Centreline], of: tuple[CutPiece, CutPiece, float], settings: MockSettings
) -> tuple[MockPart, SaddleFacts]:
    """The saddle of one joint, standing on its beam, and its facts. Raises MockError if there is no room for one."""
    (run, line), (before, after, at) = tube, of
    outside = outside_of(run)
    scribed = _scribed(line, before, after, at)
    options = [
        _sides(piece, (at, way), mine, (outside, settings.units))
        for piece, way, mine in ((before, -1, scribed[0]), (after, 1, scribed[1]))
    ]
    for sides in product(*options):
        for frame, lines in _ways_up(line, at, (sides[0], sides[1])):
            try:
                solid, low = _solid(name, (line, outside), frame, (at, (sides[0], sides[1]), lines))
                mesh = sound_mesh(name, solid)
            except UnsoundPartError:  # the tube itself is in the way of the beam
                continue
            if _off_the_joint(solid, outside.at(at), low) and has_room(mesh, settings.bed):
                home = Frame(point_in(frame, (0.0, 0.0, low)), frame.x, frame.y, frame.z)
                shown = [_said_of(side, way) for side, way in zip(sides, lines, strict=True)]
                held = (sides[0].holds_turn, sides[1].holds_turn)
                facts = SaddleFacts(name, run.name, before.number, (shown[0], shown[1]), held)
                pieces = (before.number, after.number)
                return MockPart(name, (run.name,), pieces, mesh, home, 0.0, kind="saddle"), facts
    raise MockError("the tube itself is in its way, whichever way up, or the bed has no room for it")


def _off_the_joint(solid: Manifold, radius: float, low: float) -> bool:
    """Whether nothing is nearer to the joint than it may be; `low`: the height of the bed in the joint's frame."""
    disc = Manifold.cylinder(2 * THIN, radius, radius, SIDES, True).rotate((0.0, 90.0, 0.0)).translate((0.0, 0.0, -low))
    return float(disc.min_gap(solid, 2 * CLEAR)) >= CLEAR - 2 * THIN


def _said_of(side: _Half, way: Vec) -> str:
    shown = dot(side.line, way) > 0
    if side.what == START:
        return f"line {'at' if shown else 'opposite'} {START}"
    return f"{side.what}, on the {'outside' if shown else 'inside'}"


def _scribed(line: Centreline, before: CutPiece, after: CutPiece, at: float) -> tuple[tuple[Vec, str], tuple[Vec, str]]:
    """The line on each piece at the joint, on the outside of its bend; on a straight it is carried on."""
    arc = max(at - (before.legs[1] if before.is_bend else 0.0) - AHEAD, AHEAD)
    first = frame_at(line, arc)
    toward = cross(first[2], first[1])
    bent = any(not isinstance(segment, Line) and begin < arc for segment, begin in _segments(line))
    mine = (scaled(toward, -1.0), f"line of piece {before.number}") if bent else (toward, START)
    if not after.is_bend:
        return mine, mine
    _, tangent, normal = frame_at(line, at + after.legs[0] + AHEAD)
    return mine, (scaled(cross(normal, tangent), -1.0), f"line of piece {after.number}")


def _segments(line: Centreline) -> Iterator[tuple[object, float]]:
    yield from zip(line.segments, line.starts, strict=False)


def _sides(
    piece: CutPiece, place: tuple[float, int], scribed: tuple[Vec, str], given: tuple[Outside, str]
) -> list[_Half]:
    """Ribs under one piece, in one or two ways.

    `place`: of the joint, and 1 for the piece after it, −1 for the one before; `given`: the outside of the tube, and
    the unit of the job. Raises MockError without room for a rib, or if the tube changes its size in each way.
    """
    (at, way), (outside, units) = place, given
    radius = outside.most(piece.start, piece.end)
    bend = _Bend(piece.legs[0 if way > 0 else 1] if piece.is_bend else piece.length, piece.radius, piece.angle)
    first, room = _first_clear(bend, radius), min(piece.length - FROM_END, REACH)
    if room - first < RIB:
        needed = with_unit(first + RIB + FROM_END, units)
        raise MockError(f"piece {piece.number} is {with_unit(piece.length, units)} long, and a rib needs {needed}")

    def side(ribs: Sequence[tuple[float, float]]) -> _Half:
        mine = tuple((at + way * low, at + way * high) if way > 0 else (at - high, at - low) for low, high in ribs)
        low, high = ribs[-1]
        return _Half(mine, *scribed, bend.lever((low + high) / 2) >= LEVER)

    near, last = (first, first + RIB), room - RIB
    if last - first < LEAST_APART:
        found = [side([(first, room)])]
    else:
        far = min(first + APART, last)
        found = [side([near, (far, far + RIB)])]
        if piece.is_bend:
            into = bend.leg + min(INTO_BEND, bend.angle) * bend.radius
            far = min(max(into - RIB / 2, first + LEAST_APART), last)
            found.insert(0, side([near, (far, far + RIB)]))
    held = [each for each in found if all(outside.least(*rib) == outside.most(*rib) for rib in each.ribs)]
    if not held:
        raise MockError(f"the tube changes its size where piece {piece.number} would lie in a rib")
    return held


@dataclass(frozen=True)
class _Bend:
    """A piece as it goes away from its joint: straight, then bent, then straight again; a straight has no bend."""

    leg: float
    radius: float
    angle: float

    def turned(self, at: float) -> float:
        """The angle of the tube to what it is at the joint."""
        return min(max(at - self.leg, 0.0) / self.radius, self.angle) if self.radius else 0.0

    def lever(self, at: float) -> float:
        """How far beside the axis of the joint the middle of the tube is."""
        turned = self.turned(at)
        beyond = max(at - self.leg - self.angle * self.radius, 0.0)
        return self.radius * (1 - math.cos(turned)) + beyond * math.sin(turned)


def _first_clear(bend: _Bend, radius: float) -> float:
    """Where the first rib may begin: its corner on the inside of the bend is the nearest to the joint."""
    at = CLEAR
    if not bend.radius or bend.leg >= CLEAR + RIB:
        return at
    while at < REACH and _corner(bend, at, radius) < CLEAR + LEANING:
        at += 0.5
    return at


def _corner(bend: _Bend, at: float, radius: float) -> float:
    """From the tube's end at the joint to a rib's corner on the inside of the bend."""
    turned, lever, half = bend.turned(at), bend.lever(at), radius + WALL
    straight = min(at, bend.leg) + max(at - bend.leg - bend.angle * bend.radius, 0.0) * math.cos(turned)
    along = straight + bend.radius * math.sin(turned) - half * math.sin(turned)
    beside = max(lever + half * math.cos(turned) - radius, 0.0)
    return math.hypot(along, beside)


def _ways_up(line: Centreline, at: float, sides: tuple[_Half, _Half]) -> Iterator[tuple[Frame, tuple[Vec, Vec]]]:
    """Frames at the joint, x along the travel and z up, lowest saddle first, and each scribed line as it is shown.

    A line that is on the open side is shown by the one opposite it.
    """
    point, along, normal = frame_at(line, at)
    other = cross(normal, along)
    found = []
    for k in range(TURNS):
        turn = 2 * math.pi * k / TURNS
        up = _sum(scaled(normal, math.cos(turn)), scaled(other, math.sin(turn)))
        frame = Frame(point, along, cross(up, along), up)
        lines = [side.line if dot(side.line, up) < 0 else scaled(side.line, -1.0) for side in sides]
        stations = [frame_at(line, sum(rib) / 2) for side in sides for rib in side.ribs]
        heights = [dot(_sum(place, scaled(point, -1.0)), up) for place, _, _ in stations]
        if max(abs(dot(tangent, up)) for _, tangent, _ in stations) <= STEEPEST:
            on_rim = AT_RIM * sum(-dot(way, up) < LEAST_DOWN for way in lines)
            found.append((round(max(heights) - 2 * min(heights) + on_rim, 3), k, frame, (lines[0], lines[1])))
    return ((frame, lines) for _, _, frame, lines in sorted(found, key=lambda each: each[:2])[:TRIED])


def _sum(a: Vec, b: Vec) -> Vec:
    return (a[0] + b[0], a[1] + b[1], a[2] + b[2])


def _solid(
    name: str,
    tube: tuple[Centreline, Outside],
    frame: Frame,
    held: tuple[float, tuple[_Half, _Half], tuple[Vec, Vec]],
) -> tuple[Manifold, float]:
    """The saddle on the bed, and the height of the bed in the frame of the joint."""
    (line, outside), (at, sides, lines) = tube, held
    axes, origin = axes_matrix(frame), np.array(frame.origin)
    spans = [*reversed(sides[0].ribs), *sides[1].ribs]
    stations = [frame_at(line, (begin + end) / 2) for begin, end in spans]
    radii = [outside.most(begin, end) for begin, end in spans]
    middles = [axes @ (np.array(point) - origin) for point, _, _ in stations]
    lowest = min(float(middle[2]) - radius for middle, radius in zip(middles, radii, strict=True))
    top = min(-outside.most(at - CLEAR, at + CLEAR) - CLEAR, lowest - UNDER)
    low = top - BEAM
    discs = [CrossSection.circle(WIDE / 2, 64).translate((float(m[0]), float(m[1]))) for m in middles]
    beam = CrossSection.batch_boolean([CrossSection.batch_hull(pair) for pair in pairwise(discs)], OpType.Add)
    ribs = []
    for middle, (_, along, _), (begin, end), radius in zip(middles, stations, spans, radii, strict=True):
        x, y, _ = (axes @ np.array(along)).tolist()
        plan = CrossSection.square((end - begin, 2 * (radius + WALL)), True).rotate(math.degrees(math.atan2(y, x)))
        ribs.append(prism(plan.translate((float(middle[0]), float(middle[1]))), low, float(middle[2])))
    held_at = (spans[0][0] - SPARE, spans[-1][1] + SPARE)
    seats = _laid_in(tube, frame, held_at, SEAT)
    rest = [_laid_in(tube, frame, span, BESIDE) for span in _beyond(line, at, held_at)]
    away = [seats, *rest, *(_slot(side, way, tube, frame) for side, way in zip(sides, lines, strict=True))]
    away += [*_letters(name, top)]
    solid = Manifold.batch_boolean([prism(beam, low, top), *ribs], OpType.Add)
    solid = Manifold.batch_boolean([solid, *away], OpType.Subtract)
    return solid.translate((0.0, 0.0, -low)), low


def _letters(name: str, top: float) -> Iterator[Manifold]:
    """The name along the beam in the window, and after it an arrow along the travel."""
    arrow = text_width(TO_COLLECTOR)
    room = 2 * CLEAR - 4.0 - arrow - BETWEEN
    height = HEIGHT * min(1.0, room / text_width(name))
    middle = (arrow + BETWEEN) / 2
    yield flat_letters(name, (-middle, 0.0), top, height)
    right = text_width(name) * height / HEIGHT / 2 + BETWEEN + arrow / 2 - middle
    yield flat_letters(TO_COLLECTOR, (0.0, 0.0), top, HEIGHT).rotate((0.0, 0.0, 90.0)).translate((right, 0.0, 0.0))


def _beyond(line: Centreline, at: float, held_at: tuple[float, float]) -> Iterator[tuple[float, float]]:
    """The stretches of the tube past the ribs."""
    for low, high in ((at - AROUND, held_at[0]), (held_at[1], at + AROUND)):
        low, high = max(low, 0.0), min(high, line.length)
        if high - low > 1.0:
            yield low, high


def _laid_in(tube: tuple[Centreline, Outside], frame: Frame, span: tuple[float, float], gap: float) -> Manifold:
    """What a stretch of the tube, grown by a gap, takes on its way in from above, in the frame of the joint."""
    (line, outside), (low, high) = tube, span
    places = {max(low, 0.0), min(high, line.length)}
    for segment, begin in _segments(line):
        end = begin + segment.length  # type: ignore[attr-defined]
        inside = (max(begin, low), min(end, high))
        if inside[1] > inside[0]:
            count = 1 if isinstance(segment, Line) else math.ceil((inside[1] - inside[0]) / CHORD)
            places |= set(np.linspace(*inside, count + 1).tolist())
    above, parts = np.array([0.0, 0.0, 4 * AROUND]), list[Manifold]()
    for size in outside.within(min(places), max(places)):
        mine = sorted({size.start, size.end} | {at for at in places if size.start < at < size.end})
        rings = [_ring(line, at, radius_in(size, at) + gap, frame) for at in mine]
        parts += (
            Manifold.hull_points(np.concatenate([one, other, one + above, other + above]))
            for one, other in pairwise(rings)
        )
    return Manifold.batch_boolean(parts, OpType.Add)


def _ring(line: Centreline, at: float, radius: float, frame: Frame) -> Points:
    """(SIDES, 3) points of the skin round a section, in the frame of the joint."""
    point, tangent, normal = (np.array(each) for each in frame_at(line, at))
    other = np.cross(normal, tangent)
    turns = 2 * math.pi * np.arange(SIDES)[:, None] / SIDES
    ring = point + radius * (np.cos(turns) * normal + np.sin(turns) * other)
    return np.asarray((ring - np.array(frame.origin)) @ axes_matrix(frame).T)


def _slot(side: _Half, way: Vec, tube: tuple[Centreline, Outside], frame: Frame) -> Manifold:
    """Through the rib nearest to the joint, where the line of its piece is shown, and up from there."""
    line, outside = tube
    begin, end = side.ribs[0]
    radius = outside.at((begin + end) / 2)
    point, along, _ = frame_at(line, (begin + end) / 2)
    axes = axes_matrix(frame)
    middle = axes @ (np.array(point) - np.array(frame.origin))
    tangent, outward = axes @ np.array(along), axes @ np.array(way)
    outward -= (outward @ tangent) * tangent  # a bend's line stays in its plane
    outward /= np.linalg.norm(outward)
    across = np.cross(tangent, outward)
    corners = [
        middle + ahead * (end - begin + 2.0) / 2 * tangent + out * outward + aside * SLOT / 2 * across
        for ahead in (-1, 1)
        for out in (radius - 2.0, radius + SEAT + SLOT_DEPTH)
        for aside in (-1, 1)
    ]
    return Manifold.hull_points(np.array(corners))
