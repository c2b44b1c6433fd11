"""Random tubes a shop could bend."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest

from headergen.geometry.curves.centreline import frame_on, trace
from headergen.geometry.frames import frame_from_normal
from headergen.model import Bend, Centreline, Frame, Step, Straight

SIZES = ((38.1, 1.5), (41.275, 1.651), (42.4, 1.5), (48.3, 1.6), (50.8, 1.651))  # OD, wall in mm


@dataclass(frozen=True)
class Case:
    centreline: Centreline
    outer: float
    inner: float


@pytest.fixture(scope="session")
def legal_tube() -> Callable[[int], Case]:
    """A tube from a seed: its own walls never meet, otherwise anything goes (see `_steps`)."""

    def draw(seed: int) -> Case:
        rng = random.Random(seed)
        while True:
            diameter, wall = rng.choice(SIZES)
            centreline = trace(_start(rng), _steps(rng, diameter), 1)
            if not _meets_itself(centreline, diameter / 2):
                return Case(centreline, diameter / 2, diameter / 2 - wall)

    return draw


def _start(rng: random.Random) -> Frame:
    origin = tuple(rng.uniform(-1000, 1000) for _ in range(3))
    normal, x = (tuple(rng.gauss(0, 1) for _ in range(3)) for _ in range(2))
    return frame_from_normal(origin, normal, x)  # type: ignore[arg-type]


def _steps(rng: random.Random, diameter: float) -> tuple[Step, ...]:
    """Bends on bends, half turns, bends of 0.1°, straights from 0.1 µm up, the tightest radius a tube can have."""
    steps: list[Step] = []
    if rng.random() < 0.9:
        steps.append(Straight(rng.uniform(5, 120)))
    for _ in range(rng.randint(0 if steps else 1, 6)):
        radius = diameter * rng.choice([0.5, 1.0, 1.0, 1.5, 1.5, 2.0])
        angle = rng.choice([rng.uniform(5, 120), rng.uniform(5, 120), 45, 90, 180, 0.1])
        rotation = rng.choice([0, 90, 180, rng.uniform(-180, 180)])
        steps.append(Bend(math.radians(angle), radius, math.radians(rotation)))
        straight = rng.choice([0, 1e-4, 0.01, rng.uniform(5, 120), rng.uniform(5, 120)])
        if straight:
            steps.append(Straight(straight))
    return tuple(steps)


def _meets_itself(centreline: Centreline, radius: float) -> bool:
    """Whether places more than π·r apart along the tube may be nearer than two radii, seen from samples r/8 apart.

    Nearer along the tube than that, no centre-line radius of r or more can bring the walls together.
    """
    spacing = radius / 8
    points, places, begin = [], [], 0.0
    for segment in centreline.segments:
        count = math.ceil(segment.length / spacing)
        for k in range(count + 1):
            points.append(frame_on(segment, segment.length * k / count)[0])
            places.append(begin + segment.length * k / count)
        begin += segment.length
    at, along = np.array(points), np.array(places)
    distance = np.linalg.norm(at[:, None] - at[None], axis=2)
    apart = np.abs(along[:, None] - along[None]) > math.pi * radius
    return bool((distance[apart] < 2 * radius + spacing).any())
