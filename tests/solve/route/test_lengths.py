"""The shortest and the longest equal length, against a search of the test's own over every tube of two bends."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from wanted import changed, job

from headergen.checks.judge import judge
from headergen.checks.measure import survey
from headergen.solve.closing import close
from headergen.solve.effort import Effort
from headergen.solve.route import Answer, route
from headergen.solve.route.brief import Allowed, first_answer
from headergen.solve.route.cost import CostTerm
from headergen.solve.route.lengths import (
    NOTHING,
    Extreme,
    at_length,
    at_target,
    lengths_that_fit,
    may_vary,
    say_lengths,
)
from headergen.solve.route.problem import least_length, problem_of

RADIUS, CLEAR = 63.5, 21.2 + 12.0  # mm: of the bends; from a centreline to a wall
ONE = changed(
    ("    2: {at: [100, 0], shape: {round: 38}}\n", ""),
    ("bores: [1, 2] ", "bores: [1] "),
    ("  2: {find: true}\n", ""),
    ("radii: [63.5], bores: free", "radii: [63.5], most_bends: 2"),
    (
        "chassis:",
        "chassis:\n  - {name: wall, box: {center: [0, 455, 0], size: [3000, 10, 3000]}, clearance: 12}\n"
        "  - {name: rear, box: {center: [65, 600, 0], size: [10, 1000, 3000]}, clearance: 12}",
    ),
    ("  - {name: rail, cylinder: {from: [300, 160, -190], to: [-500, 160, -190], diameter: 40}, clearance: 12}\n", ""),
)


def two_bends(a: NDArray[np.float64], b: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Lengths of tubes along y from the port for a, back along x into the bore for b, one line between; which hold.

    Both walls are level with an axis, and a corner rounded by an arc stays inside its legs: so the arc's own
    reach toward each wall is all that counts.
    """
    first, last = np.stack([0 * a, a, 0 * a], -1), np.stack([-300 + b, 250 + 0 * b, -150 + 0 * b], -1)
    between = last - first
    leg = np.linalg.norm(between, axis=-1)
    way = between / leg[..., None]
    turns = np.arccos(way[..., 1]), np.arccos(-way[..., 0])
    cuts = [RADIUS * np.tan(turn / 2) for turn in turns]
    length = a + leg + b + sum(RADIUS * turn - 2 * cut for turn, cut in zip(turns, cuts, strict=True))
    holds = (a - cuts[0] >= 10) & (b - cuts[1] >= 40) & (leg - cuts[0] - cuts[1] >= 0)
    for turn in turns:
        holds &= (np.degrees(turn) >= 10) & (np.degrees(turn) <= 150)
    # the highest point of an arc that begins along y and turns by t: R·sin t on, R at most
    for start, cut, turn, wall in ((a, cuts[0], turns[0], 450.0), (-300 + b, cuts[1], turns[1], 60.0)):
        reach = start - cut + RADIUS * np.sin(np.minimum(turn, math.pi / 2))
        holds &= reach <= wall - CLEAR
    return length, holds


@pytest.mark.slow
def test_both_ends_of_the_range_are_those_of_all_tubes_of_two_bends(tmp_path: Path) -> None:
    _, draft, meshes = job(tmp_path, ONE)
    found = lengths_that_fit(draft, meshes, Effort(rounds=30))
    assert not isinstance(found, int)
    low, high = found
    lengths, holds = two_bends(*np.meshgrid(np.arange(10.0, 760, 1.0), np.arange(40.0, 760, 1.0)))
    all_of_them = lengths[holds]
    # places of the grid lie 1 mm apart at each end; 0.8 mm is kept off walls; the last step is under 4 mm
    assert all_of_them.min() - 1.5 <= low.length <= all_of_them.min() + 8.0
    assert all_of_them.max() - 12.0 <= high.length <= all_of_them.max() + 2.0
    assert low.length >= least_length(draft)
    for extreme in found:
        assert extreme.tries > 0
        assert_holds(extreme, meshes)
    said = say_lengths(found, draft).message
    assert f"(none shorter in {low.tries} tries" in said
    assert f"(none longer in {high.tries} tries, which is no proof)" in said


def assert_holds(extreme: Extreme, meshes: object) -> None:
    measured = survey(close(extreme.answer.draft), meshes)  # type: ignore[arg-type]
    assert not [finding.message for finding in judge(measured) if finding.level == "error"]
    assert max(abs(length - extreme.length) for length in measured.lengths) < 2.0


@pytest.mark.slow
def test_a_route_says_both_lengths_beside_its_answers(tmp_path: Path) -> None:
    _, draft, meshes = job(tmp_path)
    found = route(draft, meshes, Effort(rounds=30, lengths=True))
    assert found.answers
    [said] = [finding for finding in found.findings if finding.rule == "route-lengths"]
    assert said.rule == "route-lengths" and said.value is not None and said.limit is not None
    assert least_length(draft) - 0.1 <= said.value < 620 < said.limit
    assert "longer ones were not looked for" in said.message  # nothing around ends the longest


def test_no_length_contradicts_an_answer(tmp_path: Path) -> None:
    """What is called the shortest and the longest is never inside what was found before, even without any time."""
    _, draft, meshes = job(tmp_path)
    problem = problem_of(replace(draft, length=replace(draft.length, target=None)), meshes)
    known = [first_answer(at_length(problem, length), Allowed(60, math.inf))[0] for length in (600.0, 660.0)]
    answers = [answer for answer in known if answer is not None]
    assert len(answers) == 2
    lengths = sorted(answer.layout.length for answer in answers)
    low, high = never = lengths_that_fit(draft, meshes, Effort(seconds=-1.0, begun=0.0, now=lambda: 1.0), answers)  # type: ignore[misc]
    assert [low.length, high.length] == lengths and low.tries == high.tries == 0
    said = say_lengths(never, draft).message
    assert "no time was left to look for shorter ones" in said and "no time was left to look for longer ones" in said
    assert "No time was left" in say_lengths(0, draft).message and "0 tries" not in said


def test_lengths_are_searched_from_the_answers_that_are_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also from those in whole degrees: brought to the target they may be shorter than what the search had found."""
    known = list[float]()

    def as_if(draft: object, meshes: object, effort: object, answers: Sequence[Answer]) -> int:
        known.extend(answer.layout.length for answer in answers)
        return 0

    monkeypatch.setattr("headergen.solve.route.lengths_that_fit", as_if)
    found = route(*job(tmp_path)[1:], Effort(rounds=8, lengths=True))
    assert found.answers and found.answers[0].layout.length in known


def test_a_length_at_the_edge_of_its_tolerance_goes_to_the_target(tmp_path: Path) -> None:
    """For next to nothing; where the target costs more, the answer stays as it was."""
    problem = problem_of(*job(tmp_path)[1:])
    answer = first_answer(at_length(problem, 618.2), Allowed(60, math.inf))[0]
    assert answer is not None
    made = at_target(problem, answer)
    cost = answer.cost + NOTHING * max(answer.cost, answer.degrees)
    assert made is answer or (abs(made.layout.length - 620.0) < 0.01 and made.cost <= cost)
    cheap = replace(answer, terms=(CostTerm("more than any", 1.0, 1e4),))
    assert abs(at_target(problem, cheap).layout.length - 620.0) < 0.01
    dear = replace(answer, terms=())
    assert at_target(problem, dear) is dear


@pytest.mark.quick(1)
@pytest.mark.parametrize("seed", [2, 5])
def test_whole_degrees_keep_the_length_at_its_target(tmp_path: Path, seed: int) -> None:
    """The tolerance is 2 mm; a tube of two bends in whole degrees may miss by a quarter of one, and its twin too."""
    _, draft, meshes = job(tmp_path, changed(("limits: {", "limits: {min_straight: 0.1, ")))
    found = route(draft, meshes, Effort(seed=seed, rounds=10))
    [whole] = [each for each in found.findings if each.rule == "route-whole-angles"]
    assert whole.value == whole.limit
    assert all(abs(length - 620.0) < 0.5 for length in found.answers[0].survey.lengths)


def test_without_any_length_the_bound_is_said(tmp_path: Path) -> None:
    wall = "chassis:\n  - {name: wall, box: {center: [-150, 200, -50], size: [10, 1500, 1500]}, clearance: 12}"
    _, draft, meshes = job(tmp_path, changed(("chassis:", wall)))
    found = lengths_that_fit(draft, meshes, Effort(rounds=4))
    assert found == 4
    assert "in 4 tries" in say_lengths(4, draft).message
    assert f"{least_length(draft):.1f} mm" in say_lengths(4, draft).message


def test_lengths_that_are_given_by_others_do_not_vary(tmp_path: Path) -> None:
    _, draft, meshes = job(tmp_path)
    assert may_vary(draft)
    one, two = draft.primaries
    assert not may_vary(draft.with_primaries((replace(one, to_find=False), two)))
    assert not may_vary(draft.with_primaries((replace(one, target=700.0), two)))
    want = at_length(problem_of(draft, meshes), 650.0).want
    assert 648.0 <= want.shortest < 650.0 < want.longest <= 652.0
