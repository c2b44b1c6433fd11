"""Frames: right-handed and square whatever is done to them; turns against another library's rotations."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from headergen.geometry.curves.centreline import trace
from headergen.geometry.frames import (
    WORLD,
    angle_between,
    any_normal,
    axes_matrix,
    cross,
    determinant,
    dot,
    frame_from_normal,
    norm,
    point_in,
    rotated,
    tilted,
    unit,
)
from headergen.model import Arc, Bend, Frame, Step, Straight, Vec

SEEDS = range(30)
ROUNDING = 1e-12  # of unit vectors, over a handful of operations


def random_vector(chance: random.Random) -> Vec:
    return (chance.gauss(0, 1), chance.gauss(0, 1), chance.gauss(0, 1))


def random_frame(chance: random.Random) -> Frame:
    return frame_from_normal(random_vector(chance), random_vector(chance), random_vector(chance))


def is_square(frame: Frame, within: float = ROUNDING) -> bool:
    axes = axes_matrix(frame)
    return bool(np.abs(axes @ axes.T - np.eye(3)).max() < within) and abs(determinant(frame) - 1) < within


@pytest.mark.parametrize("seed", SEEDS)
def test_turns_as_another_library_turns(seed: int) -> None:
    """scipy's rotation vectors are right-handed too."""
    chance = random.Random(seed)
    axis, v, angle = unit(random_vector(chance)), random_vector(chance), chance.uniform(-7, 7)
    assert rotated(v, axis, angle) == pytest.approx(Rotation.from_rotvec(angle * np.array(axis)).apply(v), abs=ROUNDING)


@pytest.mark.parametrize("seed", SEEDS)
def test_frames_from_any_normal_are_square(seed: int) -> None:
    chance = random.Random(seed)
    normal, x = random_vector(chance), random_vector(chance)
    frame = frame_from_normal((1.0, 2.0, 3.0), normal, x)
    assert is_square(frame) and is_square(frame_from_normal((0.0, 0.0, 0.0), normal))
    assert dot(frame.z, normal) == pytest.approx(norm(normal), abs=ROUNDING)
    assert dot(frame.y, x) == pytest.approx(0, abs=ROUNDING) and dot(frame.x, x) > 0, "x is as near as it can be"


@pytest.mark.parametrize("axis", [(1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.0, 0.0, 1.0), (1.0, 1.0, 1.0)])
def test_frames_along_the_axes_are_square_too(axis: Vec) -> None:
    assert is_square(frame_from_normal((0.0, 0.0, 0.0), axis))
    assert dot(any_normal(unit(axis)), unit(axis)) == pytest.approx(0, abs=ROUNDING)


@pytest.mark.parametrize("seed", SEEDS)
def test_leaning_keeps_a_frame_square(seed: int) -> None:
    chance = random.Random(seed)
    frame = random_frame(chance)
    angle, toward = chance.uniform(0, 1.5), chance.uniform(-math.pi, math.pi)
    leaned = tilted(frame, angle, toward)
    assert is_square(leaned) and leaned.origin == frame.origin
    local = axes_matrix(frame) @ np.array(leaned.z)
    wanted = (math.sin(angle) * math.cos(toward), math.sin(angle) * math.sin(toward), math.cos(angle))
    assert local == pytest.approx(wanted, abs=ROUNDING), "z falls toward the named direction"


@pytest.mark.parametrize("seed", SEEDS)
def test_points_in_a_frame_are_those_of_its_matrix(seed: int) -> None:
    chance = random.Random(seed)
    frame, local = random_frame(chance), np.array(random_vector(chance)) * 300
    there = local @ axes_matrix(frame) + np.array(frame.origin)
    assert point_in(frame, tuple(local)) == pytest.approx(there, abs=1e-10)  # rounding of 300 mm


@pytest.mark.parametrize("seed", range(5))
def test_frames_stay_square_over_two_hundred_bends(seed: int) -> None:
    """Rounding may not pile up: after each of 200 bends the frame is as square as after the first."""
    chance = random.Random(seed)
    steps: list[Step] = []
    for _ in range(200):
        bend = Bend(chance.uniform(1e-4, math.pi), chance.uniform(25, 200), chance.uniform(-math.pi, math.pi))
        steps += [bend, Straight(chance.uniform(0.1, 90))]
    for segment in trace(random_frame(chance), steps).segments:
        side = cross(segment.tangent, segment.normal)
        assert is_square(Frame(segment.start, segment.normal, side, segment.tangent)), segment.step


def test_rotations_add_up_over_many_bends() -> None:
    """360 bends of 1° and 0 rotation make a ring: the end is the start again, within rounding of 360 steps."""
    line = trace(WORLD, [Bend(math.radians(1), 100.0, 0.0)] * 360)
    last = line.segments[-1]
    assert isinstance(last, Arc)
    turn = Rotation.from_rotvec(last.angle * np.array(cross(last.tangent, last.normal)))
    centre = np.array(last.start) + 100 * np.array(last.normal)
    assert centre + turn.apply(np.array(last.start) - centre) == pytest.approx((0, 0, 0), abs=1e-10)
    assert turn.apply(last.tangent) == pytest.approx((0, 0, 1), abs=ROUNDING)


@pytest.mark.parametrize("angle", [0.0, 1e-9, 1e-5, 1.0, math.pi - 1e-9, math.pi])
def test_small_and_flat_angles_keep_their_digits(angle: float) -> None:
    """The arc cosine of a dot product would lose 1e-9 rad altogether."""
    assert angle_between((3.0, 0.0, 0.0), (math.cos(angle), math.sin(angle), 0.0)) == pytest.approx(angle, abs=1e-15)


def test_what_has_no_direction_is_refused() -> None:
    with pytest.raises(ValueError, match="length"):
        unit((0.0, 0.0, 0.0))
    with pytest.raises(ValueError, match="length"):
        frame_from_normal((0.0, 0.0, 0.0), (0.0, 0.0, 0.0))
    with pytest.raises(ValueError, match="along the normal"):
        frame_from_normal((0.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, 0.0, -4.0))


def test_a_mirrored_frame_is_told() -> None:
    mirrored = Frame(WORLD.origin, (-1.0, 0.0, 0.0), WORLD.y, WORLD.z)
    assert determinant(WORLD) == 1.0 and determinant(mirrored) == -1.0
