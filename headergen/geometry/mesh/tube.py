"""Triangle meshes of round tubes, made of rings along an exact centreline.

Rings are perpendicular to the centreline, at the start and end of every straight and at equal turns within a bend.
Every vertex lies on the true surface. Rings are carried from one to the next without twist, so the four corners of a
facet lie in one plane: between two rings, its long edges are both perpendicular to the plane that halves the turn.

Error bound. Turn a point q of the ring's chord polygon along the bend. The facet's point is q moved toward the bend's
axis by at most the sagitta of the turn at the outside of the bend, and q itself is inside the circle by at most the
sagitta of the chord. The chordal deviation is the sum of both; each may use one half of it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.curves.centreline import cut_out, frame_on
from headergen.geometry.curves.stepped import WallSpan, is_stepped, wall_spans
from headergen.geometry.frames import add, cross, dot, scaled
from headergen.geometry.mesh.triangles import Faces, Points, TriangleMesh
from headergen.model import Arc, Centreline, Line, Run, Segment, Vec

LEAST_SIDES = 8  # of a circle, however large the chordal deviation is
SHORTEST = 2e-7  # mm; a shorter segment adds no ring, as it adds nothing to the solid

Station = tuple[Vec, Vec, Vec]  # a ring's centre, and the directions of its first and second quarter


@dataclass(frozen=True, eq=False)
class Skin:
    """A closed mesh of a tube's outside; no point of it is farther than `chord_error` mm from the true surface."""

    mesh: TriangleMesh
    chord_error: float


def tube_mesh(centreline: Centreline, outer_radius: float, inner_radius: float, chord_error: float) -> TriangleMesh:
    """The hollow tube with flat ends, closed, and off by at most `chord_error` (all in mm).

    The rings of the outer wall forwards and of the bore backwards form one cycle, and a strip of facets joins each ring
    to the next. Raises ValueError when there is no wall, no length or no chordal deviation.
    """
    if not 0.0 < inner_radius < outer_radius:
        raise ValueError(f"a bore of {2 * inner_radius:g} mm leaves no wall in a tube of {2 * outer_radius:g} mm")
    sides = chord_sides(outer_radius, chord_error / 2)
    stations = _stations(centreline, outer_radius, chord_error / 2)
    rings = np.concatenate([_rings(stations, outer_radius, sides), _rings(stations[::-1], inner_radius, sides)])
    start = np.arange(len(rings))
    faces = _strips(start, np.roll(start, -1), sides)
    return TriangleMesh(rings.reshape(-1, 3), faces, closed=True)


def run_mesh(run: Run, centreline: Centreline, chord_error: float) -> TriangleMesh:
    """The hollow tube of a run from its start to its end, stepped or not; as tube_mesh."""
    if is_stepped(run):
        return stepped_mesh(centreline, wall_spans(run), chord_error)
    return tube_mesh(centreline, run.tube.radius, run.tube.radius - run.tube.wall, chord_error)


def stepped_mesh(centreline: Centreline, walls: Sequence[WallSpan], chord_error: float) -> TriangleMesh:
    """As tube_mesh, for a tube that grows: `walls` from end to end of the centreline, which its bends do not cross."""
    widest = max(max(wall.outer) for wall in walls)
    sides = chord_sides(widest, chord_error / 2)
    parts = [cut_out(centreline, wall.start, wall.end) for wall in walls]
    whole = Centreline(centreline.run, tuple(segment for part in parts for segment in part.segments))
    stations, taken = _stations(whole, widest, chord_error / 2), 0
    outer: list[Points] = []
    inner: list[Points] = []
    for wall, part in zip(walls, parts, strict=True):
        count = len(_stations(part, widest, chord_error / 2)) - 1 if part.length > SHORTEST else 0
        here, taken = stations[taken : taken + count + 1], taken + count
        for rings, radii in ((outer, wall.outer), (inner, wall.inner)):
            made = _grown_rings(here, radii, sides)
            same = len(rings) > 0 and bool(np.allclose(rings[-1], made[0], atol=1e-9))
            rings.extend(made[1:] if same else made)
    rings_of_both = np.concatenate([np.array(outer), np.array(inner)[::-1]])
    start = np.arange(len(rings_of_both))
    faces = _strips(start, np.roll(start, -1), sides)
    return TriangleMesh(rings_of_both.reshape(-1, 3), faces, closed=True)


def _grown_rings(stations: list[Station], radii: tuple[float, float], sides: int) -> Points:
    """Rings whose radius goes evenly from one value to another; a cone has stations at its ends only."""
    first, last = radii
    if first == last or len(stations) < 2:
        return _rings(stations, first, sides)
    return np.concatenate([_rings(stations[:1], first, sides), _rings(stations[-1:], last, sides)])


def outer_skin(centreline: Centreline, radius: float, chord_error: float, sides: int | None = None) -> Skin:
    """The tube as a full body: its outer wall, closed by a disc at each end.

    `sides` overrides the number of chords around the tube that follows from `chord_error`; the returned skin states its
    real chordal deviation. Raises ValueError when there is no length or no chordal deviation.
    """
    sides = sides or chord_sides(radius, chord_error / 2)
    stations = _stations(centreline, radius, chord_error / 2)
    mesh = _closed_by_discs(_rings(stations, radius, sides), stations)
    error = sagitta(radius, 2 * math.pi / sides) + _largest_turn_sagitta(centreline, radius, chord_error / 2)
    return Skin(mesh, error)


def bore_skin(centreline: Centreline, radius: float, wall: float, up: Vec, chord_error: float) -> TriangleMesh:
    """The full body within a wall that is `wall` thick in every cut square to `up`, as a printer lays it; `radius`: of
    the wall's outside, all in mm.

    A wall whose outward normal n is that far from square to `up` is wall·√(1 − (n·up)²) thick, which is exact for a
    plane wall: of a tube that leans by θ, wall·cos θ where it leans. Raises ValueError as `outer_skin`.
    """
    sides, stations = chord_sides(radius, chord_error / 2), _stations(centreline, radius, chord_error / 2)
    centres = np.array([station[0] for station in stations])[:, None, :]
    outward = _rings(stations, 1.0, sides) - centres
    thick = wall * np.sqrt(np.maximum(1.0 - (outward @ np.array(up)) ** 2, 0.0))
    rings = centres + outward * (radius - thick)[..., None]
    return _closed_by_discs(rings, stations)


def _closed_by_discs(rings: Points, stations: Sequence[Station]) -> TriangleMesh:
    """One wall through all rings (stations, sides, 3), with a disc on each end."""
    _, sides, _ = rings.shape
    centre = len(rings) * sides
    faces = np.concatenate(
        [_walls(0, len(rings), sides), _disc(0, sides, centre)[:, ::-1], _disc(centre - sides, sides, centre + 1)]
    )
    vertices = np.concatenate([rings.reshape(-1, 3), [stations[0][0], stations[-1][0]]])
    return TriangleMesh(vertices, faces, closed=True)


def skin_after(before: Points, centreline: Centreline, radius: float, chord_error: float) -> TriangleMesh:
    """A full body that begins with rings of another shape and goes on as a tube, in one skin without a ledge between.

    `before`: (levels, n, 3), each ring counter-clockwise when seen against the travel, the last one round the
    centreline just before its start. Raises ValueError when there is no length or no chordal deviation.
    """
    levels, count, _ = before.shape
    sides, stations = chord_sides(radius, chord_error / 2), _stations(centreline, radius, chord_error / 2)
    rings = _rings(stations, radius, sides)
    last, first, centre = (levels - 1) * count, levels * count, levels * count + rings.size // 3
    faces = [
        _disc(0, count, centre)[:, ::-1],
        _walls(0, levels, count),
        _zipped(_bearings(before[-1], stations[0]), _bearings(rings[0], stations[0])) + last,
        _walls(first, len(rings), sides),
        _disc(centre - sides, sides, centre + 1),
    ]
    ends = [before[0].mean(axis=0), stations[-1][0]]
    vertices = np.concatenate([before.reshape(-1, 3), rings.reshape(-1, 3), ends])
    return TriangleMesh(vertices, np.concatenate(faces), closed=True)


def sagitta(radius: float, turn: float) -> float:
    """Height of the arc over a chord that spans `turn`: r·(1 − cos(turn/2))."""
    return 2 * radius * math.sin(turn / 4) ** 2


def chord_sides(radius: float, chord_error: float) -> int:
    """The fewest equal chords around a circle whose sagitta is within `chord_error`, but at least eight."""
    return math.ceil(2 * math.pi / _turn(radius, chord_error) - 1e-9)


def _turn(radius: float, chord_error: float) -> float:
    """The largest turn whose chord stays within `chord_error` of a circle, but at most an eighth of a circle."""
    if not chord_error > 0.0:
        raise ValueError(f"the chordal deviation must be above 0, not {chord_error:g}")
    return min(4 * math.asin(math.sqrt(min(chord_error / (2 * radius), 1.0))), 2 * math.pi / LEAST_SIDES)


def _slices(arc: Arc, radius: float, chord_error: float) -> int:
    return math.ceil(arc.angle / _turn(arc.radius + radius, chord_error) - 1e-9)


def _largest_turn_sagitta(centreline: Centreline, radius: float, chord_error: float) -> float:
    arcs = [segment for segment in centreline.segments if isinstance(segment, Arc) and segment.length > SHORTEST]
    return max((sagitta(a.radius + radius, a.angle / _slices(a, radius, chord_error)) for a in arcs), default=0.0)


def _stations(centreline: Centreline, radius: float, chord_error: float) -> list[Station]:
    segments = [segment for segment in centreline.segments if segment.length > SHORTEST]
    if not segments:
        raise ValueError("a tube without length has no mesh")
    first = segments[0]
    stations = [(first.start, first.normal, cross(first.tangent, first.normal))]
    for segment in segments:
        count = 1 if isinstance(segment, Line) else _slices(segment, radius, chord_error)
        before = stations[-1]
        stations.extend(_carried(before, segment, segment.length * k / count) for k in range(1, count + 1))
    return stations


def _carried(station: Station, segment: Segment, at: float) -> Station:
    """The ring at the segment's start moved along it; only directions in the bend plane turn."""
    _, first, second = station
    _, start_tangent, start_toward = frame_on(segment, 0.0)
    point, tangent, toward = frame_on(segment, at)
    binormal = cross(tangent, toward)
    square = cross(start_tangent, start_toward)

    def turned(direction: Vec) -> Vec:
        return add(scaled(toward, dot(direction, start_toward)), binormal, dot(direction, square))

    return point, turned(first), turned(second)


def _rings(stations: list[Station], radius: float, sides: int) -> Points:
    """(stations, sides, 3) points on circles, counter-clockwise when seen against the travel."""
    centres, first, second = (np.array(column)[:, None, :] for column in zip(*stations, strict=True))
    angles = (2 * np.pi / sides) * np.arange(sides)[None, :, None]
    rings: Points = centres + radius * (np.cos(angles) * first + np.sin(angles) * second)
    return rings


def _bearings(ring: Points, station: Station) -> Points:
    """(n,) angles, radians, of a ring's points about a station's centre."""
    centre, first, second = (np.array(each) for each in station)
    bearings: Points = np.arctan2((ring - centre) @ second, (ring - centre) @ first)
    return bearings


def _zipped(low: Points, high: Points) -> Faces:
    """Triangles between two rings, by the angles of their points; the numbers of `high` follow those of `low`.

    Each side of either ring is joined to the point of the other ring that was passed last.
    """
    below, above = np.argsort(low), np.argsort(high)
    before_low = np.searchsorted(high[above], np.roll(low[below], -1), "left") - 1
    before_high = np.searchsorted(low[below], np.roll(high[above], -1), "right") - 1
    on = len(low) + above
    return np.concatenate(
        [
            np.column_stack([below, np.roll(below, -1), on[before_low]]),
            np.column_stack([np.roll(on, -1), on, below[before_high]]),
        ]
    )


def _disc(first: int, count: int, centre: int) -> Faces:
    """Triangles from a centre to a ring whose points are numbered from `first`, facing along the travel."""
    j = np.arange(count)
    return np.column_stack([np.full(count, centre), first + j, first + (j + 1) % count])


def _walls(first: int, levels: int, sides: int) -> Faces:
    """The strips between `levels` consecutive rings, whose points are numbered from `first`."""
    start = np.arange(levels - 1)
    return _strips(start, start + 1, sides) + first


def _strips(rings: NDArray[np.int64], onto: NDArray[np.int64], sides: int) -> Faces:
    """Two triangles for each side between ring k of `rings` and ring k of `onto`, facing out of the material."""
    j = np.arange(sides)[None, :]
    after = (j + 1) % sides
    a, b = rings[:, None] * sides + j, rings[:, None] * sides + after
    c, d = onto[:, None] * sides + after, onto[:, None] * sides + j
    faces: Faces = np.stack([a, b, c, a, c, d], axis=-1).reshape(-1, 3)
    return faces
