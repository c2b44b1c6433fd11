"""Gaps that a few strokes on paper give: parallel, coaxial, end to end, over discs, before walls and floors."""

from __future__ import annotations

import math

import numpy as np
import pytest

from headergen.geometry.curves.body import tube_body
from headergen.geometry.curves.centreline import trace
from headergen.geometry.distance.distance_bodies import body_to_body, body_to_plane
from headergen.geometry.distance.distance_triangles import body_to_triangles
from headergen.geometry.frames import WORLD, frame_from_normal
from headergen.model import Bend, Centreline, Plane, Straight

RADIUS = 21.2


def straight(length: float, origin: tuple[float, float, float] = (0.0, 0.0, 0.0)) -> Centreline:
    return trace(frame_from_normal(origin, (0.0, 0.0, 1.0), (1.0, 0.0, 0.0)), [Straight(length)])


def test_parallel_tubes() -> None:
    a, b = tube_body(straight(100), 20), tube_body(straight(100, (55, 0, 30)), 10)
    assert body_to_body(a, b)[0].value == pytest.approx(55 - 20 - 10, abs=1e-12)


def test_tubes_end_to_end() -> None:
    """Flat ends 7 mm apart on one axis, and 7 mm apart with 60 mm between axes: rim to rim."""
    a = tube_body(straight(100), 20)
    assert body_to_body(a, tube_body(straight(50, (0, 0, 107)), 20))[0].value == pytest.approx(7, abs=1e-9)
    beside = body_to_body(a, tube_body(straight(50, (60, 0, 107)), 20))[0].value
    assert beside == pytest.approx(math.hypot(7, 60 - 40), abs=1e-9)


def test_coaxial_bends() -> None:
    """Two quarter bends about one axis, R 60 and R 130: every place is as near as every other."""
    inner = trace(WORLD, [Bend(math.pi / 2, 60.0, 0.0)])
    outer = trace(
        frame_from_normal((-70.0, 0.0, 0.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0)), [Bend(math.pi / 2, 130.0, 0.0)]
    )
    found = body_to_body(tube_body(inner, 20), tube_body(outer, 15))[0].value
    assert found == pytest.approx(130 - 60 - 35, abs=1e-9)


@pytest.mark.parametrize("beside", [0.0, 12.0, 20.0, 32.0])
def test_a_wall_before_a_flat_end(beside: float) -> None:
    """A point 9 mm beyond the end plane: over the disc it is 9 mm away, beside it the rim counts."""
    point = np.full((1, 3, 3), [beside, 0.0, 109.0])
    value = body_to_triangles(tube_body(straight(100), 20), point).value
    assert value == pytest.approx(math.hypot(9, max(beside - 20, 0)), abs=1e-12)


def test_a_wall_behind_a_short_first_straight() -> None:
    """A wall 35 mm behind the start plane stays 35 mm away when a bend follows 3 mm after the start."""
    line = trace(
        frame_from_normal((0, 0, 35.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0)), [Straight(3.0), Bend(1.2, 63.5, 0.0)]
    )
    wall = np.array([[[-400, -400, 0], [400, -400, 0], [0, 700, 0]]], dtype=float)
    assert body_to_triangles(tube_body(line, RADIUS), wall).value == pytest.approx(35, abs=1e-12)


def test_a_wall_through_the_tube_is_as_deep_as_it_reaches() -> None:
    wall = np.array([[[8, -400, -50], [8, 400, -50], [8, 0, 600]]], dtype=float)
    assert body_to_triangles(tube_body(straight(100), 20), wall).value == pytest.approx(8 - 20, abs=1e-12)


@pytest.mark.parametrize("apart", [50.0, 15.0])
def test_tubes_across_each_other(apart: float) -> None:
    """Axes at a right angle: their distance less both radii, as a gap or as a depth."""
    across = tube_body(trace(frame_from_normal((-50.0, apart, 50.0), (1.0, 0.0, 0.0)), [Straight(100.0)]), 10)
    assert body_to_body(tube_body(straight(100), 20), across)[0].value == pytest.approx(apart - 30, abs=1e-9)


@pytest.mark.parametrize("beside", [0.0, 45.0])
def test_a_point_on_the_axis_of_a_bend(beside: float) -> None:
    """Every place of the bend is as near: √(R² + h²) less the radius, h above its plane."""
    body = tube_body(trace(WORLD, [Bend(math.pi, 60.0, 0.0)]), 20)
    value = body_to_triangles(body, np.full((1, 3, 3), [60.0, beside, 0.0])).value
    assert value == pytest.approx(math.hypot(60, beside) - 20, abs=1e-12)


def test_a_wall_beside_a_half_turn() -> None:
    """A bend of R 60 reaches R + r past where it begins; the wall, slanted in itself, stands 120 mm past it."""
    wall = np.array([[[-300, -400, 120], [500, -300, 120], [60, 700, 120]]], dtype=float)
    body = tube_body(trace(WORLD, [Bend(math.pi, 60.0, 0.0)]), 20)
    assert body_to_triangles(body, wall).value == pytest.approx(120 - 60 - 20, abs=1e-12)


@pytest.mark.parametrize("degrees", [0.0, 25.0, 90.0])
def test_a_slanting_tube_above_a_floor(degrees: float) -> None:
    """Its low end's rim hangs r·cos α under the end's centre, 70 mm up."""
    slant = math.radians(degrees)
    line = trace(frame_from_normal((0, 0, 70.0), (math.cos(slant), 0.0, math.sin(slant))), [Straight(200.0)])
    found = body_to_plane(tube_body(line, 20), Plane((0, 0, 0), (0, 0, 1.0)))
    assert found.value == pytest.approx(70 - 20 * math.cos(slant), abs=1e-12)


def test_flat_ends_that_cross_corner_to_corner() -> None:
    """The point (11, 10, −1) is √(11² + 10²) from one axis, √(10² + 11²) from the other, 1 mm behind both ends."""
    one = tube_body(straight(100, (0.0, 0.0, -100.0)), 20)
    other = tube_body(trace(frame_from_normal((110.0, 20.0, 10.0), (-1.0, 0.0, 0.0)), [Straight(100.0)]), 20)
    assert body_to_body(one, other)[0].value < -1.0
