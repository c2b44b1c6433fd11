"""How deep a tube is in closed bodies of very many triangles, by closed forms, and how many of them it looks at."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from headergen.geometry.curves.body import Body, points_along, tube_body, ways_along
from headergen.geometry.curves.centreline import trace
from headergen.geometry.distance import feet, swallowed
from headergen.geometry.distance.distance_triangles import nearest_on_triangles
from headergen.geometry.distance.feet import feet_on_index, slabs_of
from headergen.geometry.distance.swallowed import SLACK, beyond, deepest
from headergen.geometry.frames import frame_from_normal
from headergen.geometry.mesh import index
from headergen.geometry.mesh.index import TriangleIndex, index_of
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.model import Bend, Straight

RADIUS, BALL = 21.2, 300.0
LOOKS = 8  # at each triangle, in the worst of bodies; every place asked looked at them all some 700 times


def indexed(mesh: trimesh.Trimesh) -> TriangleIndex:
    return index_of(TriangleMesh(np.asarray(mesh.vertices), np.asarray(mesh.faces), closed=True))


def tube(*start: float) -> Body:
    steps = [Straight(150.0), Bend(0.8, 63.5, 0.0), Straight(60.0)]
    return tube_body(trace(frame_from_normal(start, (0.1, 1.0, 0.05)), steps), RADIUS)  # type: ignore[arg-type]


@pytest.fixture
def looks(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How many triangles each measure of points against triangles was given."""
    seen: list[int] = []

    def counted(triangles: np.ndarray, points: np.ndarray) -> np.ndarray:
        seen.append(len(triangles))
        return nearest_on_triangles(triangles, points)

    for module in (feet, index):
        monkeypatch.setattr(module, "nearest_on_triangles", counted)
    return seen


def test_near_the_middle_of_a_ball_where_all_is_as_near(looks: list[int]) -> None:
    """Of a ball the way to the nearest place leads along the radius."""
    ball, body = indexed(trimesh.creation.icosphere(6, BALL)), tube(3.0, -150.0, 5.0)
    found = deepest(body, ball, beyond(ball, "obstacle"))
    at = np.linspace(*body.span, 100_000)
    centre, along = points_along(body, at), ways_along(body, at)
    off = np.linalg.norm(centre, axis=1)
    ahead = (BALL - off) * (centre * along).sum(axis=1) / off
    true = np.hypot(ahead, np.sqrt((BALL - off) ** 2 - ahead**2) + RADIUS).max()
    assert found is not None and -found.value == pytest.approx(true, rel=2 * SLACK)
    assert np.linalg.norm(found.point - found.skin) == pytest.approx(-found.value, abs=1e-9)
    assert sum(looks) < LOOKS * len(ball)


def test_in_a_box_of_many_triangles(looks: list[int]) -> None:
    """Half of the box's least width, and the radius; no place but the corners of a box has more walls as near."""
    mesh = trimesh.creation.box((200.0, 900.0, 320.0))
    for _ in range(6):
        mesh = mesh.subdivide()
    box = indexed(mesh)
    straight = tube_body(trace(frame_from_normal((-40.0, -100.0, 0.0), (0.4, 1.0, 0.0)), [Straight(200.0)]), RADIUS)
    found = deepest(straight, box, beyond(box, "obstacle"))
    slant = 1.0 / np.hypot(1.0, 0.4)  # cosine between the way to the side wall and the disc
    true = np.hypot(100.0 * np.sqrt(1 - slant**2), 100.0 * slant + RADIUS)
    assert found is not None and -found.value == pytest.approx(true, abs=1e-3)
    assert sum(looks) < LOOKS * len(box)


@pytest.mark.quick(1)
@pytest.mark.parametrize("seed", range(4))
def test_feet_are_the_nearest_places(seed: int) -> None:
    """Against a measure of all triangles, of rough ground, with no slack; with slack, to within it."""
    rng = np.random.default_rng(seed)
    mesh = trimesh.creation.icosphere(5, 100.0)
    mesh.vertices *= rng.uniform(0.8, 1.2, (len(mesh.vertices), 1))
    rough = indexed(mesh)
    points, slabs = rng.normal(size=(40, 3)) * rng.choice([5.0, 100.0], (40, 1)), slabs_of(rough)
    whole = np.asarray(mesh.triangles)
    feet_of_all = [nearest_on_triangles(whole, np.broadcast_to(point, (len(whole), 3))) for point in points]
    true = np.array([np.linalg.norm(all_ - p, axis=1).min() for all_, p in zip(feet_of_all, points, strict=True)])
    for slack in (0.0, SLACK):
        places, numbers = feet_on_index(points, rough, slabs, slack)
        away = np.linalg.norm(places - points, axis=1)
        assert (away >= true - 1e-9).all() and (away * (1.0 - slack) <= true + 1e-9).all()
        on = nearest_on_triangles(whole[numbers], places)
        assert np.linalg.norm(on - places, axis=1).max() < 1e-9


def test_the_count_is_that_of_all_measures(looks: list[int]) -> None:
    ball = indexed(trimesh.creation.icosphere(4, BALL))
    slabs = slabs_of(ball)
    feet_on_index(np.zeros((1, 3)), ball, slabs, 0.0)
    assert sum(looks) >= len(ball) / 2, "from the very middle, with no slack, all must be looked at"
    assert swallowed.SLACK <= 0.01
