"""The tube parts of one primary.

Between its joints a part is a thin tube. Its bore narrows to that of the spigot under a vaulted roof: everything that
lies below the spigot's bore within the printer's lean of the vertical may be hollow, so that nothing overhangs however
a part stands.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from manifold3d import CrossSection, Manifold, OpType

from headergen.geometry.curves.body import distance_to_body, tube_body
from headergen.geometry.curves.centreline import cut_out, frame_at
from headergen.geometry.curves.sides import SideJoint, highest
from headergen.geometry.frames import add, axes_matrix, cross, dot, scaled
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.geometry.mesh.tube import bore_skin, outer_skin
from headergen.mock.beginning import Beginning, least_reach, outside
from headergen.mock.cuts import SOCKET_BOTTOM, standing
from headergen.mock.joint import CHAMFER, FULL_RING, SIDES, JointFit, degree_marks, fins, joint_frame, socket, spigot
from headergen.mock.lettering import HEIGHT, NOSE, RAISED, TO_COLLECTOR, UNDER_LETTERS, on_round, text_solid
from headergen.mock.part import MockPart, hanging, sound_mesh
from headergen.mock.seated import BESIDE, Branch, fishmouth_of, pins_of, seat_cuts
from headergen.mock.sizes import Outside
from headergen.mock.solid import inverse, placement, seen_in, solid_of
from headergen.mock.strength import sections_at
from headergen.model import Centreline, Frame, Line, MockSettings
from headergen.words.numbers import area_in

BACK = 3.0  # mm of a spigot's core inside its part
THROUGH = 1.0  # mm by which a bore is cut beyond a face
WITNESS = 5.0  # length of the witness line from the stop face
RING_DEPTH, RING_HALF = 0.6, 1.4  # of the groove where the steel is trimmed; half its width a little over the skin
MARKED = 4.0  # of the tube's end, taken up by degree marks
SECTION_STEP = 2.0  # mm between the sections looked at
CHORD_ERROR = 0.04  # mm
SHELF = 1.5  # mm of the part behind the stop face at its thinnest
FOOT = 3.0  # mm up from the bed over which an end without a socket has the wall of a joint
CLOSES = math.radians(45)  # from the vertical, at least: how fast a bore narrows
ROUND = 48  # sides of the vault over a bore
SUPPORTED = 5.0  # mm² that may overhang in a socket; less is a bridge of a few strands
CLEAR = 0.3  # mm that cut-out shapes are kept from falling together


@dataclass(frozen=True)
class Span:
    """A part to be made: its tube between two lengths from the flange, and the joints at its ends, if it has them."""

    start: float
    end: float
    upstream: JointFit | None
    downstream: JointFit | None
    begins: Beginning | None = None  # of the primary, if the part begins at its port
    trimmed: float | None = None  # length from the flange to where the steel ends, if that is within the part
    seat: SideJoint | None = None  # where the part sits on another run with its fishmouth, at its start
    branches: tuple[Branch, ...] = ()  # what sits on it


def tube_part(
    line: Centreline,
    span: Span,
    size: Outside,
    settings: MockSettings,
    pieces: Sequence[int],
    name: str,
) -> MockPart:
    """The part, standing on its end toward the collector. `pieces`: the numbers of those that it stands for.

    `size`: the outside of its run.

    Raises UnsoundPartError when it does not come out sound.
    """
    least, most = size.least(span.start, span.end), size.most(span.start, span.end)
    bore = bore_radius(span, least, settings)
    tube = cut_out(line, span.start, span.end)
    solid = _filled(line, span, size)
    bed = _bed_frame(line, span, settings)
    through = bore_skin(_lengthened(tube, span.upstream), bore + settings.wall, settings.wall, bed.z, CHORD_ERROR)
    away = [solid_of(through)]
    start, end = joint_frame(line, span.start), joint_frame(line, span.end)
    if span.upstream is not None:
        solid = solid + spigot(span.upstream, BACK).transform(placement(start))
        radius = size.at(span.start)
        marks = [_witness(radius)] if span.upstream.turns is not None else degree_marks(radius)
        away += [mark.transform(placement(start)) for mark in marks]
    if span.seat is not None:
        away.append(fishmouth_of(span.seat))
    for branch in span.branches:
        away += seat_cuts(branch.joint, settings)
    if span.downstream is not None:
        away.append(socket(span.downstream, most, bore).transform(placement(end)))
    away += _hollow(line, span, (least, bore), bed, settings)
    if span.trimmed is not None:
        away.append(_ring(size.at(span.trimmed)).transform(placement(joint_frame(line, span.trimmed))))
    away += _letters(name, line, span, size)
    to_bed = inverse(bed)  # first: of triangles along an upright tube fewer boxes meet, which saves a sixth
    standing_solid = Manifold.batch_boolean([each.transform(to_bed) for each in (solid, *away)], OpType.Subtract)
    if span.seat is not None and span.seat.at_start:
        standing_solid = standing_solid + pins_of(span.seat, settings).transform(to_bed)
    stations = [(line.run, seen_in(bed, frame), length) for frame, length in _stations(line, span)]
    sections = sections_at(standing_solid, stations, most + 1.0)
    if span.seat is not None and not span.seat.at_start:  # its lengths count from the end of the run
        sections = sections[::-1]
    mesh = sound_mesh(name, standing_solid)
    notes = tuple(_needs_support(mesh, tube, bed, span, settings))
    return MockPart(
        name,
        (line.run,),
        tuple(pieces),
        mesh,
        bed,
        min(section.area for section in sections),
        seen_in(bed, start) if span.upstream is not None else None,
        ((line.run, seen_in(bed, end)),) if span.downstream is not None else (),
        notes,
        sections,
    )


def _filled(line: Centreline, span: Span, size: Outside) -> Manifold:
    """The part before anything is cut out of it."""
    if span.begins is None:
        return size.filled(line, span.start, span.end)
    parts = [*size.within(span.start, span.end)]
    first = outside(span.begins, line, parts[0].end, 0.0)
    return first if len(parts) == 1 else first + size.filled(line, parts[0].end, span.end)


def _needs_support(
    mesh: TriangleMesh, tube: Centreline, bed: Frame, span: Span, settings: MockSettings
) -> Iterator[str]:
    """Notes on overhangs: outside, if it leans too far; inside, if its socket closes or its bore narrows too fast."""
    _, lean = standing(tube_body(tube, 0.0), 0.0, tube.length, settings.spigot)
    if lean > settings.lean + 1e-9:
        yield f"leans {math.degrees(lean):.0f}° from the vertical: it needs support outside"
    end = span.downstream
    fit = span.upstream or end
    if fit is None:
        return
    triangles, areas = hanging(mesh, settings.lean)
    middles = triangles.mean(axis=1) @ axes_matrix(bed) + np.array(bed.origin)
    away = distance_to_body(tube_body(_lengthened(tube, span.upstream), fit.core), middles)[0]
    area = float(areas[away < -CLEAR].sum())
    if area > SUPPORTED:
        hang = area_in(settings.units, area)
        yield (
            f"needs support in its {'bore' if end is None else 'socket or bore'}: {hang} overhang by more than "
            f"{math.degrees(settings.lean):.0f}°. Clear all of it out, or the faces will not meet"
        )


def bore_radius(span: Span, radius: float, settings: MockSettings) -> float:
    """Radius of one bore through the whole part: limited by its thinner spigot core, or by letters, and the wall."""
    cores = [fit.core for fit in (span.upstream, span.downstream) if fit is not None]
    outside = radius if span.begins is None else least_reach(span.begins)
    return min([*cores, outside - UNDER_LETTERS]) - settings.wall


def _hollow(
    line: Centreline, span: Span, radii: tuple[float, float], bed: Frame, settings: MockSettings
) -> list[Manifold]:
    """What a part can do without between its joints, in engine axes: `radii` of its outside and of its narrow bore."""
    radius, bore = radii
    wide = radius - settings.tube_wall
    low = bare_start(span) if span.begins is None else max(span.start, span.begins.tube)
    low += SHELF if span.upstream is not None or span.seat is not None else 0.0
    fit = span.downstream
    finned = fit is not None and wide > fit.cavity + CLEAR
    high = span.end - (FOOT if fit is None else FULL_RING if finned else fit.depth + CLEAR)
    if wide < bore + CLEAR:
        return []
    hollows: list[Manifold] = []
    for first, last in _between(span.branches, (low, high)):
        opened, within = span.upstream is None and first == span.start, finned and last == high
        middle = cut_out(line, first, span.end if within else last - (THROUGH if opened else 0.0))
        middle = _lengthened(middle, None) if opened else middle
        hollow = solid_of(bore_skin(middle, radius, settings.tube_wall, bed.z, CHORD_ERROR))
        if fit is not None and within:
            hollow = _behind_ring(hollow, joint_frame(line, span.end), fit, (radius, settings.tube_wall))
        if not opened:
            hollow = hollow ^ _vault(joint_frame(line, first), bore, bed, max(CLOSES, settings.lean))
        hollows.append(hollow)
    if span.downstream is None and high - low >= 2 * CLEAR:
        foot = _lengthened(cut_out(line, high - CLEAR, span.end), None)
        hollows.append(solid_of(outer_skin(foot, radius - settings.wall, CHORD_ERROR).mesh))
    return hollows


def _between(branches: Sequence[Branch], ends: tuple[float, float]) -> Iterator[tuple[float, float]]:
    """The stretches that are hollow: none is under what sits on the part."""
    low, high = ends
    for branch in sorted(branches, key=lambda branch: branch.low):
        if branch.low - BESIDE - low >= 2 * CLEAR:
            yield low, min(branch.low - BESIDE, high)
        low = max(low, branch.high + BESIDE)
    if high - low >= 2 * CLEAR:
        yield low, high


def bare_start(span: Span) -> float:
    """Where the tube of a part is whole all round: past its fishmouth, if it has one."""
    return span.start if span.seat is None else span.start + highest(span.seat)


def _behind_ring(hollow: Manifold, end: Frame, fit: JointFit, sizes: tuple[float, float]) -> Manifold:
    """A hollow that goes on into the socket, up to its full ring, around its fins; `sizes`: radius of the tube's
    outside, and width of a fin."""
    x, y, z = scaled(end.z, -1.0)
    kept = hollow.trim_by_plane((x, y, z), FULL_RING - dot(end.z, end.origin))
    return kept - fins(fit, *sizes, -fit.length).transform(placement(end))


def _vault(mouth: Frame, radius: float, bed: Frame, lean: float) -> Manifold:
    """All that lies below a round mouth within `lean` of the vertical on the bed."""
    turns = np.arange(ROUND) * (2 * math.pi / ROUND)
    x, y, up = (np.array(axis) for axis in (mouth.x, mouth.y, bed.z))
    rim = np.array(mouth.origin) + radius * (np.cos(turns)[:, None] * x + np.sin(turns)[:, None] * y)
    deep = float(np.max((rim - np.array(bed.origin)) @ up)) + THROUGH
    out = np.cos(turns)[:, None] * np.array(bed.x) + np.sin(turns)[:, None] * np.array(bed.y)
    below = (rim[::4, None] - deep * up + deep * math.tan(lean) * out[None]).reshape(-1, 3)
    return Manifold.hull_points(np.concatenate([rim, below]))


def _lengthened(tube: Centreline, spigot_fit: JointFit | None) -> Centreline:
    """The centreline of a part's bore: through the spigot, and out of both ends."""
    first, last = tube.segments[0], tube.segments[-1]
    before = THROUGH + (spigot_fit.length if spigot_fit is not None else 0.0)
    point, tangent, toward = _end_of(tube)
    lead = Line(first.step, add(first.start, first.tangent, -before), first.tangent, first.normal, before)
    return Centreline(tube.run, (lead, *tube.segments, Line(last.step, point, tangent, toward, THROUGH)))


def _end_of(tube: Centreline) -> tuple[tuple[float, float, float], ...]:
    frame = joint_frame(tube, tube.length)
    return frame.origin, frame.z, frame.x


def _witness(radius: float) -> Manifold:
    """The groove that meets the witness line of the steel, in the joint's axes."""
    surface = on_round(radius, 0.0, 0.0)
    ends = []
    for z in (0.0, WITNESS):
        point, outward = surface(0.0, -z)
        ends.append(Manifold.sphere(NOSE, 8).translate(tuple(point + RAISED * outward)))
    return Manifold.batch_hull(ends)


def _ring(radius: float) -> Manifold:
    """A groove all round where the steel is trimmed, at 45° so that there is no overhang; in axes along the tube."""
    out = RING_HALF - RING_DEPTH
    section = [(radius - RING_DEPTH, 0.0), (radius + out, -RING_HALF), (radius + out, RING_HALF)]
    return Manifold.revolve(CrossSection([section]), SIDES)


def _letters(name: str, line: Centreline, span: Span, size: Outside) -> list[Manifold]:
    """Name and arrow on the outside of the bend, upright as the part stands, as low as is clear of its socket: there
    it leans least."""
    low = bare_start(span) + (MARKED if span.upstream is not None and span.upstream.turns is None else NOSE)
    low = low if span.begins is None else max(low, span.begins.tube)
    high = span.end - NOSE
    if span.downstream is not None:
        high -= span.downstream.depth + SOCKET_BOTTOM
    if span.trimmed is not None:
        before, after = span.trimmed - RING_HALF - NOSE, span.trimmed + RING_HALF + NOSE
        low, high = (low, before) if before - low >= HEIGHT else (max(low, after), high)
    middle = max(low + HEIGHT / 2, high - HEIGHT / 2)
    point, tangent, normal = frame_at(line, middle)
    frame = Frame(point, cross(normal, tangent), normal, tangent)
    on_its_head = span.seat is not None and not span.seat.at_start  # what is down as it stands is not downstream
    bars = text_solid(name if on_its_head else f"{TO_COLLECTOR}{name}", on_round(size.at(middle), math.pi, 0.0))
    return [bar.transform(placement(frame)) for bar in bars]


def _bed_frame(line: Centreline, span: Span, settings: MockSettings) -> Frame:
    """Axes of the bed under a part that stands on its end toward the collector, x along its lean."""
    point, tangent, normal = frame_at(line, span.end)
    up = scaled(tangent, -1.0)
    start = np.array(frame_at(line, span.start)[0]) - np.array(point)
    level = start - (start @ np.array(up)) * np.array(up)
    size = float(np.linalg.norm(level))
    x = tuple((level / size).tolist()) if size > 1e-3 else normal
    return Frame(point, x, cross(up, x), up)


def _stations(line: Centreline, span: Span) -> list[tuple[Frame, float]]:
    """Where sections are taken, off the faces and the chamfer, and the length that each represents.

    First along the spigot, then along the tube.
    """
    frames: list[tuple[Frame, float]] = []
    if span.upstream is not None:
        start = joint_frame(line, span.start)
        room = span.upstream.length - CHAMFER
        for k in reversed(range(4)):
            place = add(start.origin, start.z, -room * (k + 0.5) / 4)
            frames.append((Frame(place, start.x, start.y, start.z), room / 4))
    first = bare_start(span)
    count = max(2, math.ceil((span.end - first) / SECTION_STEP))
    step = (span.end - first) / count
    return frames + [(joint_frame(line, first + step * (k + 0.5)), step) for k in range(count)]
