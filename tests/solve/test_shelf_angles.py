"""An angle that is found next to a shelf angle becomes that, and the run still ends on its bore at its length."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from headergen.geometry.curves.centreline import trace
from headergen.geometry.frames import norm, subtract
from headergen.model import Bend, Draft, Fit, Stock, StockBend, Straight
from headergen.solve.closing import close
from tests.solve.planted_paths import draft_of, plant

DEGREE = math.pi / 180


def with_one_free_angle(seed: int, off: float) -> tuple[Draft, int]:
    """A planted primary with all lengths and rotations free and one angle too; the shelf has an angle `off` from what
    closes nearest to the guesses."""
    planted = plant(seed, extra=0).primary
    steps = planted.steps
    bends = [number for number, step in enumerate(steps, 1) if isinstance(step, Bend)]
    fits = [Fit(n, "length", 1.0, 2000.0) for n, step in enumerate(steps, 1) if isinstance(step, Straight)]
    fits += [Fit(n, "rotation", -7.0, 7.0) for n in bends] + [Fit(bends[0], "angle", 0.1, 3.0)]
    draft = draft_of(replace(planted, fits=tuple(fits)))
    plain = close(draft)
    bend = plain.runs[0].steps[bends[0] - 1]
    assert not plain.misses and isinstance(bend, Bend)
    shelf = Stock((StockBend(bend.radius, bend.angle + off * DEGREE, (90.0, 90.0)),), ())
    return replace(draft, stock=shelf), bends[0]


@pytest.mark.parametrize("off", [0.29, 0.1, -0.2])
@pytest.mark.parametrize("seed", range(3))
def test_it_is_the_shelf_angle_and_the_path_is_closed_again(seed: int, off: float) -> None:
    draft, number = with_one_free_angle(seed, off)
    assert draft.stock is not None
    header = close(draft)
    run = header.runs[0]
    bend = run.steps[number - 1]
    assert isinstance(bend, Bend) and bend.angle == draft.stock.bends[0].angle
    line = trace(run.start.frame, run.steps)
    last = trace(run.start.frame, (*run.steps, Straight(1.0))).segments[-1]
    assert norm(subtract(last.start, run.end.frame.origin)) < 1e-6
    assert norm(subtract(last.tangent, run.end.frame.z)) < 1e-8
    assert run.target is None or line.length == pytest.approx(run.target, abs=1e-6)
    assert not header.misses and run.fits == draft.runs[0].fits


def test_half_a_degree_off_is_another_bend() -> None:
    draft, number = with_one_free_angle(0, 0.5)
    assert draft.stock is not None
    bend = close(draft).runs[0].steps[number - 1]
    assert isinstance(bend, Bend) and abs(bend.angle - draft.stock.bends[0].angle) == pytest.approx(0.5 * DEGREE)


def test_an_angle_that_is_stated_stays() -> None:
    draft, number = with_one_free_angle(0, 0.1)
    stated = replace(draft.runs[0], fits=tuple(fit for fit in draft.runs[0].fits if fit.what != "angle"))
    before = draft.runs[0].steps[number - 1]
    after = close(replace(draft, runs=(stated,))).runs[0].steps[number - 1]
    assert isinstance(before, Bend) and isinstance(after, Bend) and after.angle == before.angle
