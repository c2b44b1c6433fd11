"""Centrelines against values from outside the project.

[C] marks a value computed independently from first principles; what is from memory says so beside its formula.
"""

from __future__ import annotations

import math

import pytest

from headergen.geometry.curves.centreline import corner_points, setback, steps_from_points, trace
from headergen.model import Bend, Frame, Straight, Vec

ALONG_X = Frame((0.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0))  # travels along +X, zero toward +Y
INCH = 25.4
OD, D15 = 1.625 * INCH, 1.5 * 1.625 * INCH  # the base tube, 1 5/8 in, and its 1.5D radius, 61.9125 mm

CASE_A: list[Vec] = [(0, 0, 0), (100, 0, 0), (100, 150, 0), (100, 150, 120), (250, 150, 120)]
CASE_B: list[Vec] = [
    (0, 0, 0),
    (104.8528, 0, 0),
    (189.3477, 84.4949, 0),
    (170.8496, 176.9854, 45.3109),
]


def test_case_a_from_points() -> None:
    """LRA of a path of square corners, R 50 [C]; exact but for rounding."""
    steps = steps_from_points(CASE_A, [50.0] * 3, (0.0, 1.0, 0.0))
    assert [s.length for s in steps if isinstance(s, Straight)] == pytest.approx([50, 50, 20, 100], abs=1e-9)
    bends = [s for s in steps if isinstance(s, Bend)]
    assert [math.degrees(bend.angle) for bend in bends] == pytest.approx([90, 90, 90], abs=1e-9)
    assert [math.degrees(bend.rotation) for bend in bends[1:]] == pytest.approx([90, 90], abs=1e-9)
    developed = 50 + 50 + 20 + 100 + 3 * 50 * math.pi / 2
    assert developed == pytest.approx(455.6194, abs=5e-5)  # as printed, to its last digit [C]
    assert trace(ALONG_X, steps).length == pytest.approx(developed, abs=1e-9)


def test_case_a_to_points() -> None:
    quarter = math.pi / 2
    steps = [
        Straight(50.0),
        Bend(quarter, 50.0, 0.0),
        Straight(50.0),
        Bend(quarter, 50.0, quarter),
        Straight(20.0),
        Bend(quarter, 50.0, quarter),
        Straight(100.0),
    ]
    for point, wanted in zip(corner_points(trace(ALONG_X, steps)), CASE_A, strict=True):
        assert point == pytest.approx(wanted, abs=1e-9)


def test_case_b_both_ways() -> None:
    """L 80, 60, 70, rotation 30°, bends 45° and 60°, R 60; right-handed about the incoming straight [C].

    The points are printed to 1e-4 mm, which is the tolerance there; back from them the angles err by as much over
    the legs.
    """
    steps = [
        Straight(80.0),
        Bend(math.radians(45), 60.0, 0.0),
        Straight(60.0),
        Bend(math.radians(60), 60.0, math.radians(30)),
        Straight(70.0),
    ]
    line = trace(ALONG_X, steps)
    for point, wanted in zip(corner_points(line), CASE_B, strict=True):
        assert point == pytest.approx(wanted, abs=6e-5)
    assert line.length == pytest.approx(80 + 60 + 70 + 60 * math.radians(105), abs=1e-9)
    assert line.length == pytest.approx(319.9557, abs=5e-5)
    back = steps_from_points(CASE_B, [60.0, 60.0], (0.0, 1.0, 0.0))
    for found, meant in zip(back, steps, strict=True):
        if isinstance(found, Straight) and isinstance(meant, Straight):
            assert found.length == pytest.approx(meant.length, abs=3e-4)
        elif isinstance(found, Bend) and isinstance(meant, Bend):
            assert (found.angle, found.rotation) == pytest.approx((meant.angle, meant.rotation), abs=3e-6)


@pytest.mark.parametrize(
    ("degrees", "arc", "tangent"),
    [(90, 97.2519, 61.9125), (45, 48.6260, 25.6450)],  # R·θ and R·tan(θ/2), from memory; the figures [C], to 1e-4 mm
)
def test_arcs_and_setbacks(degrees: float, arc: float, tangent: float) -> None:
    angle = math.radians(degrees)
    assert pytest.approx(61.9125, abs=1e-12) == D15
    assert trace(ALONG_X, [Bend(angle, D15, 0.0)]).length == pytest.approx(arc, abs=5e-5)
    assert setback(D15, angle) == pytest.approx(tangent, abs=5e-5)
    corner = corner_points(trace(ALONG_X, [Bend(angle, D15, 0.0), Straight(10.0)]))[1]
    assert corner == pytest.approx((tangent, 0.0, 0.0), abs=5e-5)
