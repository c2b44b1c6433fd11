"""Where a tube is too near, against fine sampling of distances written here, and against closed forms."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from headergen.geometry.curves.body import Body, run_body, tube_body
from headergen.geometry.curves.centreline import frame_at, trace
from headergen.geometry.distance.profile import (
    FIRST_CELL,
    LAST_CELL,
    profile_to_body,
    profiled,
    stretches_below,
)
from headergen.geometry.frames import WORLD, axes_matrix, frame_from_normal
from headergen.geometry.mesh.boxes import box_mesh
from headergen.geometry.mesh.index import index_of, profile_to_index
from headergen.model import Bend, Box, Centreline, Frame, Step, Straight, Stretch, TubeRun

RADIUS = 21.2
LIMIT = 15.0
FINE = 0.05  # mm between samples of the truth
ROUNDING = 1e-9


def edges(stretches: tuple[Stretch, ...]) -> list[float]:
    """Where each begins and ends, in travel order."""
    return [edge for stretch in stretches for edge in (stretch.start, stretch.end)]


def distance_to_box(box: Box, points: np.ndarray) -> np.ndarray:
    """Of points (n, 3) from the skin of a box, by its own axes: outside and inside."""
    beyond = np.abs((points - np.array(box.frame.origin)) @ axes_matrix(box.frame).T) - np.array(box.size) / 2
    return np.abs(np.linalg.norm(np.maximum(beyond, 0), axis=1) + np.minimum(beyond.max(axis=1), 0))


def distance_to_legs(corners: np.ndarray, points: np.ndarray) -> np.ndarray:
    best = np.full(len(points), np.inf)
    for a, b in pairwise(corners):
        along = np.clip((points - a) @ (b - a) / ((b - a) @ (b - a)), 0, 1)
        best = np.minimum(best, np.linalg.norm(points - a - along[:, None] * (b - a), axis=1))
    return best


def random_line(rng: np.random.Generator) -> Centreline:
    steps: list[Step] = [Straight(float(rng.uniform(20, 120)))]
    for _ in range(3):
        steps += [
            Bend(float(rng.uniform(0.2, 2)), 63.5, float(rng.uniform(-3, 3))),
            Straight(float(rng.uniform(5, 90))),
        ]
    return trace(frame_from_normal((0.0, 0.0, 0.0), tuple(rng.normal(size=3))), steps)


def is_that_of(found: tuple[Stretch, ...], at: np.ndarray, gap: np.ndarray, limit: float) -> None:
    """Stretches against samples `gap` at lengths `at`.

    What is near lies in a stretch and what a stretch holds is near, to within the last cell: a gap changes by no
    more than a millimetre a millimetre. The smallest is a gap that is there, and within half a first cell of the least.
    """
    within = np.zeros(len(at), dtype=bool)
    for stretch in found:
        mine = (at >= stretch.start - LAST_CELL) & (at <= stretch.end + LAST_CELL)
        within |= mine
        core = (at >= stretch.start) & (at <= stretch.end)
        assert (gap[core] < limit + LAST_CELL).all()
        assert gap[mine].min() - FINE <= stretch.smallest <= gap[mine].min() + FIRST_CELL / 2
    assert (gap[~within] >= limit - LAST_CELL).all()
    assert all(a.end < b.start for a, b in pairwise(found)), "in travel order, and apart"


@pytest.mark.quick(1)
@pytest.mark.parametrize("seed", range(15))
def test_beside_a_box_as_by_fine_sampling(seed: int) -> None:
    rng = np.random.default_rng(seed)
    line = random_line(rng)
    at = np.arange(0, line.length, FINE)
    points = np.array([frame_at(line, float(s))[0] for s in at])
    middle = points[rng.integers(len(at))] + rng.normal(size=3) * 25
    box = Box(frame_from_normal(tuple(middle), tuple(rng.normal(size=3))), tuple(rng.uniform(10, 80, 3)))
    profile = profile_to_index(tube_body(line, RADIUS), index_of(box_mesh(box)), LIMIT)
    found = stretches_below(profile, (0.0, line.length), LIMIT)
    assert found, "the box was put beside the tube"
    is_that_of(found, at, distance_to_box(box, points) - RADIUS, LIMIT)


@pytest.mark.parametrize("seed", range(15))
def test_beside_a_line_as_by_fine_sampling(seed: int) -> None:
    rng = np.random.default_rng(100 + seed)
    line = random_line(rng)
    at = np.arange(0, line.length, FINE)
    points = np.array([frame_at(line, float(s))[0] for s in at])
    corners = points[np.sort(rng.integers(len(at), size=3))] + rng.normal(size=(3, 3)) * 30
    run = TubeRun(tuple(map(tuple, corners)), 6.0)
    found = stretches_below(profile_to_body(tube_body(line, RADIUS), run_body(run)), (0.0, line.length), LIMIT)
    assert found
    is_that_of(found, at, distance_to_legs(corners, points) - 3.0 - RADIUS, LIMIT)


def straight_body(length: float = 400.0) -> Body:
    return tube_body(trace(WORLD, [Straight(length)]), RADIUS)


def test_two_cables_across_a_tube_are_two_stretches() -> None:
    """A cable of 6 mm crosses 30 mm beside the axis: nearer than 15 mm over ±√((15 + 21.2 + 3)² − 30²)."""
    half = math.sqrt((LIMIT + RADIUS + 3) ** 2 - 30**2)
    body = straight_body()
    cables = [run_body(TubeRun(((30.0, -500.0, z), (30.0, 500.0, z)), 6.0)) for z in (100.0, 300.0)]
    profiles = [profile_to_body(body, cable) for cable in cables]
    found = stretches_below(lambda at: np.minimum(*(profile(at) for profile in profiles)), body.span, LIMIT)
    assert edges(found) == pytest.approx([100 - half, 100 + half, 300 - half, 300 + half], abs=LAST_CELL)


def test_a_wall_along_the_whole_tube() -> None:
    """A wall 10 mm from the skin: from the first to the last millimetre; just at the limit: nowhere."""
    wall = box_mesh(Box(Frame((81.2, 0.0, 200.0), WORLD.x, WORLD.y, WORLD.z), (100.0, 100.0, 600.0)))
    [found] = stretches_below(profile_to_index(straight_body(), index_of(wall), LIMIT), (0.0, 400.0), LIMIT)
    assert (found.start, found.end) == (0.0, 400.0)
    assert found.smallest == pytest.approx(10, abs=ROUNDING)
    profile = profile_to_index(straight_body(), index_of(wall), 10.0 - ROUNDING)
    assert stretches_below(profile, (0.0, 400.0), 10.0 - ROUNDING) == ()


@pytest.mark.parametrize("width", [0.1, 0.5, 3.0])
@pytest.mark.parametrize("centre", [0.0, 0.03, 51.37, 333.333, 399.99, 400.0])
def test_narrow_dips_are_found_wherever_they_lie(centre: float, width: float) -> None:
    """A dip as narrow as its slope of 1 allows falls between first samples, but its slope gives it away."""
    [found] = stretches_below(lambda at: LIMIT + np.abs(at - centre) - width / 2, (0.0, 400.0), LIMIT)
    assert found.start == pytest.approx(max(centre - width / 2, 0), abs=LAST_CELL)
    assert found.end == pytest.approx(min(centre + width / 2, 400), abs=LAST_CELL)


def test_a_narrow_clear_place_parts_two_stretches() -> None:
    found = stretches_below(lambda at: LIMIT + 0.2 - np.abs(at - 222.2), (0.0, 400.0), LIMIT)
    assert edges(found) == pytest.approx([0, 222.0, 222.4, 400], abs=LAST_CELL)


@pytest.mark.parametrize("length", [1e-3, 0.5, 3.9, 4.1])
def test_very_short_tubes(length: float) -> None:
    assert edges(stretches_below(lambda at: 0 * at, (7.0, 7.0 + length), LIMIT)) == [7.0, 7.0 + length]
    assert stretches_below(lambda at: 0 * at + LIMIT, (7.0, 7.0 + length), LIMIT) == ()


def test_what_is_clear_by_more_than_a_cell_is_settled_at_once() -> None:
    """A profile that is cut off at its reach tells no slope there: its reach is one cell above the limit asked."""
    asked = []

    def clear(at: np.ndarray) -> np.ndarray:
        asked.append(len(at))
        return np.full(len(at), LIMIT + FIRST_CELL)

    assert stretches_below(clear, (0.0, 800.0), LIMIT) == ()
    assert sum(asked) <= 800 / FIRST_CELL + 2


@pytest.mark.parametrize("width", [0.5, 3.0, 30.0])
def test_the_smallest_gap_of_a_stretch_is_the_least(width: float) -> None:
    [found] = stretches_below(lambda at: LIMIT + np.abs(at - 51.37) - width / 2, (0.0, 400.0), LIMIT)
    assert found.smallest == pytest.approx(LIMIT - width / 2, abs=LAST_CELL)


def test_a_profile_runs_from_end_to_end_of_its_stretch() -> None:
    """Beside a cable that comes nearer by 3 mm in 4: the distance of its axis from points of the tube's, less radii."""
    body = straight_body()
    cable = run_body(TubeRun(((0.0, -70.0, 0.0), (0.0, 230.0, 400.0)), 6.0))
    profile = profile_to_body(body, cable)
    [near] = [profiled(profile, stretch) for stretch in stretches_below(profile, body.span, LIMIT)]
    at, gap = np.array(near.profile).T
    assert (at[0], at[-1]) == (near.start, near.end) and np.diff(at).max() <= 10.0
    expected = np.abs(0.8 * -70.0 + 0.6 * at) - 3.0 - RADIUS  # |(0, −70 , −s) × (0, 3, 4)/5|
    assert gap == pytest.approx(expected, abs=1e-9)
    assert gap.min() >= near.smallest - 1e-9
