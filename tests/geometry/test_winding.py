"""Winding numbers of closed, hollow and open surfaces, near and seen from afar."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from headergen.geometry.frames import frame_from_normal
from headergen.geometry.mesh.index import build_index, placed
from headergen.geometry.mesh.winding import INSIDE, OUTSIDE, is_wrong_side, winding_numbers

FROM_AFAR = 0.02  # what seeing runs of triangles as one may cost; sides are told by a quarter


def ball(fine: int, radius: float = 500.0) -> np.ndarray:
    made = trimesh.creation.icosphere(fine, radius)
    return np.asarray(made.vertices)[made.faces]


def solid_angles(triangles: np.ndarray, point: np.ndarray) -> float:
    """The definition, triangle by triangle, by the angles of the spherical triangle (Girard 1629)."""
    total = 0.0
    for corners in triangles:
        a, b, c = (v / np.linalg.norm(v) for v in corners - point)
        angles = []
        for p, q, r in ((a, b, c), (b, c, a), (c, a, b)):
            u, v = np.cross(p, q), np.cross(p, r)
            angles.append(np.arctan2(np.linalg.norm(np.cross(u, v)), u @ v))
        total += (sum(angles) - np.pi) * np.sign(a @ np.cross(b, c))
    return total / (4 * np.pi)


@pytest.mark.parametrize("fine", [2, 5, 6])
def test_inside_a_ball_is_one_and_outside_none(fine: int) -> None:
    points = np.random.default_rng(fine).uniform(-700, 700, (80, 3))
    reach = np.linalg.norm(points, axis=1)
    sure = (reach < 460) | (reach > 520)
    found = winding_numbers(build_index(ball(fine)), points)
    assert found[sure] == pytest.approx((reach < 460)[sure].astype(float), abs=FROM_AFAR)


@pytest.mark.slow
def test_part_of_a_ball_is_its_share_of_the_sky() -> None:
    """Half of a ball, seen from anywhere, against the sum of spherical excesses."""
    half = ball(3)
    half = half[half.mean(axis=1)[:, 2] > 0]
    index = build_index(half)
    for point in np.random.default_rng(1).uniform(-400, 400, (12, 3)):
        assert winding_numbers(index, point[None])[0] == pytest.approx(solid_angles(half, point), abs=FROM_AFAR)


def test_a_hollow_is_outside_and_a_shell_turned_round_counts_negative() -> None:
    hollow = np.concatenate([ball(4), ball(4, 200.0)[:, ::-1]])
    centre = np.zeros((1, 3))
    assert winding_numbers(build_index(hollow), centre)[0] == pytest.approx(0, abs=FROM_AFAR)
    assert winding_numbers(build_index(hollow), np.array([[350.0, 0, 0]]))[0] == pytest.approx(1, abs=FROM_AFAR)
    assert winding_numbers(build_index(ball(4)[:, ::-1]), centre)[0] == pytest.approx(-1, abs=FROM_AFAR)


def test_units_and_placing_change_nothing() -> None:
    frame = frame_from_normal((120.0, -40.0, 900.0), (1.0, 2.0, 3.0))
    index = placed(build_index(ball(5, 20.0)), 25.4, frame)
    points = np.array(frame.origin) + np.array([[100.0, 0, 0], [0, 900.0, 0]])
    inside, outside = winding_numbers(index, points)
    assert abs(inside) > INSIDE and abs(outside) < OUTSIDE


def test_points_go_round_nothing() -> None:
    cloud = np.repeat(np.random.default_rng(0).normal(size=(500, 1, 3)), 3, axis=1)
    assert winding_numbers(build_index(cloud), np.zeros((1, 3)))[0] == pytest.approx(0, abs=1e-12)


def test_the_wrong_side_is_that_which_the_role_forbids() -> None:
    """A surface of which nothing is known for certain, as an open one half way round a point, forbids no side."""
    around = np.array([0.0, 0.5, 1.0])
    for role, is_closed, wrong in (
        ("obstacle", True, [False, False, True]),
        ("obstacle", False, [False, False, True]),
        ("enclosure", True, [True, False, False]),
        ("enclosure", False, [False, False, False]),
        ("surface", True, [False, False, False]),
    ):
        assert is_wrong_side(role, is_closed, around).tolist() == wrong, (role, is_closed)
