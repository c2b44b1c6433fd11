"""The demos' mocks put together by their own meshes: where they end up, and that nothing else goes together."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import combinations

import numpy as np
from assembly import End, Place, circle_middle, end_of, home, manifold, place_after, turn_between
from manifold3d import CrossSection

from headergen.geometry.centreline import cut_out, frame_at
from headergen.geometry.mesh import Points
from headergen.mock.build import Mock
from headergen.mock.part import MockPart
from headergen.model import Header

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
            [number] = part.primaries
            end = end_of(part.mesh, part.spigot, radius, DEPTH, True)
            places[part.name] = place_after(end, *sockets[number])
        for number, near in part.sockets:
            sockets[number] = (end_of(part.mesh, near, radius, DEPTH, False), places[part.name])
    return places


def middles(part: MockPart, place: Place, frames: list[tuple[Points, Points]], radius: float) -> Points:
    """(n, 3) the middle of the part's outside in slices square to the tube, as the part stands."""
    solid = manifold(part.mesh, place)
    found = []
    for point, tangent in frames:
        x = np.cross(tangent, np.eye(3)[int(np.argmin(abs(tangent)))])
        x /= np.linalg.norm(x)
        axes = np.column_stack([x, np.cross(tangent, x), tangent])
        section = solid.transform(np.column_stack([axes.T, -axes.T @ point])).slice(0.0)
        outline = np.concatenate(section.to_polygons())
        centre = np.zeros(2)
        for near in (0.6, 0.2, 0.06, 0.06):  # letters and grooves are cut deeper, and drop out
            rim = outline[abs(np.linalg.norm(outline - centre, axis=1) - radius) < near]
            centre = circle_middle(rim)
        found.append(point + axes[:, :2] @ centre)
    return np.array(found)


def test_the_mock_runs_where_the_header_does(name: str, demo: Demo) -> None:
    """Assembled part by part, so that errors would add up along a primary; 0.05 mm is what is promised."""
    header, mock = demo(name)
    places = put_together(header, mock)
    tube = header.draft.tube
    for line in header.centrelines:
        mine = [part for part in mock.parts if part.primaries == (line.primary,) and part.spigot is not None]
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
        assert abs((last[0] - np.array(point)) @ np.array(tangent)) < 0.05
        assert math.degrees(math.acos(min(1.0, float(last[1] @ np.array(tangent))))) < 0.05


def _turned(part: MockPart, point: tuple[float, float, float]) -> Points:
    return home(part)[0] @ np.array(point)


def _length_at(line: object, point: Points) -> float:
    from headergen.geometry.body import distance_to_body, tube_body

    return float(distance_to_body(tube_body(line, 1.0), point[None])[1][0])  # type: ignore[arg-type]


def end_plane(part: MockPart, place: Place) -> tuple[Points, Points]:
    """A point on the face a part stands on and its outward direction, in engine axes."""
    return place[1], place[0] @ np.array([0.0, 0.0, -1.0])


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


def test_only_the_right_pair_in_the_right_rotation(name: str, demo: Demo) -> None:
    """Slices through every spigot's ribs and every socket's notches, from the meshes, laid over each other.

    In each of the nine rotations that take some rib into some notch, anything but the right pair in the right one
    shares more than 1 mm², a rib's height by 1 mm along the round, and the right one nothing.
    """
    header, mock = demo(name)
    radius = header.draft.tube.radius
    sockets = [(number, part, near) for part in mock.parts for number, near in part.sockets]
    spigots = [part for part in mock.parts if part.spigot is not None]
    cut_sockets = [_slice(part, near, radius, DEPTH, False) for _, part, near in sockets]
    cut_spigots = [_slice(part, part.spigot, radius, DEPTH, True) for part in spigots]  # type: ignore[arg-type]
    right = 0
    for (ribs, spigot), part in zip(cut_spigots, spigots, strict=True):
        for (notches, socket), (_, other, near) in zip(cut_sockets, sockets, strict=True):
            meant = _meant(part, other, near)
            for rib in ribs:
                for notch in notches:
                    turn = notch - rib
                    shared = float((spigot.rotate(math.degrees(turn)) ^ socket).area())
                    if meant and abs(math.remainder(turn, 2 * math.pi)) < math.radians(1):
                        assert shared < 0.01, (part.name, other.name)
                        right += 1
                    else:
                        assert shared > 1.0, (part.name, other.name, math.degrees(turn))
    assert right == 3 * len(spigots)


def _slice(
    part: MockPart, near: object, radius: float, depth: float, spigot: bool
) -> tuple[tuple[float, ...], CrossSection]:
    end = end_of(part.mesh, near, radius, depth, spigot)  # type: ignore[arg-type]
    assert len(end.bearings) == 3
    axes = np.column_stack([end.x, np.cross(end.travel, end.x), end.travel])
    section = manifold(part.mesh, (axes.T, -axes.T @ end.middle)).slice(-depth)
    return end.bearings, section ^ CrossSection.circle(radius + 2, 128)


def _meant(part: MockPart, other: MockPart, near: object) -> bool:
    """Whether the spigot and the socket stand in the same place once everything is where it belongs."""
    spigot = home(part)[0] @ np.array(part.spigot.origin) + home(part)[1]  # type: ignore[union-attr]
    socket = home(other)[0] @ np.array(near.origin) + home(other)[1]  # type: ignore[attr-defined]
    return float(np.linalg.norm(spigot - socket)) < 1e-3


def test_a_wrong_neighbour_overlaps_as_a_solid(demo: Demo) -> None:
    """The same in three dimensions for one socket and every spigot: pushed home, the wrong one is in the wall."""
    header, mock = demo("bogbean")
    radius = header.draft.tube.radius
    before = next(part for part in mock.parts if part.name == "P2-3")
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
    from headergen.geometry.tube_mesh import tube_mesh

    for line in header.centrelines:
        for part in mock.parts:
            if part.spigot is None or part.primaries != (line.primary,):
                continue
            at = _length_at(line, home(part)[0] @ np.array(part.spigot.origin) + home(part)[1])
            steel = tube_mesh(cut_out(line, at - 12.0, at), tube.radius, tube.radius - tube.wall - 0.1, 0.01)
            assert (manifold(steel) ^ manifold(part.mesh, home(part))).volume() < 0.5, part.name
