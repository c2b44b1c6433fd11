"""Centrelines by their own laws: smooth joints, square frames, lengths that add up, and paths that cannot be."""

from __future__ import annotations

import math
import random

import pytest

from headergen.geometry.curves.centreline import (
    PointsError,
    corner_points,
    cut_out,
    frame_at,
    frame_on,
    place_at,
    steps_from_points,
    trace,
)
from headergen.geometry.frames import (
    WORLD,
    cross,
    determinant,
    dot,
    frame_from_normal,
    norm,
    point_in,
    rotated,
    subtract,
    tilted,
)
from headergen.model import Arc, Bend, Centreline, Frame, Line, Step, Straight, Vec

SEEDS = range(40)


def random_steps(chance: random.Random, largest: float = math.pi) -> list[Step]:
    steps: list[Step] = [Straight(chance.uniform(10, 90))]
    for _ in range(chance.randint(1, 6)):
        steps.append(Bend(chance.uniform(0.05, largest), chance.uniform(30, 120), chance.uniform(-math.pi, math.pi)))
        if chance.random() < 0.7:
            steps.append(Straight(chance.uniform(0.5, 120)))
    return steps


def random_frame(chance: random.Random) -> Frame:
    def vector() -> Vec:
        return (chance.gauss(0, 1), chance.gauss(0, 1), chance.gauss(0, 1))

    return frame_from_normal(tuple(300 * v for v in vector()), vector(), vector())  # type: ignore[arg-type]


def close(a: Vec, b: Vec, within: float) -> bool:
    return norm(subtract(a, b)) <= within


@pytest.mark.parametrize("seed", SEEDS)
def test_joints_are_smooth_and_frames_square(seed: int) -> None:
    """Point, tangent and carried normal run on across every joint; rounding only, over up to 13 segments."""
    chance = random.Random(seed)
    line = trace(random_frame(chance), random_steps(chance))
    for before, after in zip(line.segments, line.segments[1:], strict=False):
        point, tangent, toward = frame_on(before, before.length)
        assert close(point, after.start, 1e-12) and close(tangent, after.tangent, 1e-12)
        if isinstance(after, Line):
            assert close(toward, after.normal, 1e-12)
    for at in (0.0, 0.3 * line.length, line.length):
        _, tangent, normal = frame_at(line, at)
        assert abs(dot(tangent, normal)) < 1e-12
        assert norm(tangent) == pytest.approx(1, abs=1e-12) and norm(normal) == pytest.approx(1, abs=1e-12)


@pytest.mark.parametrize("seed", SEEDS)
def test_length_is_the_sum_of_straights_and_arcs(seed: int) -> None:
    chance = random.Random(seed)
    steps = random_steps(chance)
    wanted = math.fsum(s.length if isinstance(s, Straight) else s.radius * s.angle for s in steps)
    assert trace(WORLD, steps).length == pytest.approx(wanted, abs=1e-9)


@pytest.mark.parametrize("seed", SEEDS)
def test_tangent_is_the_slope_of_the_points(seed: int) -> None:
    """Central differences over 2e-4 mm: their error is h²/6R² and rounding over h, together under 1e-8."""
    chance = random.Random(seed)
    line = trace(random_frame(chance), random_steps(chance))
    starts = line.starts
    for _ in range(20):
        at = chance.uniform(1e-3, line.length - 1e-3)
        if min(abs(at - start) for start in starts) < 1e-3:
            continue
        h = 1e-4
        ahead, behind = frame_at(line, at + h)[0], frame_at(line, at - h)[0]
        slope = tuple((a - b) / (2 * h) for a, b in zip(ahead, behind, strict=True))
        assert close(slope, frame_at(line, at)[1], 1e-7)  # type: ignore[arg-type]


@pytest.mark.parametrize("seed", SEEDS)
def test_points_and_back(seed: int) -> None:
    """XYZ → LRA → XYZ returns the corners; bends stay clear of 180°, where there is no corner."""
    chance = random.Random(seed)
    start = random_frame(chance)
    line = trace(start, random_steps(chance, largest=2.5))
    points = corner_points(line)
    radii = [segment.radius for segment in line.segments if isinstance(segment, Arc)]
    again = trace(start, steps_from_points(points, radii, start.x))
    for found, meant in zip(corner_points(again), points, strict=True):
        assert close(found, meant, 1e-7)


@pytest.mark.parametrize("seed", SEEDS)
def test_rigid_motion_moves_the_line_and_nothing_else(seed: int) -> None:
    chance = random.Random(seed)
    steps = random_steps(chance)
    here, there = trace(WORLD, steps), random_frame(chance)
    moved = trace(there, steps)
    assert moved.length == pytest.approx(here.length, abs=1e-9)
    for share in (0.1, 0.5, 0.9, 1.0):
        local = frame_at(here, share * here.length)[0]
        assert close(point_in(there, local), frame_at(moved, share * here.length)[0], 1e-9)


def test_half_turn_comes_back_two_radii_away() -> None:
    line = trace(WORLD, [Straight(30.0), Bend(math.pi, 50.0, 0.0), Straight(30.0)])
    end, tangent, _ = frame_at(line, line.length)
    assert close(end, (100.0, 0.0, 0.0), 1e-12) and close(tangent, (0.0, 0.0, -1.0), 1e-12)
    with pytest.raises(ValueError, match="180"):
        corner_points(line)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_part_of_a_line_lies_on_it(seed: int) -> None:
    chance = random.Random(seed)
    line = trace(random_frame(chance), random_steps(chance))
    low, high = sorted(chance.uniform(0, line.length) for _ in range(2))
    part = cut_out(line, low, high)
    assert part.length == pytest.approx(high - low, abs=1e-9)
    for share in (0.0, 0.4, 1.0):
        at = low + share * (high - low)
        for mine, whole in zip(frame_at(part, share * part.length), frame_at(line, at), strict=True):
            assert close(mine, whole, 1e-9)


def test_places_count_steps_from_one() -> None:
    line = trace(WORLD, [Straight(50.0), Bend(1.0, 60.0, 0.0), Straight(20.0)], run="primary 3")
    assert [place_at(line, at).step for at in (0.0, 50.0, 50.1, 110.1, 130.0)] == [1, 1, 2, 3, 3]
    assert place_at(line, 12.0).run == "primary 3"


@pytest.mark.parametrize("seed", range(10))
def test_frames_are_right_handed(seed: int) -> None:
    frame = random_frame(random.Random(seed))
    leaned = tilted(frame, 0.3, 1.1)
    for each in (frame, leaned):
        assert determinant(each) == pytest.approx(1, abs=1e-12)
    toward = tuple(math.cos(1.1) * x + math.sin(1.1) * y for x, y in zip(frame.x, frame.y, strict=True))
    assert dot(leaned.z, frame.z) == pytest.approx(math.cos(0.3), abs=1e-12)
    assert dot(leaned.z, toward) == pytest.approx(math.sin(0.3), abs=1e-12)  # type: ignore[arg-type]


def test_turning_is_right_handed() -> None:
    assert close(rotated((1.0, 0.0, 0.0), (0.0, 0.0, 1.0), math.pi / 2), (0.0, 1.0, 0.0), 1e-15)
    assert cross((1.0, 0.0, 0.0), (0.0, 1.0, 0.0)) == (0.0, 0.0, 1.0)


@pytest.mark.parametrize(
    ("points", "radii", "said", "corner"),
    [
        # a 90° bend of R 60 takes 60 mm of each leg: 60 of 50, then 120 of 100
        ([(0, 0, 0), (50, 0, 0), (50, 200, 0)], [60], "10.0 mm are missing", 2),
        ([(0, 0, 0), (90, 0, 0), (90, 100, 0), (190, 100, 0)], [60, 60], "20.0 mm are missing", 3),
        ([(0, 0, 0), (0, 0, 0), (9, 0, 0)], [5], "same place", 2),
        ([(0, 0, 0), (90, 0, 0), (10, 0, 0)], [5], "doubles back", 2),
        ([(0, 0, 0), (90, 0, 0), (90, 90, 0)], [], "need 1 radii", 1),
    ],
)
def test_points_that_no_tube_follows(points: list[Vec], radii: list[float], said: str, corner: int) -> None:
    with pytest.raises(PointsError, match=said) as caught:
        steps_from_points(points, radii, (0.0, 0.0, 1.0))
    assert caught.value.corner == corner


def test_corner_without_a_turn_joins_its_straights() -> None:
    steps = steps_from_points([(0, 0, 0), (40, 0, 0), (100, 0, 0)], [60.0], (0.0, 1.0, 0.0))
    assert steps == (Straight(100.0),)


def test_a_line_of_one_bend_alone() -> None:
    line: Centreline = trace(WORLD, [Bend(math.pi / 2, 60.0, 0.0)])
    assert close(frame_at(line, line.length)[0], (60.0, 0.0, 60.0), 1e-12)


@pytest.mark.parametrize("seed", SEEDS)
def test_steps_to_points_and_back(seed: int) -> None:
    """LRA → XYZ → LRA returns every step; a rotation errs by the rounding of directions over its angle."""
    chance = random.Random(seed)
    start, steps = random_frame(chance), random_steps(chance, largest=2.5)
    line = trace(start, steps)
    radii = [segment.radius for segment in line.segments if isinstance(segment, Arc)]
    again = steps_from_points(corner_points(line), radii, start.x)
    assert [type(step) for step in again] == [type(step) for step in steps]
    for found, meant in zip(again, steps, strict=True):
        if isinstance(found, Straight) and isinstance(meant, Straight):
            assert found.length == pytest.approx(meant.length, abs=1e-7)
        elif isinstance(found, Bend) and isinstance(meant, Bend):
            assert (found.angle, found.radius) == pytest.approx((meant.angle, meant.radius), abs=1e-7)
            assert math.remainder(found.rotation - meant.rotation, 2 * math.pi) == pytest.approx(0, abs=1e-7)


@pytest.mark.parametrize("seed", SEEDS)
def test_points_may_be_measured_from_anywhere(seed: int) -> None:
    """Moving all points and the zero of rotation together changes no step; rounding of 1000 mm over legs of 10."""
    chance = random.Random(seed)
    line = trace(WORLD, random_steps(chance, largest=2.5))
    radii = [segment.radius for segment in line.segments if isinstance(segment, Arc)]
    points, there = corner_points(line), random_frame(chance)
    here = steps_from_points(points, radii, WORLD.x)
    moved = steps_from_points([point_in(there, point) for point in points], radii, there.x)
    for found, meant in zip(moved, here, strict=True):
        assert vars(found) == pytest.approx(vars(meant), abs=1e-7)


@pytest.mark.parametrize("rotation", [-170.0, -90.0, 0.0, 45.0, 180.0])
def test_half_turns_one_after_another(rotation: float) -> None:
    """Out along z, over by 2R toward x, back, and over again by 2R, turned by the rotation about the way back."""
    psi, radius = math.radians(rotation), 50.0
    line = trace(WORLD, [Bend(math.pi, radius, 0.0), Straight(70.0), Bend(math.pi, radius, psi)])
    end, tangent, _ = frame_at(line, line.length)
    # travelling −z and facing −x, a right-hand turn about −z takes −x toward +y
    wanted = (2 * radius * (1 - math.cos(psi)), 2 * radius * math.sin(psi), -70.0)
    assert close(end, wanted, 1e-9) and close(tangent, (0.0, 0.0, 1.0), 1e-12)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_part_keeps_its_steps_and_its_bend_planes(seed: int) -> None:
    """A line cut in two holds the same frames on both sides of the cut, and its steps keep their numbers."""
    chance = random.Random(seed)
    line = trace(random_frame(chance), random_steps(chance), run="primary 4")
    cut = chance.choice([*line.starts[1:-1], chance.uniform(0, line.length)])
    before, after = cut_out(line, 0.0, cut), cut_out(line, cut, line.length)
    assert before.run == after.run == "primary 4"
    assert before.length + after.length == pytest.approx(line.length, abs=1e-9)
    for at in (0.2 * cut, cut + 0.3 * (line.length - cut), line.length):
        part, into = (before, at) if at <= cut else (after, at - cut)
        assert place_at(part, into).step == place_at(line, at).step
        for mine, whole in zip(frame_at(part, into), frame_at(line, at), strict=True):
            assert close(mine, whole, 1e-9)


def test_a_part_without_length_is_empty() -> None:
    line = trace(WORLD, [Straight(50.0), Bend(1.0, 60.0, 0.0)])
    for low, high in ((20.0, 20.0), (60.0, 40.0), (110.0, 110.0), (200.0, 300.0), (-50.0, 0.0)):
        assert cut_out(line, low, high).segments == ()
    assert cut_out(line, -50.0, 500.0) == line, "beyond the ends there is nothing more"


def test_lengths_beyond_the_ends_fall_on_them() -> None:
    line = trace(WORLD, [Straight(50.0), Bend(1.0, 60.0, 0.0)])
    assert frame_at(line, -1e-9) == frame_at(line, 0.0)
    assert frame_at(line, 110.0 + 1e-9) == frame_at(line, 110.0)
    assert place_at(line, 110.0 + 1e-9).step == 2


def test_corners_in_line_within_a_path_join_their_straights() -> None:
    """A point in the middle of a straight takes nothing from it, whatever radius it is given, and turns nothing."""
    bent: list[Vec] = [(0, 0, 0), (200, 0, 0), (200, 300, 0), (200, 300, 250)]
    with_more: list[Vec] = [bent[0], (90, 0, 0), bent[1], (200, 130, 0), (200, 170, 0), *bent[2:]]
    plain = steps_from_points(bent, [60.0, 60.0], (0.0, 1.0, 0.0))
    assert len(plain) == 5
    more = steps_from_points(with_more, [1e6, 60.0, 60.0, 5.0, 60.0], (0.0, 1.0, 0.0))
    for found, meant in zip(more, plain, strict=True):
        assert vars(found) == pytest.approx(vars(meant), abs=1e-9)


def test_bends_that_just_fit_leave_no_straights() -> None:
    """Two bends of 90°, R 60, take 60, 120 and 60 mm of their legs: nothing is left, and nothing is missing."""
    steps = steps_from_points([(0, 0, 0), (60, 0, 0), (60, 120, 0), (120, 120, 0)], [60.0, 60.0], (0.0, 1.0, 0.0))
    assert [type(step) for step in steps] == [Bend, Bend]
    assert trace(Frame((0, 0, 0), (0, 1, 0), (0, 0, 1), (1, 0, 0)), steps).length == pytest.approx(60 * math.pi)


@pytest.mark.parametrize(("degrees", "leg"), [(30.0, 10.0), (90.0, 40.0), (150.0, 200.0)])
def test_missing_millimetres_are_what_the_setback_lacks(degrees: float, leg: float) -> None:
    """R·tan(θ/2), less the leg: the tangent length of an arc, by plane trigonometry."""
    angle = math.radians(degrees)
    end = (leg + 900 * math.cos(angle), 900 * math.sin(angle), 0.0)
    missing = 62.0 * math.tan(angle / 2) - leg
    assert missing > 0
    with pytest.raises(PointsError, match=f"{missing:.1f} mm are missing") as caught:
        steps_from_points([(0, 0, 0), (leg, 0, 0), end], [62.0], (0.0, 1.0, 0.0))
    assert "leg from point 1 to point 2" in str(caught.value)
