"""Gaps from boxes and frusta to every kind of thing: by hand, by sampling, by a collision library between meshes."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest
import trimesh
from trimesh.collision import CollisionManager

from headergen.geometry.curves.body import Body, cylinder_body, run_body, tube_body
from headergen.geometry.curves.centreline import trace
from headergen.geometry.distance.convex import Frustum, frustum_solid
from headergen.geometry.distance.distance_convex import gap_to_body, gap_to_frustum, gap_to_plane, gap_to_triangles
from headergen.geometry.distance.distance_triangles import nearest_on_triangles
from headergen.geometry.frames import WORLD, axes_matrix, frame_from_normal
from headergen.geometry.mesh.boxes import box_mesh
from headergen.geometry.mesh.tube import outer_skin
from headergen.model import Bend, Box, Centreline, Cylinder, Plane, Straight, TubeRun
from tests.geometry.box_solid import box_solid
from tests.geometry.test_convex import CONE, plain_distance, random_frame, random_shape, solid_of
from tests.lots import in_lots
from tests.validation.test_gaps_outside import points_of_tube

SIDES = 96  # of the frustum's mesh
LIBRARY = 1e-3  # mm; the library works to about 1e-6 of the sizes here

Distance = Callable[[np.ndarray], np.ndarray]


def random_triangles(rng: np.random.Generator, count: int = 12) -> np.ndarray:
    around = rng.uniform(-130, 130, (1, 1, 3))
    return around + rng.choice([8.0, 60.0, 250.0], (count, 1, 1)) * rng.normal(size=(count, 3, 3))


def random_line(rng: np.random.Generator) -> Centreline:
    steps = [Straight(rng.uniform(20, 90)), Bend(rng.uniform(0.3, 2.5), rng.uniform(35, 90), rng.uniform(0, 6))]
    return trace(random_frame(rng), [*steps, *steps[: rng.integers(0, 3)]])


def sampled_on_triangles(distance: Distance, triangles: np.ndarray) -> float:
    """The least at a grid of each triangle, zoomed in on: an upper bound, and close to the least.

    A distance changes by no more than its place does: triangles whose first grid is too far for that are left out.
    """
    i, j = (axis.ravel() for axis in np.meshgrid(np.linspace(0, 1, 25), np.linspace(0, 1, 25)))
    grid, best = np.stack([i, j], axis=1)[i + j <= 1 + 1e-12], np.inf
    centre, width = np.zeros((len(triangles), 2)), 1.0
    a, ab, ac = triangles[:, 0], triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    for zoom in range(14):
        places = centre[:, None] + (grid if zoom == 0 else width * (np.stack([i, j], axis=1) - 0.5))
        places = np.maximum(places, 0)
        places /= np.maximum(places.sum(axis=2, keepdims=True), 1)
        points = a[:, None] + places[:, :, :1] * ab[:, None] + places[:, :, 1:] * ac[:, None]
        value = distance(points.reshape(-1, 3)).reshape(points.shape[:2])
        best = min(best, float(value.min()))
        centre = places[np.arange(len(a)), value.argmin(axis=1)]
        width /= 2.0 if zoom else 4.0
        if zoom == 0:
            sides = np.linalg.norm(np.stack([ab, ac, ab - ac]), axis=2).max(axis=0)
            near = value.min(axis=1) - sides / 24 <= best
            centre, a, ab, ac = centre[near], a[near], ab[near], ac[near]
    return best


@pytest.mark.parametrize("seeds", [range(160), *in_lots(range(160, 800), 64)], ids=len)
def test_triangles_against_sampling(seeds: range) -> None:
    """Apart or crossing: no sampled point is nearer (1e-6 mm, of rounding), and a place of a triangle has the value."""
    crossing = 0
    for seed in seeds:
        rng = np.random.default_rng(seed)
        shape, triangles = random_shape(rng, seed), random_triangles(rng)
        gap = gap_to_triangles(solid_of(shape), triangles)
        sampled = sampled_on_triangles(lambda points, shape=shape: plain_distance(shape, points), triangles)
        assert gap.value <= sampled + 1e-6, seed
        assert plain_distance(shape, gap.theirs[None])[0] == pytest.approx(gap.value, abs=1e-8), seed
        assert plain_distance(shape, gap.mine[None])[0] == pytest.approx(0.0, abs=1e-8), "mine is on the skin"
        feet = nearest_on_triangles(triangles, np.broadcast_to(gap.theirs, (len(triangles), 3)))
        assert np.linalg.norm(feet - gap.theirs, axis=1).min() < 1e-8, "theirs is on a triangle"
        assert np.linalg.norm(gap.mine - gap.theirs) == pytest.approx(abs(gap.value), abs=1e-8), seed
        crossing += gap.value < 0
    assert len(seeds) / 5 < crossing < len(seeds) * 4 / 5, "both kinds are really there"


def mesh_of(shape: Box | Frustum) -> tuple[trimesh.Trimesh, float]:
    """A mesh inside the solid, and how far it may be within it."""
    if isinstance(shape, Box):
        made = box_mesh(shape)
        return trimesh.Trimesh(made.vertices, made.faces, process=False), 0.0
    turn = 2 * math.pi * np.arange(SIDES) / SIDES
    ring = np.stack([np.cos(turn), np.sin(turn), 0 * turn], axis=1)
    local = np.concatenate([shape.start * ring, shape.end * ring + [0, 0, shape.length], [[0, 0, 0]]])
    local = np.concatenate([local, [[0, 0, shape.length]]])
    k = np.arange(SIDES)
    n = (k + 1) % SIDES
    bottom, top = np.full(SIDES, 2 * SIDES), np.full(SIDES, 2 * SIDES + 1)
    faces = [(n, k, bottom), (k, n, top)]  # a cone; the library stumbles over faces without area
    if shape.end > 0:
        faces = [faces[0], (SIDES + k, SIDES + n, top), (k, n, SIDES + k), (n, SIDES + n, SIDES + k)]
    vertices = local @ axes_matrix(shape.frame) + np.array(shape.frame.origin)
    made = trimesh.Trimesh(vertices, np.concatenate([np.stack(f, axis=1) for f in faces]), process=False)
    return made, max(shape.start, shape.end) * (1 - math.cos(math.pi / SIDES))


def test_the_mesh_compared_with_is_the_frustum() -> None:
    """Its volume against π·h·(R² + Rr + r²)/3 [C], less what an inscribed polygon of 96 sides loses."""
    made, _ = mesh_of(CONE)
    polygon = SIDES / (2 * math.pi) * math.sin(2 * math.pi / SIDES)
    assert made.is_watertight
    assert made.volume == pytest.approx(polygon * math.pi * 100 * (2500 + 1500 + 900) / 3, rel=1e-9)


def library_distance(one: list[trimesh.Trimesh], other: list[trimesh.Trimesh]) -> float:
    managers = []
    for meshes in (one, other):
        manager = CollisionManager()
        for index, mesh in enumerate(meshes):
            manager.add_object(str(index), mesh)
        managers.append(manager)
    return float(managers[0].min_distance_other(managers[1]))


def skin_of(line: Centreline, radius: float) -> tuple[trimesh.Trimesh, float]:
    skin = outer_skin(line, radius, 0.05)
    return trimesh.Trimesh(skin.mesh.vertices, skin.mesh.faces, process=False), skin.chord_error


def thing(rng: np.random.Generator, kind: str) -> tuple[Body, list[trimesh.Trimesh], float]:
    """A random round body, and what the library gets for it with the chordal deviation of that."""
    radius = float(rng.uniform(3, 30))
    if kind == "tube":
        line = random_line(rng)
        mesh, error = skin_of(line, radius)
        return tube_body(line, radius), [mesh], error
    if kind == "cylinder":
        start, end = rng.uniform(-200, 200, (2, 3))
        axis = end - start
        line = trace(frame_from_normal(tuple(start), tuple(axis)), [Straight(float(np.linalg.norm(axis)))])
        mesh, error = skin_of(line, radius)
        return cylinder_body(Cylinder(tuple(start), tuple(end), 2 * radius)), [mesh], error
    points, radius = rng.uniform(-200, 200, (3, 3)), radius / 3
    meshes = [trimesh.creation.uv_sphere(radius, count=[40, 40]).apply_translation(p) for p in points]
    error = radius * (1 - math.cos(math.pi / 40) ** 2)
    for a, b in pairwise(points):
        line = trace(frame_from_normal(tuple(a), tuple(b - a)), [Straight(float(np.linalg.norm(b - a)))])
        mesh, leg = skin_of(line, radius)
        meshes.append(mesh)
        error = max(error, leg)
    return run_body(TubeRun(tuple(map(tuple, points)), 2 * radius)), meshes, error


@pytest.mark.parametrize("kind", ["triangles", "cylinder", "tube", "run", "frustum"])
@pytest.mark.parametrize("seeds", [range(20), *in_lots(range(20, 200), 18)], ids=len)
def test_every_kind_against_a_collision_library(seeds: range, kind: str) -> None:
    """Apart, the two may differ by the chordal deviations of both meshes; where they cross, both say so."""
    apart = 0
    for seed in seeds:
        rng = np.random.default_rng(5000 + seed)
        shape = random_shape(rng, seed)
        mesh, error = mesh_of(shape)
        if kind == "triangles":
            triangles, other_error = random_triangles(rng), 0.0
            value = gap_to_triangles(solid_of(shape), triangles).value
            others = [trimesh.Trimesh(triangles.reshape(-1, 3), np.arange(36).reshape(12, 3), process=False)]
        elif kind == "frustum":
            other = random_shape(rng, 1 + seed % 3)
            other_mesh, other_error = mesh_of(other)
            value, others = gap_to_frustum(solid_of(shape), other).value, [other_mesh]  # type: ignore[arg-type]
        else:
            body, others, other_error = thing(rng, kind)
            value = gap_to_body(solid_of(shape), body).value
        found = library_distance([mesh], others)
        if value > 0:
            assert abs(found - value) <= error + other_error + LIBRARY, seed
            apart += 1
        elif found > 0:  # surfaces that do not meet: one in the other, or nearer than the chords
            corners = np.concatenate([each.vertices for each in others])
            within = plain_distance(shape, corners).max() < 0 or found <= error + other_error + LIBRARY
            assert within or trimesh.Trimesh.contains(others[-1], mesh.vertices[:1]).all(), seed
    assert apart > len(seeds) / 5


def points_of(line: Centreline, radius: float, count: int, rng: np.random.Generator) -> np.ndarray:
    """Points of the solid that a disc sweeps along a line; half of them on its skin, a fifth on its flat ends."""
    at = np.where(rng.random(count) < 0.2, rng.choice([0.0, line.length], count), rng.uniform(0, line.length, count))
    out = radius * np.where(rng.random(count) < 0.5, 1.0, np.sqrt(rng.random(count)))
    turn = rng.uniform(0, 2 * math.pi, count)
    return points_of_tube(line, at, out, turn)


@pytest.mark.parametrize("seeds", [range(40), *in_lots(range(40, 300), 26)], ids=len)
def test_tubes_against_sampling(seeds: range) -> None:
    """No point of the tube's solid is nearer than the gap, and the point found is of the tube, that far away. Where
    a sampled point lies in the solid, they cross; where they are said to cross, some place of the tube does."""
    crossing = 0
    for seed in seeds:
        rng = np.random.default_rng(9000 + seed)
        shape, line, radius = random_shape(rng, seed), random_line(rng), float(rng.uniform(3, 30))
        gap = gap_to_body(solid_of(shape), tube_body(line, radius))
        sampled = float(plain_distance(shape, points_of(line, radius, 2500, rng)).min())
        if gap.value > 0:
            assert gap.value <= sampled + 1e-6, seed
            assert plain_distance(shape, gap.theirs[None])[0] == pytest.approx(gap.value, abs=1e-6), seed
            assert plain_distance(shape, gap.mine[None])[0] == pytest.approx(0.0, abs=1e-6), seed
        else:
            assert sampled < max(0.0, 3.0 + gap.value), "seen by sampling too, unless they barely touch"
            crossing += 1
    assert len(seeds) / 10 < crossing < len(seeds) * 9 / 10


def test_planes_against_rims() -> None:
    """The lowest of its two rims; sampled at every half degree, which a chord bounds to 0.001 mm here."""
    turns = np.linspace(0, 2 * math.pi, 721)
    for seed in range(30):
        rng = np.random.default_rng(seed)
        normal = rng.normal(size=3)
        normal /= np.linalg.norm(normal)
        plane = Plane(tuple(rng.uniform(-90, 90, 3)), tuple(normal))
        rims = [(r * math.cos(t), r * math.sin(t), z) for r, z in ((50.0, 0.0), (30.0, 100.0)) for t in turns]
        sampled = float(((np.array(rims) - np.array(plane.origin)) @ normal).min())
        gap = gap_to_plane(frustum_solid(CONE), plane)
        assert sampled - 1e-3 <= gap.value <= sampled + 1e-9
        assert gap.mine - gap.theirs == pytest.approx(gap.value * normal, abs=1e-9)


CUBE = box_solid(Box(WORLD, (100.0, 100.0, 100.0)))


@pytest.mark.parametrize(
    ("start", "end", "gap"),
    [
        ((0, 0, 60), (0, 0, 300), 10.0),  # end on: flat end to face
        ((0, 0, 45), (0, 0, 300), -5.0),  # its end 5 mm in
        ((0, 0, 60), (0, 300, 60), 10.0 - 40.0),  # lying over the cube: half of it inside
        ((0, 0, 100), (0, 300, 100), 10.0),  # lying on its side, 50 mm up
        ((93, 0, 54), (93, 0, 300), 5.0),  # rim to edge: 3 and 4
        ((-300, 0, 0), (300, 0, 0), -90.0),  # right through: 50 + 40 mm to the side, and it is out
    ],
)
def test_a_cylinder_of_80_mm_by_hand(
    start: tuple[float, float, float], end: tuple[float, float, float], gap: float
) -> None:
    found = gap_to_body(CUBE, cylinder_body(Cylinder(start, end, 80.0)))
    assert found.value == pytest.approx(gap, abs=1e-7)


def test_an_end_seen_by_a_cone() -> None:
    """A disc of 200 mm stands 7 mm over the narrow end, which looks at its inside, far from its edge."""
    found = gap_to_body(frustum_solid(CONE), cylinder_body(Cylinder((20, 0, 107), (20, 0, 200), 200.0)))
    assert found.value == pytest.approx(7.0, abs=1e-9)
    assert found.mine[2] == pytest.approx(100.0) and found.theirs[2] == pytest.approx(107.0)


def test_two_cones_by_hand() -> None:
    """Nose to nose 6 mm apart; and side by side, leaning the same way, so that the sides run along each other."""
    above = Frustum(frame_from_normal((0.0, 0.0, 206.0), (0.0, 0.0, -1.0)), 50.0, 30.0, 100.0)
    assert gap_to_frustum(frustum_solid(CONE), above).value == pytest.approx(6.0, abs=1e-9)
    lean = math.atan(0.2)
    beside = Frustum(frame_from_normal((84.0, 0.0, 100.0), (0.0, 0.0, -1.0)), 50.0, 30.0, 100.0)
    assert gap_to_frustum(frustum_solid(CONE), beside).value == pytest.approx(4 * math.cos(lean), abs=1e-9)
    crossing = Frustum(frame_from_normal((74.0, 0.0, 100.0), (0.0, 0.0, -1.0)), 50.0, 30.0, 100.0)
    assert gap_to_frustum(frustum_solid(CONE), crossing).value == pytest.approx(-6 * math.cos(lean), abs=1e-9)


def test_a_wall_with_far_edges() -> None:
    """A wall that the cone runs through between its edges, and the same wall beyond the cone's narrow end."""
    wall = np.array([[[-900.0, -900, 0], [900, -900, 0], [0, 1200, 0]]])
    through = gap_to_triangles(frustum_solid(CONE), wall + np.array([0, 0, 60]))
    side = (50 - 0.2 * 60) * math.cos(math.atan(0.2))  # from the axis to the side, square to it
    assert through.value == pytest.approx(-side, abs=1e-6), "deepest on the axis, where the side is nearer than an end"
    assert gap_to_triangles(frustum_solid(CONE), wall + np.array([0, 0, 104])).value == pytest.approx(4.0, abs=1e-12)
    assert gap_to_triangles(frustum_solid(CONE), wall - np.array([0, 0, 9])).value == pytest.approx(9.0, abs=1e-12)


def test_a_small_thing_wholly_inside() -> None:
    inside = np.array([[[1.0, 0, 50], [2, 0, 50], [1, 1, 50]]])
    found = gap_to_triangles(frustum_solid(CONE), inside)
    assert found.value == pytest.approx(-(40 - 1) * math.cos(math.atan(0.2)), abs=1e-6)


@pytest.mark.parametrize("seed", range(8))
def test_one_of_many_like_triangles_stands_out(seed: int) -> None:
    """A fine sleeve 10 mm off a cylinder all round; one corner of one triangle is pushed in by 1 mm. All the others
    are as good as equal, and none of them may hide it."""
    turn, height = 2 * math.pi * np.arange(180) / 180, np.linspace(-20, 220, 31)
    ring = np.stack([50 * np.cos(turn), 50 * np.sin(turn), 0 * turn], axis=1)
    grid = ring[None] + np.stack([0 * height, 0 * height, height], axis=1)[:, None]
    a, b = grid[:-1], np.roll(grid, -1, axis=1)[:-1]
    c, d = grid[1:], np.roll(grid, -1, axis=1)[1:]
    triangles = np.concatenate([np.stack([a, b, c], axis=2), np.stack([b, d, c], axis=2)]).reshape(-1, 3, 3)
    rng = np.random.default_rng(seed)
    row = rng.choice(np.flatnonzero((triangles[:, :, 2] > 5).all(axis=1) & (triangles[:, :, 2] < 195).all(axis=1)))
    triangles[row, 0] *= [49 / 50, 49 / 50, 1]
    found = gap_to_triangles(frustum_solid(Frustum(WORLD, 40.0, 40.0, 200.0)), triangles)
    assert found.value == pytest.approx(9.0, abs=1e-7)
    assert found.theirs == pytest.approx(triangles[row, 0], abs=1e-4)


def test_a_cable_on_the_line_of_a_cone() -> None:
    """A cable 12 mm off the side of a cone all along it: every place is as near as every other."""
    out = np.array([math.cos(math.atan(0.2)), 0, math.sin(math.atan(0.2))])  # square to the side
    start, end = np.array([50.0, 0, 0]) + 15 * out, np.array([30.0, 0, 100]) + 15 * out
    found = gap_to_body(frustum_solid(CONE), run_body(TubeRun((tuple(start), tuple(end)), 6.0)))
    assert found.value == pytest.approx(12.0, abs=1e-7)


def test_nothing_to_measure_to() -> None:
    with pytest.raises(ValueError, match="no triangles"):
        gap_to_triangles(CUBE, np.zeros((0, 3, 3)))
