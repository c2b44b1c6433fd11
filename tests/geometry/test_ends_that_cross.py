"""A cylinder that ends inside a tube crosses it, told by points of the cylinder that lie within the tube's skin."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from headergen.geometry.curves.body import Body, cylinder_body, distance_to_body, points_along, tube_body
from headergen.geometry.curves.centreline import trace
from headergen.geometry.distance.distance_bodies import body_to_body
from headergen.geometry.frames import WORLD, frame_from_normal
from headergen.model import Bend, Cylinder, Straight

POINTS = 2000  # of a cylinder
RADIUS = 21.2


def random_pair(seed: int) -> tuple[Body, Cylinder]:
    rng = np.random.default_rng(seed)
    steps = [Straight(rng.uniform(20, 120)), Bend(rng.uniform(0.2, 2.0), 63.5, rng.uniform(-3, 3)), Straight(60.0)]
    tube = tube_body(trace(frame_from_normal(WORLD.origin, (0.0, 1.0, 0.0)), steps), RADIUS)
    middle = points_along(tube, np.array([rng.uniform(*tube.span)]))[0]
    start = middle + rng.normal(size=3) * rng.choice([2.0, 10.0, 20.0])
    way = rng.normal(size=3)
    end = start + way / np.linalg.norm(way) * rng.choice([5.0, 80.0])
    return tube, Cylinder(tuple(start.tolist()), tuple(end.tolist()), rng.uniform(4, 90))


def points_within(cylinder: Cylinder, rng: np.random.Generator) -> np.ndarray:
    """Of its ends and of what is between them."""
    axis = np.subtract(cylinder.end, cylinder.start)
    into = np.clip(rng.uniform(-1, 2, POINTS), 0.0, 1.0)
    frame = frame_from_normal((0.0, 0.0, 0.0), tuple(axis.tolist()))
    out, turn = cylinder.diameter / 2 * np.sqrt(rng.uniform(0, 1, POINTS)), rng.uniform(0, 2 * np.pi, POINTS)
    across = np.cos(turn)[:, None] * np.array(frame.x) + np.sin(turn)[:, None] * np.array(frame.y)
    return np.array(cylinder.start) + into[:, None] * axis + out[:, None] * across


OTHERS = pytest.param((*range(380), *range(410, 900)), marks=pytest.mark.slow)


@pytest.mark.parametrize("seeds", [range(380, 410), OTHERS], ids=len)
def test_a_cylinder_that_ends_in_a_tube_is_never_apart(seeds: Sequence[int]) -> None:
    crossed = 0
    for seed in seeds:  # of 397 the end stands 21 mm deep, and was 0.54 mm off
        tube, cylinder = random_pair(seed)
        nearest = float(distance_to_body(tube, points_within(cylinder, np.random.default_rng(seed)))[0].min())
        found = body_to_body(tube, cylinder_body(cylinder))[0].value
        assert found <= max(nearest, 0.0) + 1e-6, seed
        assert nearest > -1e-6 or found < 0.0, seed
        crossed += nearest < 0.0
    assert crossed > len(seeds) / 2
