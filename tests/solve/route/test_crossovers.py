"""Tubes on the side of others are found: across, round what is in the way, and after the run that they stand on."""

from __future__ import annotations

from pathlib import Path

import pytest

from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.curves.sides import footprint, side_joints
from headergen.model import Bend, Straight
from headergen.pipeline import check
from headergen.routing import paths_to_find, with_found_paths
from headergen.solve.effort import Effort
from headergen.solve.route import Answer, route
from headergen.solve.stages import stages_of

GUIDE = (Path(__file__).parents[3] / "specs" / "guide_crossover.yaml").read_text()
ACROSS = "path: [{straight: {fit: 250}}]\n"
BALANCE, LEFT = "secondary balance", "secondary left"


def wanted(folder: Path, *changes: tuple[str, str]) -> Path:
    text = GUIDE
    for old, new in ((ACROSS, "find: true\n"), *changes):
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    spec = folder / "wanted.yaml"
    spec.write_text(text)
    return spec


def found_in(spec: Path, rounds: int) -> tuple[Answer, int]:
    asked = paths_to_find(spec)
    found = route(asked.draft, asked.meshes, Effort(rounds=rounds))
    assert found.answers, [each.message for each in found.findings]
    best = found.answers[0]
    routed = spec.with_name("routed.yaml")
    routed.write_text(with_found_paths(spec, best.draft, "found"))
    assert [each.message for each in check(routed).result.findings if each.level == "error"] == []
    return best, found.rounds


def test_a_crossover_with_its_ends_in_line_is_straight(tmp_path: Path) -> None:
    best, rounds = found_in(wanted(tmp_path), 1)
    run = next(run for run in best.draft.runs if run.name == BALANCE)
    assert run.steps == (Straight(260.0),) and rounds == 0, "260 between the axes; no search"


@pytest.mark.slow
def test_ends_that_are_not_in_line(tmp_path: Path) -> None:
    """60 mm farther along the run that it joins: by bends, square to both runs, and clear of what else is there."""
    joins = "joins: {run: right, at: 150, along: [0, -1, 0]}"
    best, rounds = found_in(wanted(tmp_path, (joins, joins.replace("150", "210"))), 3)
    line = next(line for line in best.survey.header.centrelines if line.run == BALANCE)
    [run] = [run for run in best.draft.runs if run.name == BALANCE]
    assert rounds == 3 and any(isinstance(step, Bend) for step in run.steps)
    place, way, _ = frame_at(line, line.length)
    joint = next(each for each in side_joints(best.survey.header.tubes) if not each.at_start)
    assert place == pytest.approx(joint.place, abs=best.draft.limits.end_position)
    assert way == pytest.approx((0.0, -1.0, 0.0), abs=1e-3)
    first, last = run.steps[0], run.steps[-1]
    assert isinstance(first, Straight) and isinstance(last, Straight)
    assert min(first.length, last.length) > 22.5, "past the other tube's skin"


@pytest.mark.slow
def test_what_it_stands_on_is_found_first_and_is_straight_there(tmp_path: Path) -> None:
    start = GUIDE.index("  left: [{straight: 300}")
    old = GUIDE[start : GUIDE.index("  right: [{straight: 300}")]
    spec = wanted(tmp_path, (old, "  left: find\n"))
    assert stages_of(paths_to_find(spec).draft) == [(LEFT,), (BALANCE,)]
    best, _ = found_in(spec, 3)
    [joint] = [each for each in side_joints(best.survey.header.tubes) if each.host == LEFT]
    line = next(line for line in best.survey.header.centrelines if line.run == LEFT)
    ways = {frame_at(line, at)[1] for at in (*footprint(joint), joint.at)}
    assert all(way == pytest.approx(joint.way, abs=1e-9) for way in ways)
