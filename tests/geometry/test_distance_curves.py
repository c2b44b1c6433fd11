"""Pairs of tubes measured many at once: against a search, level pairs, and one after the other."""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np
import pytest

from headergen.geometry.curves.body import Body, points_along, tube_body
from headergen.geometry.curves.centreline import trace
from headergen.geometry.distance.distance_bodies import bodies_to_bodies, body_to_body
from headergen.geometry.distance.distance_curves import facing
from headergen.geometry.frames import WORLD, frame_from_normal
from headergen.model import Bend, Centreline, Step, Straight


def random_line(rng: np.random.Generator) -> Centreline:
    origin, normal, across = rng.uniform(-150, 150, 3), rng.normal(size=3), rng.normal(size=3)
    steps: list[Step] = []
    for _ in range(rng.integers(1, 4)):
        bend = Bend(rng.uniform(0.1, 2.8), rng.uniform(30, 90), rng.uniform(-3, 3))
        steps += [Straight(rng.uniform(1, 120)), bend]
    return trace(frame_from_normal(tuple(origin), tuple(normal), tuple(across)), steps)


def searched(a: Body, b: Body) -> float:
    """The least distance between two centrelines: the best places of a grid, each then searched about ever closer."""
    at_a, at_b = np.linspace(*a.span, 120), np.linspace(*b.span, 120)
    apart = np.linalg.norm(points_along(a, at_a)[:, None] - points_along(b, at_b), axis=2)
    i, j = np.divmod(np.argsort(apart, axis=None)[[0, 1, 2, 5, 20, 60]], len(at_b))
    best = np.column_stack([at_a[i], at_b[j]])
    spans = np.array([a.span, b.span])
    width, about = np.ptp(spans, axis=1) / 80, np.stack(np.meshgrid(*[np.linspace(-1, 1, 7)] * 2), axis=-1)
    least = apart[i, j]
    for _ in range(45):
        tried = np.clip(best[:, None] + width * about.reshape(-1, 2), *spans.T)
        ends = (points_along(each, tried[..., k].ravel()) for k, each in enumerate((a, b)))
        found = np.linalg.norm(np.subtract(*ends), axis=1).reshape(tried.shape[:2])
        least, best = found.min(axis=1), tried[np.arange(len(tried)), found.argmin(axis=1)]
        width = 0.6 * width
    return float(least.min())


@pytest.mark.parametrize("seeds", [range(40), pytest.param(range(40, 500), marks=pytest.mark.slow)], ids=len)
def test_centrelines_against_a_search(seeds: range) -> None:
    """Never farther than what the search finds, and no nearer: the two places named are as far apart as said."""
    pairs = []
    for seed in seeds:
        rng = np.random.default_rng(seed)
        pairs.append((tube_body(random_line(rng), 20.0), tube_body(random_line(rng), 15.0)))
    found = facing(pairs, flat=False)
    for k, (a, b) in enumerate(pairs):
        distance = float(found.value[k]) + 35.0
        assert distance <= searched(a, b) + 1e-8, k
        places = points_along(a, found.at[k, :1])[0], points_along(b, found.at[k, 1:])[0]
        assert float(np.linalg.norm(places[0] - places[1])) == pytest.approx(distance, abs=1e-9), k
        assert np.allclose(found.points[k], places, atol=1e-9), k


@pytest.mark.parametrize("lean", [0.0, 1e-12, 1e-8, 1e-5, 1e-3])
def test_bends_about_nearly_one_axis(lean: float) -> None:
    """R 60 within R 130 about the y axis, the outer turned by `lean` about x, from where both bends start.

    A point of the outer arc at angle t stands 130·sin(t)·sin(lean) off the plane of the inner and 130·ρ(t) from the
    axis, ρ² = cos² t + sin² t·cos² lean; nearest is the point below it, and the least stands at t = π/2, where its
    height is most but its ρ least: hypot(130·cos(lean) − 60, 130·sin(lean)).
    """
    inner = trace(WORLD, [Bend(math.pi / 2, 60.0, 0.0)])
    normal = (0.0, -math.sin(lean), math.cos(lean))
    outer = trace(frame_from_normal((-70.0, 0.0, 0.0), normal, (1.0, 0.0, 0.0)), [Bend(math.pi / 2, 130.0, 0.0)])
    found = facing([(tube_body(inner, 1.0), tube_body(outer, 1.0))], flat=False)
    t = np.linspace(0.0, math.pi / 2, 2001)
    rho = np.hypot(np.cos(t), np.sin(t) * math.cos(lean))
    drawn = np.hypot(130.0 * rho - 60.0, 130.0 * np.sin(t) * math.sin(lean))
    assert float(found.value[0]) + 2.0 == pytest.approx(drawn.min(), abs=1e-7)


def test_many_at_once_are_as_one_after_the_other() -> None:
    bodies = [tube_body(random_line(np.random.default_rng(seed)), 12.0) for seed in range(9)]
    pairs = list(combinations(bodies, 2))
    for (a, b), (together, at_b) in zip(pairs, bodies_to_bodies(pairs), strict=True):
        alone, alone_at_b = body_to_body(a, b)
        assert (together.value, together.at, at_b) == (alone.value, alone.at, alone_at_b)
        assert np.array_equal(together.point, alone.point)


def test_of_level_gaps_the_first_place_is_named_however_they_round() -> None:
    """Two parallel tubes, carried about: everywhere as near, so the place is where the first of them begins to face."""
    for seed in range(20):
        rng = np.random.default_rng(seed)
        normal, across = rng.normal(size=(2, 3))
        frame = frame_from_normal(tuple(rng.uniform(-900, 900, 3)), tuple(normal), tuple(across))
        one = trace(frame, [Straight(200.0)])
        moved = np.array(frame.origin) + 70 * np.array(frame.x) + 30 * np.array(frame.z)
        other = trace(frame_from_normal(tuple(moved), tuple(normal), tuple(across)), [Straight(200.0)])
        nearest, at_b = body_to_body(tube_body(one, 20.0), tube_body(other, 20.0))
        assert (nearest.value, nearest.at, at_b) == pytest.approx((30.0, 30.0, 0.0), abs=1e-9)


def test_no_pairs() -> None:
    assert bodies_to_bodies([]) == []
