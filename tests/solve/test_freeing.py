"""Which values would close a primary: proposed ones are marked fit and closed for real."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest

from headergen.geometry.curves.centreline import trace
from headergen.geometry.frames import WORLD, frame_from_normal
from headergen.model import Bend, Draft, Fit, Run, Step, Straight
from headergen.solve.closing import close
from headergen.solve.freeing import values_to_free
from headergen.solve.miss import keeps_limits, measure_miss
from tests.solve.planted_paths import (
    DEGREE,
    all_values,
    draft_of,
    plant,
    primary_onto_end,
    random_frame,
    random_path,
    value_of,
    values_of,
    with_value,
    with_values,
)


def slipped(seed: int, count: int, target: bool = False) -> tuple[Run, list[Fit]]:
    """A primary without fits in which `count` values are off by 8 to 20 mm or 4 to 10 degrees, and which those are."""
    chance = random.Random(seed)
    steps = random_path(chance, chance.randint(2, 4))
    primary = primary_onto_end(1, random_frame(chance), steps)
    if target:
        primary = replace(primary, target=trace(primary.port.frame, steps).length)
    wrong = chance.sample(all_values(steps), count)
    values = values_of(steps, wrong) + np.array(
        [chance.choice((-1, 1)) * chance.uniform(*((8, 20) if fit.what == "length" else (4, 10))) for fit in wrong]
    )
    return replace(primary, steps=with_values(steps, wrong, values)), wrong


def names(fits: tuple[Fit, ...] | list[Fit]) -> set[tuple[int, str]]:
    return {(fit.step, fit.what) for fit in fits}


def closes_with(primary: Run, fits: tuple[Fit, ...]) -> bool:
    """Within what the draft allows, as the least that freeing them must bring."""
    header = close(draft_of(replace(primary, fits=fits)))
    return keeps_limits(measure_miss(header.primaries[0], header.draft), header.draft)


@pytest.mark.parametrize("target", [False, True])
def test_one_slip_is_found(target: bool) -> None:
    """One value that was off is proposed alone, and is the one, or another that does as well."""
    same = 0
    for seed in range(40):
        primary, wrong = slipped(seed, 1, target)
        if keeps_limits(measure_miss(primary, draft_of(primary)), draft_of(primary)):
            continue  # a rotation before a nearly straight rest moves next to nothing
        [miss] = close(draft_of(primary)).misses
        assert len(miss.would_help) == 1 and closes_with(primary, miss.would_help), seed
        same += names(miss.would_help) == names(wrong)
    assert same >= 36


@pytest.mark.quick(1)
@pytest.mark.parametrize("count", [2, 3, 5])
def test_several_slips_are_made_good(count: int) -> None:
    """Never more values than there are equations; in the most cases a set is found, and a set that is found works."""
    found = 0
    for seed in range(100, 120):
        primary, _ = slipped(seed, count, target=seed % 2 == 0)
        [miss] = close(draft_of(primary)).misses
        assert len(miss.would_help) <= (6 if primary.target else 5)
        if miss.would_help:
            assert closes_with(primary, miss.would_help), seed
            found += 1
    assert found >= 18


@pytest.mark.slow
def test_none_of_a_set_is_needless() -> None:
    for seed in range(100, 115):
        primary, _ = slipped(seed, 3)
        draft = draft_of(primary)
        helpful = values_to_free(primary, draft)
        for fit in helpful:
            fewer = tuple(each for each in helpful if each != fit)
            assert not fewer or not closes_with(primary, fewer), seed


@pytest.mark.slow
def test_a_fit_against_its_limit_is_told_what_to_free_beside_it() -> None:
    """Regular sets with one value cut short: what is proposed lies outside the set, and closes it."""
    told = 0
    for seed in range(20):
        planted = plant(1400 + seed)
        fits = list(planted.primary.fits)
        at = value_of(planted.steps, fits[0])
        slack = 5.0 if fits[0].what == "length" else 3 * DEGREE
        fits[0] = replace(fits[0], low=at + slack, high=at + 9 * slack)
        primary = replace(planted.primary, fits=tuple(fits))
        header = close(draft_of(primary, tolerance=0.1))
        for miss in header.misses:  # another closing may exist with the value cut short
            if not miss.would_help:
                continue
            assert not names(miss.would_help) & names(fits)
            wider = replace(header.primaries[0], fits=(*primary.fits, *miss.would_help))
            again = close(draft_of(wider, tolerance=0.1))
            assert keeps_limits(measure_miss(again.primaries[0], again.draft), again.draft), seed
            told += 1
    assert told >= 8


def test_what_stays_within_the_limits_says_nothing() -> None:
    """0.3 mm off where 0.5 are allowed: no miss, no advice."""
    primary, _ = slipped(1, 1)
    straight = next(fit for fit in all_values(primary.steps) if fit.what == "length")
    right = primary_onto_end(1, primary.port.frame, primary.steps)
    nearly = replace(right, steps=with_value(right.steps, straight, value_of(right.steps, straight) + 0.3))
    assert close(draft_of(nearly)).misses == ()
    off = replace(right, steps=with_value(right.steps, straight, value_of(right.steps, straight) + 0.6))
    assert [names(miss.would_help) for miss in close(draft_of(off)).misses] == [{(straight.step, "length")}]


def single_straight(aside: float) -> tuple[Run, Draft]:
    primary = primary_onto_end(1, WORLD, (Straight(400.0),))
    bore = replace(primary.end, frame=frame_from_normal((aside, 0.0, 400.0), (0.0, 0.0, 1.0)))
    primary = replace(primary, end=bore)
    return primary, draft_of(primary)


def test_nothing_is_proposed_where_nothing_helps() -> None:
    """A single straight never gets sideways."""
    assert values_to_free(*single_straight(30.0)) == ()


def test_a_target_below_the_straight_line_is_not_even_tried() -> None:
    primary, draft = single_straight(0.0)
    assert values_to_free(replace(primary, target=390.0), draft) == ()


def test_freed_straights_keep_the_shops_minimum() -> None:
    """A straight of 16 mm is 12 too long; the shop holds no less than 15, so another one has to give."""
    steps: tuple[Step, ...] = (Straight(200.0), Bend(30 * DEGREE, 63.5, 0.4), Straight(4.0))
    primary = replace(primary_onto_end(1, WORLD, steps), steps=(*steps[:2], Straight(16.0)))
    for fit in values_to_free(primary, draft_of(primary)):
        assert fit.what != "length" or fit.low >= 15.0
    [miss] = close(draft_of(primary)).misses
    assert names(miss.would_help) != {(3, "length")}
