"""The gap required of tubes that come together at a collector, against values by hand and against brute force."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from headergen.checks.along import gaps_along
from headergen.checks.second_opinion import ask_second_opinion
from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.distance.ramp import Ramp, ramp_of
from headergen.model import Bend, Draft, Gap, Step, Straight
from headergen.solve.route.kernels.distance import centre_distance, left_at_bores
from headergen.solve.route.kernels.shape import Demands
from tests.checks.small_header import LIMITS, draft, measured

RADIUS = 21.2
SLIP = 40.0
TURNS = np.random.default_rng(5).uniform(-1.0, 1.0, (8, 4))


def sleeved(made: Draft, slip: float = SLIP) -> Draft:
    return replace(made, collectors=tuple(replace(each, join="slip", slip=slip) for each in made.collectors))


@pytest.mark.parametrize(("before", "required"), [(0.0, 2.6), (40.0, 2.6), (75.0, 4.3), (110.0, 6.0), (500.0, 6.0)])
def test_the_gap_is_constant_along_the_sleeve_and_then_grows(before: float, required: float) -> None:
    """Bores 46 mm apart leave 3.6 mm; 0.5 mm that either end may miss is taken off; half way from 40 to 110: 4.3."""
    limits = replace(LIMITS, between_tubes=6.0)
    made = sleeved(draft([Straight(400.0)], [Straight(400.0)], pitch=46.0, limits=limits))
    ramp = ramp_of(made, *made.primaries)
    assert ramp.required(np.array([before])) == pytest.approx([required])


def test_it_begins_behind_the_straight_that_is_asked_for() -> None:
    made = draft([Straight(400.0)], [Straight(400.0)], pitch=46.0)
    assert ramp_of(made, *made.primaries).begins == 0.0
    asked = replace(made, limits=replace(LIMITS, collector_straight=55.0))
    assert ramp_of(asked, *asked.primaries).begins == ramp_of(sleeved(asked), *asked.primaries).begins == 55.0
    assert ramp_of(sleeved(asked, 70.0), *asked.primaries).begins == 70.0


def test_far_bores_leave_the_full_gap_and_touching_ones_none() -> None:
    far, touching = (draft([Straight(400.0)], [Straight(400.0)], pitch=pitch) for pitch in (60.0, 42.4))
    assert ramp_of(far, *far.primaries).at_bores == LIMITS.between_tubes
    assert ramp_of(touching, *touching.primaries).at_bores == 0.0


def leaning(turn: np.ndarray) -> Draft:
    """Two tubes that leave their last straights at random, so that they come near somewhere on the way."""
    paths: list[list[Step]] = []
    for side, (angle, roll, last) in enumerate(((turn[0], turn[1], turn[2]), (turn[3], turn[2], turn[0]))):
        bend = Bend(math.radians(6 + 4 * angle), 63.5, math.pi * roll)
        tail = 52.0 + 15.0 * last
        paths.append([Straight(400.0 - 63.5 * bend.angle - tail - 3.0 * side), bend, Straight(tail)])
    return sleeved(draft(*paths, pitch=47.0, limits=replace(LIMITS, between_tubes=6.0)))


@pytest.mark.parametrize("turn", TURNS, ids=range(len(TURNS)))
def test_the_least_to_spare_is_that_of_brute_force(turn: np.ndarray) -> None:
    """Every pair of places within the last 110 mm, the one farther from the collector deciding what is required."""
    made = leaning(turn)
    found = measured(made)
    closing = next(gap for gap in found.gaps if gap.together)
    one, other = found.header.centrelines
    ramp = ramp_of(made, *made.primaries)
    before = np.linspace(0.0, 110.0, 881)  # an eighth of a millimetre
    points = [np.array([frame_at(line, line.length - each)[0] for each in before]) for line in (one, other)]
    apart = np.linalg.norm(points[0][:, None] - points[1], axis=2) - 2 * RADIUS
    spare = apart - np.maximum(*np.broadcast_arrays(*(ramp.required(before).reshape(s) for s in ((-1, 1), (1, -1)))))
    if closing.smallest is not None and closing.smallest > 0:  # rims of ends that miss their bores may be nearer
        assert closing.value - closing.required == pytest.approx(spare.min(), abs=0.02)
    assert closing.is_too_small == (spare.min() < -0.01)
    for stretch in closing.near:
        inside = (one.length - before > stretch.start + 0.2) & (one.length - before < stretch.end - 0.2)
        assert (apart.min(axis=1) < ramp.required(before))[inside].all()


def least_of(gaps: tuple[Gap, ...]) -> float:
    return min(gap.value if gap.smallest is None else gap.smallest for gap in gaps if gap.is_between_runs)


@pytest.mark.parametrize("turn", TURNS[:3], ids=range(3))
def test_other_measurements_agree_with_it(turn: np.ndarray) -> None:
    """The second opinion has the smallest gap of all, and the gap along a tube the same requirement at its place."""
    found = measured(leaning(turn))
    [opinion] = list(ask_second_opinion(found.header, {}, found.gaps))
    assert opinion.agrees and opinion.exact == pytest.approx(least_of(found.gaps))
    closing = next(gap for gap in found.gaps if gap.together)
    along = next(each for each in gaps_along(found.header, {}, found.gaps) if each.to_tubes)
    k = int(np.abs(np.array(along.at) - closing.place.at).argmin())
    assert along.at[k] == pytest.approx(closing.place.at)
    assert along.gap[k] - along.required[k] == pytest.approx(closing.value - closing.required, abs=1e-3)


@pytest.mark.parametrize("apart", [42.4, 43.0, 46.0, 48.0, 65.0])
def test_the_search_asks_for_the_same_and_its_margin(apart: float) -> None:
    made = sleeved(draft([Straight(400.0)], [Straight(400.0)], pitch=apart))
    ramp, margin = ramp_of(made, *made.primaries), 0.3
    want = Demands(RADIUS, 0.0, 5.0, 1.0, ramp.begins, ramp.ends, margin, 0.1, 0.0, 0.0, 0.0)
    left = left_at_bores(apart, True, want)
    for before in (0.0, 50.0, 90.0, 110.0):
        asked = centre_distance(before, 0.0, left, want) - 2 * RADIUS
        exact = float(ramp.required(np.array(before)))
        assert exact - 1e-9 <= asked <= exact + margin + 1e-9
    assert left_at_bores(apart, False, want) == pytest.approx(5.0 + margin)


def test_without_a_length_to_grow_over_it_is_a_step() -> None:
    ramp = Ramp(2.0, 6.0, 40.0, 40.0)
    assert ramp.required(np.array([39.9, 40.1])) == pytest.approx([2.0, 6.0])
