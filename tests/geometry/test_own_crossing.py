"""Tubes that run into themselves and tubes that only come near, by closed forms and by every pair of fine samples."""

from __future__ import annotations

import math

import numpy as np
import pytest

from headergen.geometry.curves.body import points_along, tube_body
from headergen.geometry.curves.centreline import frame_at, trace
from headergen.geometry.curves.own_crossing import nearest_own_places
from headergen.geometry.frames import WORLD
from headergen.model import Bend, Centreline, Step, Straight

RADIUS = 21.2
HALF, QUARTER = math.pi, math.pi / 2
CLOSE = 2e-3  # mm; the search ends with steps of 2 mm / 4⁸, the distance errs by less


def nearest(steps: list[Step], radius: float = RADIUS) -> tuple[float, float, float]:
    found = nearest_own_places(tube_body(trace(WORLD, steps), radius))
    assert found is not None
    return found


def test_a_straight_tube_is_as_near_as_it_is_asked_to_look() -> None:
    """Places π·r apart along a straight tube are π·r apart."""
    assert nearest([Straight(300.0)])[0] == pytest.approx(math.pi * RADIUS, abs=CLOSE)


@pytest.mark.parametrize("radius", [21.2, 30.0, 45.0])
def test_a_half_turn_is_as_near_as_its_chord(radius: float) -> None:
    """Two places π·r apart along an arc of R: the chord 2R·sin(πr/2R), never under 2r while R ≥ r."""
    distance, first, second = nearest([Straight(100.0), Bend(HALF, radius, 0.0), Straight(100.0)])
    assert distance == pytest.approx(2 * radius * math.sin(math.pi * RADIUS / (2 * radius)), abs=CLOSE)
    assert distance >= 2 * RADIUS - CLOSE
    if radius > RADIUS:  # at R = r the legs are as near as the chord
        assert second - first == pytest.approx(math.pi * RADIUS, abs=CLOSE)


@pytest.mark.parametrize("turns", [1, 2])
def test_a_flat_ring_runs_into_itself(turns: int) -> None:
    distance, first, second = nearest([Straight(100.0), *[Bend(HALF, 63.5, 0.0)] * 2 * turns, Straight(100.0)])
    assert distance == pytest.approx(0, abs=CLOSE)
    rounds = (second - first) / (2 * math.pi * 63.5)
    assert round(rounds) in range(1, turns + 1) and rounds == pytest.approx(round(rounds), abs=1e-2)


@pytest.mark.parametrize("apart", [0.6 * 42.4, 42.3, 42.5, 60.0])
def test_a_coil_of_two_half_turns(apart: float) -> None:
    """Out, back and out again, the second half turn rotated by ψ: the outer legs are 4R·sin(ψ/2) apart."""
    rotation = 2 * math.asin(apart / (4 * 63.5))
    steps: list[Step] = [Straight(120.0), Bend(HALF, 63.5, 0.0), Straight(120.0), Bend(HALF, 63.5, rotation)]
    distance, first, second = nearest([*steps, Straight(120.0)])
    assert distance == pytest.approx(apart, abs=CLOSE)
    assert first <= 120 + CLOSE and second >= 120 + math.pi * 63.5 + 120


@pytest.mark.parametrize("over", [0.0, 30.0, 42.0, 43.0, 80.0])
def test_a_loop_that_passes_over_itself(over: float) -> None:
    """Three quarters of a turn with a lift of `over` on the way: the last leg passes over the first at right angles.

    Two bends of α, one up and one back, lift by 2R·(1 − cos α). A quarter bend of 63.5 is nearer to itself than 80 mm.
    """
    alpha = math.acos(1 - over / (2 * 63.5))
    rise: list[Step] = [Bend(alpha, 63.5, QUARTER), Bend(alpha, 63.5, HALF)] if over else []
    quarter = Bend(QUARTER, 63.5, 0.0)
    around: list[Step] = [Straight(400.0), quarter, Straight(100.0), quarter, *rise, Straight(100.0)]
    distance, _, _ = nearest([*around, Bend(QUARTER, 63.5, QUARTER if over else 0.0), Straight(300.0)])
    assert distance == pytest.approx(min(over, 127 * math.sin(math.pi * RADIUS / 127)), abs=CLOSE)


def test_what_is_shorter_than_half_its_girth_cannot_meet_itself() -> None:
    assert nearest_own_places(tube_body(trace(WORLD, [Straight(math.pi * RADIUS - 0.1)]), RADIUS)) is None


def random_line(rng: np.random.Generator) -> Centreline:
    steps: list[Step] = []
    for _ in range(6):
        bend = Bend(float(rng.uniform(0.5, HALF)), float(rng.uniform(25, 70)), float(rng.uniform(-3, 3)))
        steps += [bend, Straight(float(rng.uniform(1, 60)))]
    return trace(WORLD, steps)


@pytest.mark.parametrize("seed", range(20))
def test_as_near_as_the_nearest_of_all_pairs(seed: int) -> None:
    """Every pair of samples 0.5 mm apart: a true pair lies within a quarter of a millimetre of one along each leg.

    Neither may be nearer than the other by more than those two quarters; pairs are at least π·r apart in both.
    """
    line = random_line(np.random.default_rng(seed))
    distance, first, second = nearest_own_places(tube_body(line, RADIUS)) or (math.nan,) * 3
    at = np.arange(0.0, line.length, 0.5)
    points = np.array([frame_at(line, float(s))[0] for s in at])
    ahead = math.ceil(math.pi * RADIUS / 0.5)
    least = min(float(np.linalg.norm(points[k + ahead :] - points[k], axis=1).min()) for k in range(len(at) - ahead))
    assert least - 0.5 <= distance <= least + 1e-6
    a, b = points_along(tube_body(line, RADIUS), np.array([first, second]))
    assert np.linalg.norm(a - b) == pytest.approx(distance, abs=1e-9)
    assert second - first >= math.pi * RADIUS - 1e-6
