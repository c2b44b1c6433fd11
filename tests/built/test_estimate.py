"""The shop's own hand from records that are simulated here, without any code of headergen."""

from __future__ import annotations

import random
from typing import Any

import pytest

from headergen.built.estimate import RecordError, estimate, estimates

MEAN, SPREAD = 0.4, 0.15


def simulated(draw: random.Random, between: float = 0.0) -> dict[str, Any]:
    """A record as its file has it: a few tubes of a few joints; what was not measured is None."""
    day, runs = draw.gauss(0, between), []
    for number in range(1, draw.randint(2, 5)):
        joints = []
        for joint in range(draw.randint(2, 6)):
            shrunk = draw.gauss(MEAN + day, SPREAD) if joint and draw.random() < 0.8 else None
            measured = {"shrinkage": shrunk, "clocking": None, "pulled": 0.3 if joint else None, "toward": 90.0}
            planned = {"shrinkage": 0.4, "clocking": None}
            joints.append({"joint": joint, "state": "welded", "planned": planned, "measured": measured, "done": []})
        runs.append({"run": f"primary {number}", "pieces": [], "joints": joints})
    return {"record": 1, "header": "simulated", "revision": "A", "date": "2026-05-20", "runs": runs}


@pytest.mark.parametrize("between", [0.0, 0.1])
def test_the_interval_holds_the_truth_as_often_as_it_says(between: float) -> None:
    """30 records, 100 times: at least 90 hold the mean; also where headers differ from each other."""
    means = spreads = 0
    for seed in range(100):
        draw = random.Random(seed)
        found = estimates([simulated(draw, between) for _ in range(30)])[0]
        assert found.what == "shrinkage"
        assert found.records <= 30
        assert found.mean_within is not None
        assert found.spread_within is not None
        means += found.mean_within[0] <= MEAN <= found.mean_within[1]
        spreads += found.spread_within[0] <= SPREAD <= found.spread_within[1]
    assert means >= 90
    assert between > 0 or spreads >= 90


def test_an_interval_is_no_wider_than_it_must_be() -> None:
    """Of n joints it is about ± 2 spreads over the root of n: a wide one would hold anything."""
    draw = random.Random(5)
    found = estimates([simulated(draw) for _ in range(30)])[0]
    assert found.mean_within is not None
    width = found.mean_within[1] - found.mean_within[0]
    assert width < 2 * 2.6 * SPREAD / found.joints**0.5


def test_a_pull_is_told_by_its_side() -> None:
    draw = random.Random(1)
    found = {each.what: each for each in estimates([simulated(draw) for _ in range(4)])}
    assert found["pull across it"].mean == pytest.approx(0.3)
    assert found["pull toward the witness line"].mean == pytest.approx(0.0, abs=1e-12)


def test_one_joint_has_no_interval() -> None:
    import numpy as np

    found = estimate("shrinkage", [np.array([0.3])])
    assert (found.mean, found.mean_within, found.spread_within, found.joints) == (0.3, None, None, 1)


@pytest.mark.parametrize(
    ("record", "said"),
    [
        ({}, "record"),
        ({"record": 1}, "runs"),
        ({"record": 2, "runs": []}, "its format is 2"),
        ({"record": 1, "runs": [{"joints": [{"joint": 1}]}]}, "measured"),
        ({"record": 1, "runs": [{"joints": [{"joint": 1, "measured": {"shrinkage": "much"}}]}]}, "is not a number"),
    ],
)
def test_what_is_no_record_is_refused(record: dict[str, Any], said: str) -> None:
    with pytest.raises(RecordError, match=said):
        estimates([record])
