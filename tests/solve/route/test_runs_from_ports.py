"""Runs from ports to places of their own are found by themselves, at no length but their own target."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from headergen.geometry.curves.run import line_of
from headergen.model import Draft, Straight
from headergen.routing import paths_to_find
from headergen.solve.effort import Effort
from headergen.solve.route import route
from headergen.solve.route.problem import length_range
from headergen.solve.stages import in_stages, stages_of

SPEC = """\
format: 1
job: {title: Test, revision: A, date: 2026-03-14}
units: mm
tube: {outside_diameter: 42.4, wall: 1.5, material: 304L}
flange:
  plane: {origin: [0, 0, 0], normal: [0, 1, 0], x: [1, 0, 0]}
  thickness: 10
  ports: {1: {at: [0, 0], shape: {round: 38}}, 2: {at: [200, 0], shape: {round: 38}}}
collectors:
  main: {join: weld, pattern: line, bores: [1], plane: {origin: [0, 300, 60], normal: [0, 1, 0]}}
length: {target: 320, tolerance: 4}
runs:
  up: {from: 2, to: {at: [200, 500, 80], along: [0, 1, 0]}, find: trueOWN}
primaries: {1: find}
"""


def read(folder: Path, own: str = "") -> Draft:
    (folder / "job.yaml").write_text(SPEC.replace("OWN", own), encoding="utf-8")
    return paths_to_find(folder / "job.yaml").draft


def of_stage(draft: Draft, names: tuple[str, ...]) -> Draft:
    return replace(draft, runs=tuple(run for run in draft.runs if run.name in names))


def test_the_primaries_come_first_and_each_run_after_them(tmp_path: Path) -> None:
    assert stages_of(read(tmp_path)) == [("primary 1",), ("primary 2",)]


def test_the_header_s_length_is_not_asked_of_a_run_to_its_own_place(tmp_path: Path) -> None:
    """At least the straight line to its end, and by far more at most; the primary keeps to the target."""
    draft = read(tmp_path)
    low, high = length_range(of_stage(draft, ("primary 2",)))
    assert low <= 508.0 < high and high > 600.0
    low, high = length_range(of_stage(draft, ("primary 1",)))
    assert 316.0 <= low < 320.0 < high <= 324.0


def test_its_own_target_is(tmp_path: Path) -> None:
    low, high = length_range(of_stage(read(tmp_path, ", target: 560"), ("primary 2",)))
    assert 556.0 <= low < 560.0 < high <= 564.0


@pytest.mark.parametrize("own", [pytest.param("", marks=pytest.mark.slow), ", target: 560"])
def test_both_are_found(tmp_path: Path, own: str) -> None:
    draft = read(tmp_path, own)
    found = in_stages(draft, Effort(seed=3, rounds=40), lambda part, effort: route(part, {}, effort))
    lengths = {run.number: line_of(run).length for run in found.answers[0].draft.primaries}
    assert lengths[1] == pytest.approx(320.0, abs=4.0)
    assert lengths[2] == pytest.approx(560.0, abs=4.0) if own else lengths[2] < 540.0


def test_one_in_line_with_its_place_is_straight_and_grows_there(tmp_path: Path) -> None:
    step = "{outside_diameter: 48.3, wall: 1.5, by: cone, length: 30, at: {min: 100, max: 140}}"
    text = SPEC.replace("OWN", f", steps: [{step}]").replace("[200, 500, 80]", "[200, 500, 0]")
    text = text.replace("1: find", "1: [{straight: 320}]").replace("origin: [0, 300, 60]", "origin: [0, 320, 0]")
    (tmp_path / "job.yaml").write_text(text, encoding="utf-8")
    draft = paths_to_find(tmp_path / "job.yaml").draft
    found = in_stages(draft, Effort(seed=3, rounds=1), lambda part, effort: route(part, {}, effort))
    steps = found.answers[0].draft.runs[-1].steps
    assert (
        [type(step) for step in steps] == [Straight] * 3
        and isinstance(steps[1], Straight)
        and steps[1].growth is not None
    )
    before, cone, after = (step.length for step in steps if isinstance(step, Straight))
    assert before == pytest.approx(120.0) and cone == 30.0 and before + cone + after == pytest.approx(500.0)
