"""Headers of random runs with a shelf to cut them from, for the tests of the bench."""

from __future__ import annotations

import math
import random
from dataclasses import replace

from headergen.geometry.curves.centreline import trace
from headergen.model import Bend, Header, Step, Stock, StockBend, StockStraight, Straight
from tests.outputs.sample_result import header as sample_header

RADIUS = 63.5
SHELF = Stock(
    (
        StockBend(RADIUS, math.radians(45), (75.0, 100.0)),
        StockBend(RADIUS, math.radians(90), (75.0, 150.0), 9.0, 3),
        StockBend(RADIUS, math.radians(180), (120.0, 120.0), 19.0),
    ),
    (StockStraight(1000.0, 17.0), StockStraight(2000.0)),
)


def random_steps(chance: random.Random) -> tuple[Step, ...]:
    steps: list[Step] = [Straight(chance.uniform(20, 200))]
    for _ in range(chance.randint(1, 4)):
        angle = chance.choice((45.0, 90.0, chance.uniform(3, 170)))
        turn = chance.choice((0.0, 90.0, 180.0, chance.uniform(-180, 180), chance.uniform(-360, 360)))
        steps.append(Bend(math.radians(angle), RADIUS, math.radians(turn)))
        if chance.random() < 0.85:
            steps.append(Straight(chance.uniform(5, 300)))
    return tuple(steps)


def random_bench(seed: int) -> Header:
    """Two runs far apart, so that no torch is in the way."""
    chance = random.Random(seed)
    header = sample_header()
    runs = tuple(replace(run, steps=random_steps(chance)) for run in header.runs)
    lines = tuple(trace(run.start.frame, run.steps, run.name) for run in runs)
    draft = replace(header.draft, stock=SHELF, runs=runs)
    return replace(header, draft=draft, runs=runs, centrelines=lines)
