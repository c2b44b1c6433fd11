"""Advice on which way to move a thing: in the words of the vehicle, enough, and only where it can be followed."""

from __future__ import annotations

import math

import pytest

from headergen.checks.moves import may_give_way, say_shift, way_off
from headergen.model import Bend, Place, Step, Straight, Vec
from tests.checks.small_header import draft, measured

R = math.radians
# along y for 100 mm, then an S in the plane z = 0 that ends along y again
WINDING: list[Step] = [
    Straight(100.0),
    Bend(R(40), 80.0, 0.0),
    Straight(120.0),
    Bend(R(40), 80.0, math.pi),
    Straight(90.0),
]


@pytest.mark.parametrize(
    ("shift", "units", "said"),
    [
        ((8.76, 0, 0), "mm", "8.8 mm forward"),
        ((-8.74, 0, 0), "mm", "8.8 mm rearward"),
        ((0, 8.8, 0), "mm", "8.8 mm to the left"),
        ((0, -0.01, 0), "mm", "0.1 mm to the right"),
        ((0, 0, 25.4), "in", "1.000 in up"),
        ((0, 0, -25.41), "in", "1.001 in down"),
    ],
)
def test_the_six_ways_by_the_axes_of_iso_8855(shift: Vec, units: str, said: str) -> None:
    """x forward, y left, z up [S: ISO 8855]; rounded up, so that what is read is enough."""
    assert say_shift(shift, units) == said


def test_the_way_off_leads_through_the_nearest_points() -> None:
    assert way_off(((6.0, 0.0, 8.0), (0.0, 0.0, 0.0)), 10.0) == pytest.approx((0.6, 0.0, 0.8))


def test_a_crossing_leads_the_other_way() -> None:
    """3 mm deep with the skin's point below the other's: up and out."""
    assert way_off(((0.0, 0.0, -3.0), (0.0, 0.0, 0.0)), -3.0) == pytest.approx((0.0, 0.0, 1.0))


def test_points_in_one_place_show_no_way() -> None:
    assert way_off(((1.0, 2.0, 3.0), (1.0, 2.0, 3.0)), 0.0) is None


def test_what_stands_on_the_axis_of_a_port_or_a_bore_cannot_give_way() -> None:
    header = measured(draft(WINDING)).header
    assert [may_give_way(header, Place("primary 1", 0.0, step)) for step in (1, 2, 3, 4, 5)] == [
        False,
        True,
        True,
        True,
        False,
    ]
    bent = measured(draft([Bend(R(10), 80.0, 0.0), Bend(R(10), 80.0, math.pi)])).header
    assert may_give_way(bent, Place("primary 1", 5.0, 1)) and may_give_way(bent, Place("primary 1", 20.0, 2))
