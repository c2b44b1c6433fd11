"""Found paths put into a spec: the rest of the text stays, and files of others are known as such."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from headergen.cli import commands
from headergen.pipeline import check

JOB = (Path(__file__).parents[1] / "solve" / "route" / "wanted.py").read_text(encoding="utf-8")
TEXT = JOB.split('TWO = """\\\n')[1].split('"""')[0]


@pytest.fixture(scope="module")
def routed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    spec = tmp_path_factory.mktemp("routed") / "job.yaml"
    spec.write_text(TEXT, encoding="utf-8")
    done = CliRunner().invoke(commands, ["route", str(spec), "--rounds", "25", "--answers", "2"])
    assert done.exit_code == 0, done.output
    return spec


def test_the_written_file_is_clean_by_a_reader_that_knows_nothing_else(routed: Path) -> None:
    result = check(routed.with_name("job_routed.yaml")).result
    assert not [f.message for f in result.findings if f.level == "error"]
    lengths = result.survey.lengths
    assert max(lengths) - min(lengths) < 0.5
    assert all(opinion.agrees for opinion in result.survey.second_opinions)


def test_comments_and_all_else_stay(routed: Path) -> None:
    before, after = routed.read_text(encoding="utf-8"), routed.with_name("job_routed.yaml").read_text(encoding="utf-8")
    assert before == TEXT
    kept = [line for line in before.split("\n") if "find" not in line and not line.strip().startswith("bores:")]
    lines = after.split("\n")
    assert [line for line in kept if line not in lines] == []
    assert "# to be found" in after and "# as they come" in after
    assert re.match(r"# routed: from job\.yaml .*--seed 0 --rounds 25, answer 1; sha256 [0-9a-f]{16}$", lines[0])


def test_a_file_changed_by_hand_is_not_written_over(routed: Path) -> None:
    target = routed.with_name("job_routed.yaml")
    again = ["route", str(routed), "--rounds", "8"]
    assert CliRunner().invoke(commands, again).exit_code == 0, "its own, unchanged, is"
    target.write_text(target.read_text(encoding="utf-8") + "# my note\n", encoding="utf-8")
    done = CliRunner().invoke(commands, again)
    assert done.exit_code == 2 and "changed by hand" in done.output
    assert "# my note" in target.read_text(encoding="utf-8")
    assert CliRunner().invoke(commands, [*again, "--overwrite"]).exit_code == 0
    assert "# my note" not in target.read_text(encoding="utf-8")


def test_check_says_to_route_first(routed: Path) -> None:
    done = CliRunner().invoke(commands, ["check", str(routed)])
    assert done.exit_code == 3
    assert "job.yaml:22:6 primaries.1: the path of primary 1 is still to be found" in done.output
    assert "headergen route" in done.output


def test_a_spec_without_anything_to_find(routed: Path) -> None:
    done = CliRunner().invoke(commands, ["route", str(routed.with_name("job_routed.yaml"))])
    assert done.exit_code == 3 and "no primary is marked to be found" in done.output
