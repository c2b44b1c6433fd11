"""A made scan: a wavy floor under a header, noisy and holed, in as many triangles as wanted."""

from __future__ import annotations

import math

import numpy as np

from headergen.geometry.curves.body import Body, tube_body
from headergen.geometry.curves.centreline import trace
from headergen.geometry.frames import frame_from_normal
from headergen.model import Bend, Centreline, Step, Straight

RADIUS = 21.2
LONG, WIDE = 1500.0, 800.0  # mm, half of each


def scan(count: int, seed: int = 0, below: float = 260.0) -> np.ndarray:
    """(count, 3, 3) single precision; 30 round holes, 0.3 mm of noise, in no order."""
    points, faces = scan_mesh(count, seed, below)
    return points[faces]


def scan_mesh(count: int, seed: int = 0, below: float = 260.0) -> tuple[np.ndarray, np.ndarray]:
    """The same with its corners once each: (n, 3) single precision, and (count, 3) of them by number."""
    rng = np.random.default_rng(seed)
    side = math.ceil(math.sqrt(count / 2 * 1.08)) + 1
    x, y = np.meshgrid(np.linspace(-LONG, LONG, side), np.linspace(-WIDE, WIDE, side), indexing="ij")
    z = -below + 60 * np.sin(x / 130) * np.cos(y / 90) + 25 * np.sin(x / 31 + y / 47) + rng.normal(0, 0.3, x.shape)
    points = np.stack([x, y, z], axis=-1).reshape(-1, 3)
    i, j = (k.ravel() for k in np.meshgrid(np.arange(side - 1), np.arange(side - 1), indexing="ij"))
    a = i * side + j
    faces = np.concatenate([np.column_stack([a, a + side, a + 1]), np.column_stack([a + 1, a + side, a + side + 1])])
    middle = points[faces].mean(axis=1)
    kept = np.ones(len(faces), dtype=bool)
    for centre in middle[rng.integers(len(middle), size=30)]:
        kept &= ((middle - centre) ** 2).sum(axis=1) > rng.uniform(8, 25) ** 2
    faces = rng.permutation(faces[kept])[:count]
    assert len(faces) == count
    return points.astype(np.float32), faces


def lines(count: int = 8, seed: int = 1) -> list[Centreline]:
    """Primaries side by side over the scan; some come near it and some go through."""
    rng = np.random.default_rng(seed)
    made = []
    for number in range(count):
        steps: list[Step] = [Straight(50.0)]
        for _ in range(4):
            steps += [Bend(math.radians(rng.uniform(20, 60)), 63.5, rng.uniform(-3, 3)), Straight(rng.uniform(20, 100))]
        made.append(trace(frame_from_normal((number * 90.0 - 300.0, 0.0, 0.0), (0.0, 1.0, -0.4)), steps, number + 1))
    return made


def bodies(count: int = 8) -> list[Body]:
    return [tube_body(line, RADIUS) for line in lines(count)]
