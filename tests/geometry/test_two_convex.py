"""The gap between any two convex solids: planted ones of any shape, closed forms, sampled depths."""

from __future__ import annotations

import numpy as np
import pytest

from headergen.geometry.distance.convex import Convex, moved
from headergen.geometry.distance.distance_convex import gap_to_frustum
from headergen.geometry.distance.extruded import extruded_solid
from headergen.geometry.distance.two_convex import gap_to_convex
from headergen.geometry.frames import vec
from headergen.geometry.plate.outline import circle, polygon
from headergen.model import Frame
from tests.geometry.test_convex import CONE, random_shape, solid_of
from tests.geometry.test_extruded import random_solid
from tests.lots import in_lots


def any_solid(seed: int) -> Convex:
    return random_solid(seed)[3] if seed % 3 else solid_of(random_shape(np.random.default_rng(seed), seed))


def planted(seed: int, gap: float) -> tuple[Convex, Convex]:
    """Two solids between two parallel planes: each touches one, at places straight across from each other."""
    rng = np.random.default_rng(seed)
    one, other = any_solid(seed), any_solid(seed + 1000)
    way = rng.normal(size=3)
    way /= np.linalg.norm(way)
    here, there = one.farthest(way[None])[0], other.farthest(-way[None])[0]
    return one, moved(other, vec(here + gap * way - there))


@pytest.mark.parametrize("seeds", [range(60), *in_lots(range(60, 1500), 144)], ids=str)
def test_planted_gaps(seeds: range) -> None:
    """Between planes 1 mm to 90 mm apart nothing can be nearer than they are, and the two places are so near."""
    for seed in seeds:
        gap = float(np.random.default_rng(seed + 5).choice([0.01, 1.0, 90.0]))
        one, other = planted(seed, gap)
        found = gap_to_convex(one, other)
        assert found.value == pytest.approx(gap, abs=1e-7), seed
        assert np.linalg.norm(found.mine - found.theirs) == pytest.approx(gap, abs=1e-7), seed
        assert one.skin(found.mine[None])[0][0] == pytest.approx(0.0, abs=1e-7), seed
        assert other.skin(found.theirs[None])[0][0] == pytest.approx(0.0, abs=1e-7), seed
        back = gap_to_convex(other, one)
        assert back.value == pytest.approx(gap, abs=1e-7), f"{seed}: the same the other way round"


def test_as_the_measure_to_a_frustum_says() -> None:
    """That one goes by balls inside the cone; apart they must agree."""
    cone, apart = solid_of(CONE), 0
    for seed in range(40):
        way = np.random.default_rng(seed).normal(size=3)
        solid = moved(random_solid(seed)[3], vec(260.0 * way / np.linalg.norm(way)))
        expected = gap_to_frustum(solid, CONE).value
        if expected > 1e-6:
            apart += 1
            assert gap_to_convex(solid, cone).value == pytest.approx(expected, abs=1e-6), seed
    assert apart > 20


@pytest.mark.slow
def test_depth_is_that_of_the_deepest_sampled_place() -> None:
    """No sampled place of the other is deeper than said, and the place that is named is in it, and so deep."""
    for seed in range(30):
        rng = np.random.default_rng(seed)
        one, other = any_solid(seed), any_solid(seed + 1000)
        spots = one.middle + rng.uniform(-1, 1, (4000, 3)) * one.reach
        within = spots[one.skin(spots)[0].argmin()]
        other = moved(other, vec(within - other.farthest(rng.normal(size=(1, 3)))[0]))
        found = gap_to_convex(one, other)
        places = other.middle + rng.uniform(-1, 1, (40_000, 3)) * other.reach
        places = places[other.skin(places)[0] <= 0.0]
        assert len(places) > 20
        assert found.value <= one.skin(places)[0].min() + 1e-6, seed
        assert other.skin(found.theirs[None])[0][0] <= 1e-7, seed
        assert one.skin(found.theirs[None])[0][0] == pytest.approx(found.value, abs=1e-9), seed


def test_plates_by_hand() -> None:
    """Two discs in one plane: the distance of their middles less both radii. A slab sunk 3 mm into a thick one."""
    world = Frame((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    one = extruded_solid(circle((0.0, 0.0), 30.0), world, 6.0)
    other = extruded_solid(circle((80.0, 60.0), 20.0), world, 8.0)
    assert gap_to_convex(one, other).value == pytest.approx(100.0 - 50.0, abs=1e-7)
    square = polygon([(-50.0, -50.0), (50.0, -50.0), (50.0, 50.0), (-50.0, 50.0)])
    thick, thin = extruded_solid(square, world, 40.0), extruded_solid(circle((5.0, 0.0), 10.0), world, 4.0)
    sunk = gap_to_convex(thick, moved(thin, (0.0, 0.0, 37.0)))
    assert sunk.value == pytest.approx(-3.0, abs=1e-5)
