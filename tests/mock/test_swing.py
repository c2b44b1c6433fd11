"""What a flange plate can be off at the collector, against plates that are pushed about on their bolts at random."""

from __future__ import annotations

import math

import numpy as np
import pytest

from headergen.mock.swing import clearance, said_of_bolts, worst_at
from headergen.model import Bolt

BOLTS = (Bolt((0.0, -30.0), 8.5), Bolt((90.0, 30.0), 8.5))


def test_the_play_of_a_bolt() -> None:
    assert clearance(Bolt((0.0, 0.0), 8.5)) == pytest.approx(0.25)  # M8
    assert clearance(Bolt((0.0, 0.0), 11.0)) == pytest.approx(0.5)  # M10


@pytest.mark.parametrize("end", [(45.0, 0.0), (-400.0, -300.0), (50.0, -600.0)])
def test_no_push_moves_an_end_farther_than_is_said(end: tuple[float, float]) -> None:
    """A rigid plate, turned and shifted at random as far as both holes let it: never more, and nearly as much."""
    rng = np.random.default_rng(3)
    holes = np.array([bolt.at for bolt in BOLTS])
    middle, most = holes.mean(axis=0), 0.0
    for _ in range(20000):
        turn, shift = rng.uniform(-0.006, 0.006), rng.uniform(-0.25, 0.25, 2)
        matrix = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
        moved = (holes - middle) @ matrix.T + middle + shift
        if (np.linalg.norm(moved - holes, axis=1) <= 0.25).all():
            there = (np.array(end) - middle) @ matrix.T + middle + shift
            most = max(most, float(np.linalg.norm(there - end)))
    said = worst_at(BOLTS, [end])
    assert most <= said
    assert most > 0.6 * said


def test_a_plate_on_one_bolt_is_said_to_swing() -> None:
    assert "swing" in said_of_bolts(BOLTS[:1], [(0.0, 0.0)])[0]
    assert "no flange bolt" in said_of_bolts((), [(0.0, 0.0)])[0]


def test_an_inch_job_is_told_the_play_in_inches() -> None:
    metric, inches = (said_of_bolts(BOLTS, [(45.0, 0.0)], units)[0] for units in ("mm", "in"))
    assert "up to 0.2 mm at" in metric or "up to 0.3 mm at" in metric  # 0.25, the play of an M8 in 8.5, in the middle
    assert "up to 0.010 in at" in inches and " mm" not in inches
