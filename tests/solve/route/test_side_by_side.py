"""A search shared by processes: the same as its parts one after the other, whichever ends first."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner
from wanted import job

from headergen.commands.line import commands
from headergen.jobs.route import Sofar, find_paths
from headergen.solve.effort import Effort
from headergen.solve.route import begin, finish, merged, searched


def test_rounds_are_shared_and_each_part_has_its_own_stream() -> None:
    parts = [Effort(seed=5, rounds=11, jobs=3).share(part) for part in range(3)]
    assert [part.rounds for part in parts] == [4, 4, 3]
    assert {(part.seed, part.stream, part.jobs) for part in parts} == {(5, 0, 1), (5, 1, 1), (5, 2, 1)}
    given = Effort(rounds=11, jobs=2, shares=(9, 2))
    assert [given.share(part).rounds for part in range(2)] == [9, 2]
    assert Effort(seconds=7.0, jobs=2).share(1).rounds is None
    assert Effort(rounds=11).share(0) == Effort(rounds=11)


@pytest.mark.slow
def test_two_processes_find_what_their_parts_find_one_after_the_other(tmp_path: Path) -> None:
    _, draft, meshes = job(tmp_path)
    effort = Effort(seed=2, rounds=23, jobs=2, answers=2)
    heard: list[Sofar] = []
    found = find_paths(draft, meshes, effort, heard.append)
    begun, problem = begin(draft, meshes, effort)
    assert problem is not None
    parts = [replace(searched(begun, problem, effort.share(part)), tried=set()) for part in range(2)]
    assert {each.layout.runs[0].x.tobytes() for each in parts[0].answers} != {
        each.layout.runs[0].x.tobytes() for each in parts[1].answers
    }, "the two streams differ"
    wanted = finish(begun, problem, merged(problem, parts))
    assert [each.draft for each in found.answers] == [each.draft for each in wanted.answers]
    assert found.shares == (12, 11) and found.rounds == 23
    counts = [each.rounds for each in heard]
    assert counts == sorted(counts) and counts[-1] == 23


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--rounds", "0"], "0 is not a number of tries"),
        (["--rounds", "12,"], "12, is not a number of tries"),
        (["--rounds", "many"], "many is not a number of tries"),
        (["--rounds", "12,13", "--jobs", "3"], "--rounds has 2 numbers for 3 processes"),
        (["--jobs", "0"], "0 is not in the range"),
    ],
)
def test_what_cannot_be_shared_is_told(tmp_path: Path, options: list[str], said: str) -> None:
    spec, _, _ = job(tmp_path)
    done = CliRunner().invoke(commands, ["route", str(spec), *options])
    assert done.exit_code == 2 and said in done.output
