"""The equations of an arriving tube against the traced path, their slopes and curvatures against differences."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from headergen.geometry.frames import rotated
from headergen.model import Bend, Fit, Straight
from headergen.solve.arrival import Chain, chain_of, changed_steps, curvature, equations
from tests.solve.planted_paths import DEGREE, all_values, draft_of, miss_of, plant

SEEDS = range(12)


def chain(seed: int, with_target: bool = True) -> Chain:
    """Every value of a strayed path free, so that nothing is at a solution."""
    primary = plant(seed).primary
    return chain_of(primary, all_values(primary.steps), 640.0 if with_target else None)


def x_of(made: Chain, seed: int) -> np.ndarray:
    return np.random.default_rng(seed).uniform(-8, 8, len(made.values))


@pytest.mark.parametrize("seed", SEEDS)
def test_equations_say_how_the_traced_path_ends(seed: int) -> None:
    """End and length as traced; the flattened direction has the traced bearing and 2·tan of half the traced angle."""
    primary, made = plant(seed).primary, chain(seed)
    x = x_of(made, seed)
    seen = miss_of(primary, changed_steps(made, x), 640.0)
    c, _ = equations(made, x)
    assert c[[0, 1, 2, 5]] == pytest.approx(seen[[0, 1, 2, 5]], abs=1e-9)
    assert math.atan2(c[4], c[3]) == pytest.approx(math.atan2(seen[4], seen[3]), abs=1e-9)
    angle = 2 * math.atan(math.hypot(c[3], c[4]) * DEGREE / 2)
    assert math.sin(angle) == pytest.approx(math.hypot(seen[3], seen[4]), abs=1e-9)


@pytest.mark.parametrize("with_target", [True, False])
@pytest.mark.parametrize("seed", SEEDS)
def test_slopes(seed: int, with_target: bool) -> None:
    """Central differences at h = 1e-4 err by h² and by 1e-12 / h: 1e-6 of slopes of up to some tens."""
    made = chain(seed, with_target)
    x = x_of(made, seed)
    slopes = equations(made, x)[1]
    for k, h in enumerate(1e-4 * np.eye(len(x))):
        expected = (equations(made, x + h)[0] - equations(made, x - h)[0]) / 2e-4
        assert slopes[:, k] == pytest.approx(expected, abs=1e-6 * (1 + np.abs(expected).max()))


@pytest.mark.parametrize("seed", SEEDS)
def test_curvatures(seed: int) -> None:
    """The same of the slopes, weighted at random: second derivatives are symmetric and exact."""
    made = chain(seed)
    x, weights = x_of(made, seed), np.random.default_rng(seed).standard_normal(6)
    exact = curvature(made, x, weights)
    columns = [weights @ (equations(made, x + h)[1] - equations(made, x - h)[1]) / 2e-4 for h in 1e-4 * np.eye(len(x))]
    assert exact == pytest.approx(np.array(columns), abs=1e-6 * (1 + np.abs(exact).max()))
    assert exact == pytest.approx(exact.T, abs=1e-12 * (1 + np.abs(exact).max()))


def test_the_order_of_fits_does_not_matter() -> None:
    """Second derivatives rest on travel order, which a chain sees to itself."""
    primary = plant(4).primary
    values = all_values(primary.steps)
    assert chain_of(primary, values[::-1], None) == chain_of(primary, values, None)
    whats = [(fit.step, fit.what) for fit in chain_of(primary, values, None).values]
    assert whats.index((2, "rotation")) < whats.index((2, "angle"))


def test_no_change_keeps_every_bit() -> None:
    made = chain(0)
    assert changed_steps(made, np.zeros(len(made.values))) == made.steps


def test_lengths_and_angles_never_go_below_zero() -> None:
    primary = replace(plant(0).primary, steps=(Straight(5.0), Bend(0.1, 60.0, 0.0), Straight(9.0)))
    fits = (Fit(1, "length", -50.0, 50.0), Fit(2, "angle", -1.0, 1.0), Fit(2, "rotation", -1.0, 1.0))
    steps = changed_steps(chain_of(primary, fits, None), np.array([-20.0, -57.0, -57.0]))
    assert steps[0] == Straight(0.0)
    assert steps[1] == Bend(0.0, 60.0, -57.0 * DEGREE)


def test_a_turned_bore_sees_the_same_end() -> None:
    """Clocking a bore about its axis turns what is seen, not how large it is: the measure of a miss has no x axis."""
    primary = plant(2).primary
    frame = primary.end.frame
    x, y = (rotated(v, frame.z, 0.7) for v in (frame.x, frame.y))
    turned = replace(primary, end=replace(primary.end, frame=replace(frame, x=x, y=y)))
    zero = np.zeros(len(primary.fits))
    a, b = (equations(chain_of(each, primary.fits, None), zero)[0] for each in (primary, turned))
    assert np.linalg.norm(a[:2]) == pytest.approx(np.linalg.norm(b[:2]), abs=1e-9)
    assert np.linalg.norm(a[3:5]) == pytest.approx(np.linalg.norm(b[3:5]), abs=1e-9)
    assert draft_of(turned).primaries == (turned,)
