"""Advice on which way to move a thing: in the words of the vehicle, enough, and only where it can be followed."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from headergen.checks.moves import may_give_way, say_shift, ways_apart
from headergen.geometry.frames import frame_from_normal
from headergen.model import Bend, Box, ChassisItem, Draft, Place, Step, Straight, TubeRun, Vec
from tests.checks.small_header import LIMITS, draft, findings, measured, moved

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


def test_the_shortest_way_comes_first_and_slanting_ones_open_less() -> None:
    """The gap leads away by (0.6, 0, 0.8): 10 mm more of it take 12.5 mm up or 16.7 mm forward."""
    ways = list(ways_apart(((6.0, 0.0, 8.0), (0.0, 0.0, 0.0)), 10.0, 20.0))
    assert ways[0] == pytest.approx((0, 0, 12.5)) and ways[1] == pytest.approx((10 / 0.6, 0, 0))
    assert len(ways) == 2


def test_a_crossing_leads_the_other_way() -> None:
    """3 mm deep with the skin's point below the other's: up and out by the depth and what is wanted."""
    assert list(ways_apart(((0.0, 0.0, -3.0), (0.0, 0.0, 0.0)), -3.0, 15.0)) == [pytest.approx((0, 0, 18.0))]


def test_points_in_one_place_show_no_way() -> None:
    assert list(ways_apart(((1.0, 2.0, 3.0), (1.0, 2.0, 3.0)), 0.0, 15.0)) == []


def advice(made: Draft) -> str:
    [message] = [f.message for f in findings(made) if f.rule == "gap-tubes"]
    return message


@pytest.mark.parametrize(("winds", "way"), [(1, "rearward"), (2, "forward")])
def test_the_tube_that_can_give_way_is_named(winds: int, way: str) -> None:
    """A plain tube on its port's axis cannot move. The other swings toward it and back, its bend 2 mm off at most."""
    first = 0.0 if winds == 1 else math.pi  # toward +x from port 1, toward −x from port 2
    swing: list[Step] = [Bend(R(60), 80.0, first), Bend(R(120), 80.0, math.pi), Straight(20.0)]
    plain: list[Step] = [Straight(400.0)]
    pitch = 2 * 80 * (1 - math.cos(R(60))) + 42.4 + 2.0
    paths = (swing, plain) if winds == 1 else (plain, swing)
    made = draft(*paths, pitch=pitch, limits=replace(LIMITS, together=0.0))
    assert "are 2.0 mm apart; 5.0 mm wanted" in advice(made)
    assert f"moving primary {winds} 3.0 mm {way} would clear it there" in advice(made)


def test_two_plain_tubes_are_not_told_to_move() -> None:
    made = draft([Straight(400.0)], [Straight(400.0)], pitch=45.0, limits=replace(LIMITS, together=0.0))
    assert "moving" not in advice(made)


def test_what_stands_on_the_axis_of_a_port_or_a_bore_cannot_give_way() -> None:
    header = measured(draft(WINDING)).header
    assert [may_give_way(header, Place(1, 0.0, step)) for step in (1, 2, 3, 4, 5)] == [False, True, True, True, False]
    bent = measured(draft([Bend(R(10), 80.0, 0.0), Bend(R(10), 80.0, math.pi)])).header
    assert may_give_way(bent, Place(1, 5.0, 1)) and may_give_way(bent, Place(1, 20.0, 2))


@pytest.mark.parametrize("seed", range(25))
def test_a_tube_moved_as_advised_is_clear(seed: int) -> None:
    """Instead of the tube the thing is moved the other way, and measured again: it keeps what is wanted."""
    rng = np.random.default_rng(seed)
    s, c = math.sin(R(40)), math.cos(R(40))
    middle = np.array([80 * (1 - c) + 60 * s, 100 + 80 * s + 60 * c, 0.0])  # of the straight between the bends
    turn = rng.uniform(0, 2 * math.pi)
    out = np.array([c * math.cos(turn), -s * math.cos(turn), math.sin(turn)])  # square to that straight
    centre = middle + rng.uniform(-20, 20) * np.array([s, c, 0.0]) + out * rng.uniform(42, 48)
    box = Box(frame_from_normal(tuple(centre), tuple(rng.normal(size=3))), tuple(rng.uniform(20, 40, 3)))
    shape = box if seed % 2 else TubeRun((tuple(centre), tuple(centre + 60 * out)), 8.0)
    item = ChassisItem("thing", shape, 36.0)
    gap = measured(draft(WINDING, chassis=(item,))).gaps[0]
    assert gap.is_too_small and not gap.runs_through
    shift = next(ways_apart(gap.points, gap.value, gap.required))
    away = replace(item, shape=shifted(shape, np.array(shift)))
    assert measured(draft(WINDING, chassis=(away,))).gaps[0].value >= 36.0 - 1e-6


def shifted(shape: Box | TubeRun, shift: np.ndarray) -> Box | TubeRun:
    if isinstance(shape, Box):
        return replace(shape, frame=moved(shape.frame, tuple(np.array(shape.frame.origin) - shift)))
    return replace(shape, points=tuple(tuple(np.array(p) - shift) for p in shape.points))
