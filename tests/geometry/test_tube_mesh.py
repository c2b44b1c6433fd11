"""Tube meshes against the true surface: on it, near it, closed, flat at the ends, and of a known volume."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
import trimesh

from headergen.geometry.curves.centreline import frame_on, trace
from headergen.geometry.frames import WORLD, frame_from_normal
from headergen.geometry.mesh.triangles import TriangleMesh, enclosed_volume
from headergen.geometry.mesh.tube import bore_skin, chord_sides, outer_skin, sagitta, skin_after, tube_mesh
from headergen.model import Bend, Centreline, Line, Segment, Step, Straight
from tests.tube_volumes import volume_bounds

OUTER, INNER = 21.2, 19.7
START = frame_from_normal((300.0, -120.0, 55.0), (0.3, -0.8, 0.5), (1.0, 0.2, 0.0))
PATHS: dict[str, tuple[Step, ...]] = {
    "straight": (Straight(100.0),),
    "bend": (Bend(math.radians(70), 42.4, 0.0),),
    "half turn": (Straight(30.0), Bend(math.pi, 63.6, 1.0)),
    "bends out of plane": (Bend(0.9, 63.6, 0.3), Bend(0.6, 42.4, 2.0), Straight(35.0), Bend(1.2, 84.8, -1.1)),
    "tiny steps": (Straight(1e-4), Bend(1e-3, 63.6, 1.0), Straight(0.01), Bend(0.5, 63.6, 1.0), Straight(0.01)),
    "tightest bend": (Straight(20.0), Bend(1.0, OUTER, 0.5), Straight(20.0)),
}
every_path = pytest.mark.parametrize("steps", PATHS.values(), ids=PATHS.keys())
every_error = pytest.mark.parametrize("chord_error", [1.0, 0.1, 0.02])


def distance_to(segment: Segment, points: np.ndarray) -> np.ndarray:
    """(n,) distance of points to a straight or an arc, from its definition and not from the code under test."""
    start, tangent, toward = (np.array(v) for v in (segment.start, segment.tangent, segment.normal))
    if isinstance(segment, Line):
        along = np.clip((points - start) @ tangent, 0.0, segment.length)
        return np.linalg.norm(points - start - along[:, None] * tangent, axis=1)
    centre = start + segment.radius * toward
    x, y = (points - centre) @ -toward, (points - centre) @ tangent
    nearest = np.arctan2(y, x) % math.tau
    beyond = (nearest - segment.angle) < (math.tau - nearest)  # which end is nearer, past the arc
    turn = np.where(nearest <= segment.angle, nearest, np.where(beyond, segment.angle, 0.0))[:, None]
    on_arc = centre + segment.radius * (-np.cos(turn) * toward + np.sin(turn) * tangent)
    return np.linalg.norm(points - on_arc, axis=1)


def distance_to_path(steps: tuple[Step, ...], points: np.ndarray) -> np.ndarray:
    return np.min([distance_to(segment, points) for segment in trace(START, steps, 1).segments], axis=0)


def spread(mesh: TriangleMesh, faces: np.ndarray, parts: int = 6) -> np.ndarray:
    """Points spread over facets in a triangular grid, corners and edges included."""
    grid = [(i / parts, j / parts) for i in range(parts + 1) for j in range(parts + 1 - i)]
    u, v = np.array(grid).T[:, :, None, None]
    a, b, c = np.moveaxis(mesh.vertices[faces], 1, 0)
    return np.concatenate(a + u * (b - a) + v * (c - a))


def assert_closed(mesh: TriangleMesh) -> None:
    """Every directed edge occurs once, and so does the same edge the other way."""
    edges = np.concatenate([mesh.faces[:, [k, (k + 1) % 3]] for k in range(3)])
    there = {(int(a), int(b)) for a, b in edges}
    assert len(there) == len(edges)
    assert there == {(b, a) for a, b in there}


@every_path
def test_closed_facing_out_and_within_its_volume_bounds(steps: tuple[Step, ...]) -> None:
    path = trace(START, steps, 1)
    mesh = tube_mesh(path, OUTER, INNER, 0.1)
    assert mesh.closed
    assert_closed(mesh)
    low, high = volume_bounds(path, OUTER, INNER, 0.1)
    assert high == pytest.approx(math.pi * (OUTER**2 - INNER**2) * path.length, rel=1e-12)
    # 1e-9: what summing ten thousand tetrahedra to a far origin rounds away
    volume = enclosed_volume(mesh.vertices - np.array(START.origin), mesh.faces)
    assert low * (1 - 1e-9) <= volume <= high * (1 + 1e-9)


@pytest.mark.quick(1)
@every_path
@every_error
def test_vertices_on_the_surface_and_facets_within_the_chord_error(steps: tuple[Step, ...], chord_error: float) -> None:
    path = trace(START, steps, 1)
    for radius, mesh in ((OUTER, outer_skin(path, OUTER, chord_error).mesh), (INNER, inner_wall(path, chord_error))):
        sides = chord_sides(OUTER, chord_error / 2)
        walls = mesh.faces[: len(mesh.faces) - 2 * sides]
        on_wall = mesh.vertices[np.unique(walls)]
        assert np.abs(distance_to_path(steps, on_wall) - radius).max() < 1e-9
        # facets near an end may be nearest to its rim, which lies on the tube as well
        off = np.abs(distance_to_path(steps, spread(mesh, walls)) - radius)
        assert off.max() <= chord_error + 1e-9


def inner_wall(path: Centreline, chord_error: float) -> TriangleMesh:
    """The bore of the hollow tube and the flat of one end: like a skin, two triangles a side beyond its wall."""
    mesh = tube_mesh(path, OUTER, INNER, chord_error)
    return TriangleMesh(mesh.vertices, mesh.faces[len(mesh.faces) // 2 :], closed=False)


@pytest.mark.parametrize("count", [24, 74, 200])
@pytest.mark.parametrize("turn", [0.0, 0.1, 3.0])
def test_a_tube_goes_on_from_a_ring_of_other_places(count: int, turn: float) -> None:
    """One closed skin of prisms: the volume over a ring's polygon, of n chords n/2·r²·sin(2π/n), at both ends exact."""
    angles = turn + np.arange(count) * math.tau / count
    x, y, z = (np.array(each) for each in (START.x, START.y, START.z))
    flat = OUTER * (np.cos(angles)[:, None] * x + np.sin(angles)[:, None] * y) + np.array(START.origin)
    mesh = skin_after(np.array([flat - 30.2 * z, flat - 0.2 * z]), trace(START, PATHS["straight"], 1), OUTER, 0.1)
    assert_closed(mesh)
    areas = [n / 2 * OUTER**2 * math.sin(math.tau / n) for n in (count, chord_sides(OUTER, 0.05))]
    between = enclosed_volume(mesh.vertices, mesh.faces) - 30.0 * areas[0] - 100.0 * areas[1]
    assert 0.2 * min(areas) - 1e-6 < between < 0.2 * math.pi * OUTER**2
    normal = np.cross(*(mesh.triangles[:, k] - mesh.triangles[:, 0] for k in (1, 2)))
    level = abs(normal @ z) > 0.9 * np.linalg.norm(normal, axis=1)
    assert np.allclose(abs(normal[level] @ z).sum() / 2, sum(areas))  # the discs at both ends, and no ledge


def test_a_skin_states_the_chord_error_it_has() -> None:
    path = trace(START, PATHS["straight"], 1)
    for sides in (8, 16, 32):
        skin = outer_skin(path, OUTER, 0.1, sides)
        # the middle of a chord of a regular polygon lies r(1 − cos(π/n)) inside its circle
        assert skin.chord_error == pytest.approx(OUTER * (1 - math.cos(math.pi / sides)), rel=1e-9)
        assert_closed(skin.mesh)
    # in a bend both halves add up, at the outside: the bound is met but for what two flat chords share
    bent = PATHS["bend"]
    skin = outer_skin(trace(START, bent, 1), OUTER, 0.5)
    walls = skin.mesh.faces[: -2 * chord_sides(OUTER, 0.25)]
    worst = np.abs(distance_to_path(bent, spread(skin.mesh, walls)) - OUTER).max()
    assert 0.8 * skin.chord_error < worst <= skin.chord_error + 1e-9
    assert skin.chord_error <= 0.5


@every_path
def test_ends_are_flat_and_square(steps: tuple[Step, ...]) -> None:
    path = trace(START, steps, 1)
    mesh = tube_mesh(path, OUTER, INNER, 0.1)
    last = path.segments[-1]
    end, tangent, _ = frame_on(last, last.length)
    sides = chord_sides(OUTER, 0.05)
    for point, direction in ((START.origin, START.z), (end, tangent)):
        depth = (mesh.vertices - np.array(point)) @ np.array(direction)
        near = np.linalg.norm(mesh.vertices - np.array(point), axis=1) < OUTER + 1e-6
        assert (np.abs(depth[near]) < 1e-9).sum() >= 2 * sides


@every_path
def test_rings_are_carried_without_twist(steps: tuple[Step, ...]) -> None:
    """The four corners of each facet lie in one plane, which they do only where the rings have not turned."""
    mesh = tube_mesh(trace(START, steps, 1), OUTER, INNER, 0.1)
    pairs = mesh.faces.reshape(-1, 2, 3)  # both triangles of a facet
    a, b, c, d = (mesh.vertices[k] for k in (pairs[:, 0, 0], pairs[:, 0, 1], pairs[:, 0, 2], pairs[:, 1, 2]))
    six_volumes = np.einsum("ij,ij->i", d - a, np.cross(b - a, c - a))
    assert np.abs(six_volumes).max() < 1e-8


def test_volume_of_a_bend_is_that_of_its_truncated_prisms() -> None:
    # n chords and m slices hold sin(2π/n)/(2π/n) · sin(θ/m)/(θ/m) of the torus: by hand for the counts found
    angle, radius = math.radians(70), 42.4
    path = trace(START, (Bend(angle, radius, 0.4),), 1)
    mesh = tube_mesh(path, OUTER, INNER, 0.1)
    n = chord_sides(OUTER, 0.05)
    m = len(mesh.vertices) // (2 * n) - 1
    share = math.sin(math.tau / n) / (math.tau / n) * math.sin(angle / m) / (angle / m)
    expected = share * math.pi * (OUTER**2 - INNER**2) * radius * angle
    volume = enclosed_volume(mesh.vertices - np.array(START.origin), mesh.faces)
    assert volume == pytest.approx(expected, rel=1e-9)


def test_volume_bounds_close_in_with_the_chord_error() -> None:
    path = trace(WORLD, PATHS["bends out of plane"], 1)
    shares = [low / high for low, high in (volume_bounds(path, OUTER, INNER, error) for error in (1.0, 0.1, 0.01))]
    assert shares[0] < shares[1] < shares[2] < 1.0
    # to first order the deficit is proportional to the chordal deviation
    assert (1 - shares[1]) / (1 - shares[2]) == pytest.approx(10.0, rel=0.05)


def test_sides_and_sagitta() -> None:
    # twelve chords have the sagitta r(1 − cos 15°): just enough for it, thirteen are needed for less
    exact = 100 * (1 - math.cos(math.pi / 12))
    assert sagitta(100.0, math.tau / 12) == pytest.approx(exact, rel=1e-12)
    assert chord_sides(100.0, exact) == 12
    assert chord_sides(100.0, exact * 0.999) == 13
    assert chord_sides(100.0, 500.0) == 8


def test_what_has_no_mesh() -> None:
    path = trace(WORLD, (Straight(10.0),), 1)
    with pytest.raises(ValueError, match="leaves no wall"):
        tube_mesh(path, OUTER, OUTER, 0.1)
    for error in (0.0, -1.0, math.nan):
        with pytest.raises(ValueError, match="chordal deviation must be above 0"):
            tube_mesh(path, OUTER, INNER, error)
    with pytest.raises(ValueError, match="without length"):
        outer_skin(trace(WORLD, (Straight(0.0),), 1), OUTER, 0.1)


def _level_cut(mesh: TriangleMesh, at: float) -> shapely.Polygon:
    section = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False).section([0, 0, 1], [0, 0, at])
    assert section is not None
    return max((shapely.Polygon(ring[:, :2]) for ring in section.discrete), key=lambda each: each.area)


@pytest.mark.parametrize("step", [Straight(80.0), Bend(math.radians(25.0), 200.0, 0.7)], ids=["straight", "bend"])
@pytest.mark.parametrize("lean", [0.0, 30.0, 45.0])
def test_a_wall_measured_level_is_as_thick_in_every_level_cut(step: Step, lean: float) -> None:
    """Cut level, each point of the bore is as far from the outside, within 3 %; a bore of one radius would be
    1/cos 45° − 1, or 41 %, farther where the tube leans most."""
    wall, radius = 1.2, 21.2
    start = frame_from_normal((0.0, 0.0, 0.0), (math.sin(math.radians(lean)), 0.0, math.cos(math.radians(lean))))
    line = trace(start, (step,), "primary 1")
    outside, bore = outer_skin(line, radius, 0.01).mesh, bore_skin(line, radius, wall, (0.0, 0.0, 1.0), 0.01)
    assert bore.closed
    middle = float(np.array(line.segments[0].start)[2] + outside.vertices[:, 2].max()) / 2
    outer, inner = _level_cut(outside, middle), _level_cut(bore, middle)
    away = [outer.exterior.distance(shapely.Point(corner)) for corner in inner.exterior.coords]
    assert min(away) == pytest.approx(wall, rel=0.03) and max(away) == pytest.approx(wall, rel=0.03)
