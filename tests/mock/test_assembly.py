"""The demos' mocks put together by their own meshes: where they end up, and that nothing else goes together."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import combinations

import numpy as np
import pytest
from assembly import End, Place, circle_middle, end_of, home, manifold, place_after, turn_between
from manifold3d import CrossSection

from headergen.geometry.curves.centreline import cut_out, frame_at
from headergen.geometry.mesh.triangles import Points
from headergen.mock.build import Mock
from headergen.mock.keys import RIBS
from headergen.mock.part import MockPart
from headergen.model import Frame, Header

DEPTH = 2.5  # mm from the stop face: in the middle of the ribs
Demo = Callable[[str], tuple[Header, Mock]]


def put_together(header: Header, mock: Mock) -> dict[str, Place]:
    """Every part's place: the flange plates on the flange, every other by its spigot in the part before."""
    radius = header.draft.tube.radius
    sockets: dict[int, tuple[End, Place]] = {}
    places: dict[str, Place] = {}
    for part in mock.parts:
        if part.spigot is None:
            places[part.name] = home(part)
        else:
            [number] = part.runs
            end = end_of(part.mesh, part.spigot, radius, DEPTH, True)
            places[part.name] = place_after(end, *sockets[number])
        for number, near in part.sockets:
            sockets[number] = (end_of(part.mesh, near, radius, DEPTH, False), places[part.name])
    return places


def middles(part: MockPart, place: Place, frames: list[tuple[Points, Points]], radius: float) -> Points:
    """(n, 3) the middle of the part's outside in slices square to the tube, as the part stands."""
    corners = part.mesh.triangles @ place[0].T + place[1]
    found = []
    for point, tangent in frames:
        x = np.cross(tangent, np.eye(3)[int(np.argmin(abs(tangent)))])
        x /= np.linalg.norm(x)
        axes = np.column_stack([x, np.cross(tangent, x), tangent])
        outline = crossed((corners - point) @ axes)
        centre = np.zeros(2)
        for near in (0.6, 0.2, 0.06, 0.06):  # letters and grooves are cut deeper, and drop out
            rim = outline[abs(np.linalg.norm(outline - centre, axis=1) - radius) < near]
            centre = circle_middle(rim)
        found.append(point + axes[:, :2] @ centre)
    return np.array(found)


def crossed(triangles: Points) -> Points:
    """(n, 2) where the edges of triangles cross the plane z = 0."""
    a, b = (each.reshape(-1, 3) for each in (triangles, np.roll(triangles, 1, axis=1)))
    through = (a[:, 2] > 0) != (b[:, 2] > 0)
    a, b = a[through], b[through]
    return a[:, :2] + (a[:, 2] / (a[:, 2] - b[:, 2]))[:, None] * (b - a)[:, :2]


@pytest.mark.slow
@pytest.mark.series
def test_the_mock_runs_where_the_header_does(name: str, demo: Demo) -> None:
    """Assembled part by part, so that errors would add up along a primary; 0.05 mm is what is promised."""
    header, mock = demo(name)
    places = put_together(header, mock)
    tube = header.draft.tube
    for line in header.centrelines:
        mine = [part for part in mock.parts if part.runs == (line.run,) and part.spigot is not None]
        ends = [np.array(part.home.origin) for part in mine]
        at = [min(_length_at(line, end), line.length) for end in ends]
        starts = [_length_at(line, np.array(part.home.origin) + _turned(part, part.spigot.origin)) for part in mine]  # type: ignore[union-attr]
        for part, start, end in zip(mine, starts, at, strict=True):
            stations = [start + 1.0 + share * (end - start - 2.0) for share in np.linspace(0, 1, 9)]
            frames = [(np.array(frame_at(line, s)[0]), np.array(frame_at(line, s)[1])) for s in stations]
            off = middles(part, places[part.name], frames, tube.radius) - np.array([point for point, _ in frames])
            assert np.linalg.norm(off, axis=1).max() < 0.05, part.name
        last = end_plane(mine[-1], places[mine[-1].name])
        point, tangent, _ = frame_at(line, line.length)
        [add] = {pair.add for pair in mock.pairs if line.run in {hole.run for hole in pair.plates[1].holes}}
        assert abs((last[0] - np.array(point)) @ np.array(tangent) - add) < 0.05
        assert math.degrees(math.acos(min(1.0, float(last[1] @ np.array(tangent))))) < 0.05


def _turned(part: MockPart, point: tuple[float, float, float]) -> Points:
    return home(part)[0] @ np.array(point)


def _length_at(line: object, point: Points) -> float:
    from headergen.geometry.curves.body import distance_to_body, tube_body

    return float(distance_to_body(tube_body(line, 1.0), point[None])[1][0])  # type: ignore[arg-type]


def end_plane(part: MockPart, place: Place) -> tuple[Points, Points]:
    """A point on the face a part stands on and its outward direction, in engine axes."""
    return place[1], place[0] @ np.array([0.0, 0.0, -1.0])


@pytest.mark.slow
def test_no_two_parts_overlap(name: str, demo: Demo) -> None:
    """Faces that meet may share what rounding leaves: 0.0001 mm over the area of a face, and chords of 0.04 mm."""
    header, mock = demo(name)
    places = put_together(header, mock)
    solids = {part.name: manifold(part.mesh, places[part.name]) for part in mock.parts}
    boxes = {each: np.array(solid.bounding_box()).reshape(2, 3) for each, solid in solids.items()}
    checked = 0
    for a, b in combinations(solids, 2):
        if (boxes[a][0] > boxes[b][1]).any() or (boxes[b][0] > boxes[a][1]).any():
            continue
        checked += 1
        assert (solids[a] ^ solids[b]).volume() < 0.5, (a, b)
    assert checked >= len(mock.parts) - len(header.centrelines)


ROUND = 2880  # places round a tube at which ribs and walls are looked at
SHEARED = 2.0  # mm of ribs, half the width of one: what must stand in the wall before a spigot counts as not going in
HIGH = 0.6  # mm, half the height of a rib: so far must ribs reach into the wall


@pytest.mark.slow
def test_only_the_right_pair_in_the_right_rotation(name: str, demo: Demo) -> None:
    """Every spigot in every socket, in every rotation, by slices of the meshes through ribs and notches.

    A spigot that does not belong there has, however it is turned, at least half the width of a rib standing in the
    wall, by at least half a rib's height, over the 5 mm that ribs are long. The right one has nothing where it belongs,
    and goes nowhere else.
    """
    header, mock = demo(name)
    radius = header.draft.tube.radius
    sockets = [(part, near, _slice(part, near, radius, False)) for part in mock.parts for _, near in part.sockets]
    spigots = [(part, _slice(part, part.spigot, radius, True)) for part in mock.parts if part.spigot is not None]
    right = 0
    for part, (ribs, core) in spigots:
        tip = _farthest(core)
        for other, near, (notches, wall) in sockets:
            cavity = _nearest(wall)
            assert tip - cavity > HIGH, (part.name, other.name)
            at = (tip + cavity) / 2
            shared = _shared_arcs(_solid_at(core, at), _solid_at(wall, at)) * at
            if _meant(part, other, near):
                home_turn = turn_between(ribs, notches)[0][1]
                turns = np.arange(ROUND) * 2 * math.pi / ROUND
                off = abs(np.angle(np.exp(1j * (turns - home_turn))))
                assert shared[off < 0.05 / at].max() == 0.0, (part.name, other.name)
                shared = shared[off * at > SHEARED / len(ribs) + 0.5]  # where each rib has used up its gap, and more
                right += 1
            assert shared.min() > SHEARED, (part.name, other.name)
    assert right == len(spigots)


def test_turns_are_told_apart() -> None:
    """Four ribs of 4 mm in four notches of 4.4 mm, the wall turned by 30°: free there, and nowhere else."""
    ribs = _ring(CrossSection(), [0, 80, 170, 275], 4.0, (15.0, 17.0))
    wall = CrossSection.circle(20, 256) - CrossSection.circle(16, 256)
    wall = (wall - _ring(CrossSection(), [0, 80, 170, 275], 4.4, (10.0, 25.0))).rotate(30)
    shared = _shared_arcs(_solid_at(ribs, 16.5), _solid_at(wall, 16.5)) * 16.5
    free = np.flatnonzero(shared == 0.0) * 360 / ROUND
    assert free.min() == pytest.approx(30 - math.degrees(0.2 / 16.5), abs=0.3)
    assert free.max() == pytest.approx(30 + math.degrees(0.2 / 16.5), abs=0.3)
    assert shared.max() == pytest.approx(16.0, abs=0.3)


def _ring(made: CrossSection, degrees: list[int], width: float, reach: tuple[float, float]) -> CrossSection:
    for angle in degrees:
        bar = CrossSection.square((reach[1] - reach[0], width)).translate((reach[0], -width / 2))
        made = made + bar.rotate(angle)
    return made


def _slice(part: MockPart, near: Frame, radius: float, spigot: bool) -> tuple[tuple[float, ...], CrossSection]:
    """Bearings of ribs or notches, and the section of the part there, about its own middle."""
    end = end_of(part.mesh, near, radius, DEPTH, spigot)
    assert len(end.bearings) == RIBS
    axes = np.column_stack([end.x, np.cross(end.travel, end.x), end.travel])
    section = manifold(part.mesh, (axes.T, -axes.T @ end.middle)).slice(-DEPTH)
    return end.bearings, section ^ CrossSection.circle(radius + 2, 128)


def _farthest(section: CrossSection) -> float:
    return max(float(np.linalg.norm(polygon, axis=1).max()) for polygon in section.to_polygons())


def _nearest(wall: CrossSection) -> float:
    return min(float(np.linalg.norm(polygon, axis=1).min()) for polygon in wall.to_polygons())


def _solid_at(section: CrossSection, at: float) -> Points:
    """(ROUND,) whether the section is solid at places round a circle, by the even-odd rule along the circle.

    Solid or not changes at each crossing of the outline; where the circle begins, a ray to the right is counted.
    """
    bearings, begins = [], 0
    for a in section.to_polygons():
        b = np.roll(a, -1, axis=0)
        bearings.append(_crossings(a, b - a, at))
        spans = (a[:, 1] > FIRST * at) != (b[:, 1] > FIRST * at)
        a, b = a[spans], b[spans]
        reach = a[:, 0] + (FIRST * at - a[:, 1]) * (b[:, 0] - a[:, 0]) / (b[:, 1] - a[:, 1])
        begins += int((reach > at * math.cos(math.asin(FIRST))).sum())
    turns = np.sort((np.concatenate(bearings) - math.asin(FIRST)) % (2 * math.pi))
    passed = np.searchsorted(turns, np.arange(ROUND) * 2 * math.pi / ROUND)
    return ((passed + begins) % 2).astype(float)


FIRST = math.sin(math.pi / ROUND)  # of the bearing of the first place: half a step


def _crossings(a: Points, along: Points, at: float) -> Points:
    """Bearings at which edges a + t·along, 0 ≤ t < 1, cross a circle round the origin."""
    square, linear = (along**2).sum(axis=1), (a * along).sum(axis=1)
    inner = linear**2 - square * ((a**2).sum(axis=1) - at**2)
    edge, root = np.flatnonzero(inner > 0), np.sqrt(inner[inner > 0])
    found = []
    for sign in (-1, 1):
        t = (sign * root - linear[edge]) / square[edge]
        within = (t >= 0) & (t < 1)
        point = a[edge[within]] + t[within, None] * along[edge[within]]
        found.append(np.arctan2(point[:, 1], point[:, 0]))
    return np.concatenate(found)


def _shared_arcs(spigot: Points, wall: Points) -> Points:
    """(ROUND,) radians over which both are solid, with the spigot turned by each of so many equal steps."""
    shared = np.fft.ifft(np.fft.fft(spigot).conj() * np.fft.fft(wall)).real
    return np.asarray(np.round(shared) * 2 * math.pi / ROUND)


def _meant(part: MockPart, other: MockPart, near: Frame) -> bool:
    """Whether the spigot and the socket stand in the same place once everything is where it belongs."""
    spigot = home(part)[0] @ np.array(part.spigot.origin) + home(part)[1]  # type: ignore[union-attr]
    socket = home(other)[0] @ np.array(near.origin) + home(other)[1]
    return float(np.linalg.norm(spigot - socket)) < 1e-3


@pytest.mark.slow
def test_a_wrong_neighbour_overlaps_as_a_solid(demo: Demo) -> None:
    """The same in three dimensions for one socket and every spigot: pushed home, the wrong one is in the wall."""
    header, mock = demo("bogbean")
    radius = header.draft.tube.radius
    before = next(part for part in mock.parts if part.name == "P2-3.2")
    [(_, near)] = before.sockets
    socket = end_of(before.mesh, near, radius, DEPTH, False)
    solid = manifold(before.mesh, home(before))
    for part in mock.parts:
        if part.spigot is None:
            continue
        spigot = end_of(part.mesh, part.spigot, radius, DEPTH, True)
        miss = turn_between(spigot.bearings, socket.bearings)[0][0]
        shared = (solid ^ manifold(part.mesh, place_after(spigot, socket, home(before)))).volume()
        if part.name == "P2-4":
            assert shared < 0.5 and miss < math.radians(0.5)
        else:
            assert shared > 4.0 and miss > math.radians(2), part.name


def test_every_spigot_goes_into_the_steel_before_it(name: str, demo: Demo) -> None:
    """Into the true bore, bent where the steel is bent, with half the gap left all round."""
    header, mock = demo(name)
    tube = header.draft.tube
    from headergen.geometry.mesh.tube import tube_mesh

    for line in header.centrelines:
        for part in mock.parts:
            if part.spigot is None or part.runs != (line.run,):
                continue
            at = _length_at(line, home(part)[0] @ np.array(part.spigot.origin) + home(part)[1])
            steel = tube_mesh(cut_out(line, at - 12.0, at), tube.radius, tube.radius - tube.wall - 0.1, 0.01)
            assert (manifold(steel) ^ manifold(part.mesh, home(part))).volume() < 0.5, part.name
