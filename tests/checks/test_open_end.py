"""A tube that misses its bore is told by how much, and to which side."""

from __future__ import annotations

from dataclasses import replace

import pytest

from headergen.checks.rules.open_end import open_end
from headergen.geometry.frames import add
from headergen.model import Vec
from tests.checks.small_header import draft, measured, moved


@pytest.mark.parametrize(
    ("way", "said"),
    [
        ((1.0, 0.0, 0.0), "rearward"),
        ((-1.0, 0.0, 0.0), "forward"),
        ((0.0, 0.0, 1.0), "down"),
        ((0.0, 0.0, -1.0), "up"),
        ((0.6, 0.0, -0.8), "up and rearward"),
    ],
)
def test_a_miss_to_the_side_says_to_which(way: Vec, said: str) -> None:
    """The bore is moved 12 mm one way, so that the tube, 3 mm too short as well, ends 12 mm the other way."""
    made = draft()
    [run] = made.runs
    at = add(add(run.end.frame.origin, way, 12.0), (0.0, 1.0, 0.0), 3.0)
    made = replace(made, runs=(replace(run, end=replace(run.end, frame=moved(run.end.frame, at))),))
    [finding] = list(open_end(measured(made)))
    assert f"(12.0 mm beside it, {said}, 3.0 mm short of the collector plane)" in finding.message
    assert "misses bore 1 of collector main by 12.4 mm" in finding.message  # √(12² + 3²) = 12.37
