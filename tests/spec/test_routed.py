"""Found paths put into a spec: the rest of the text stays, and files of others are known as such."""

from __future__ import annotations

import math
import re
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from small_spec import changed, draft_of

from headergen.commands.line import commands
from headergen.jobs import route as search
from headergen.model import Bend, Draft, Straight
from headergen.pipeline import check
from headergen.solve.effort import Effort
from headergen.solve.route import Routed, route
from headergen.spec.routed import routed_text

JOB = (Path(__file__).parents[1] / "solve" / "route" / "wanted.py").read_text(encoding="utf-8")
TEXT = JOB.split('TWO = """\\\n')[1].split('"""')[0]


@pytest.fixture(scope="module")
def found_once(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Any]:
    """A spec with its routed files beside it, and what the search found, in this process: children load anew."""
    spec, found = tmp_path_factory.mktemp("routed") / "job.yaml", []

    def find(draft: Draft, meshes: Any, effort: Effort, *_: object) -> Routed:
        return route(draft, meshes, effort)

    spec.write_text(TEXT, encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(search, "find_paths", lambda *job: found.append(find(*job)) or found[0])
        done = CliRunner().invoke(commands, ["route", str(spec), "--rounds", "8", "--alternatives", "2"])
    assert done.exit_code == 0, done.output
    return spec, found[0]


@pytest.fixture
def routed(found_once: tuple[Path, Any]) -> Path:
    return found_once[0]


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
    assert re.match(r"# routed: from job\.yaml .*--seed 0 --rounds 8, alternative 1; sha256 [0-9a-f]{16}$", lines[0])


def test_a_file_changed_by_hand_is_not_written_over(
    found_once: tuple[Path, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    routed, found = found_once
    target = routed.with_name("job_routed.yaml")
    monkeypatch.setattr(search, "find_paths", lambda *_: replace(found, answers=found.answers[:1]))
    again = ["route", str(routed)]
    assert CliRunner().invoke(commands, again).exit_code == 0, "its own, unchanged, is"
    target.write_text(target.read_text(encoding="utf-8") + "# my note\n", encoding="utf-8")
    done = CliRunner().invoke(commands, again)
    assert done.exit_code == 2 and "changed by hand" in done.output
    assert "# my note" in target.read_text(encoding="utf-8")
    assert CliRunner().invoke(commands, [*again, "--overwrite"]).exit_code == 0
    assert "# my note" not in target.read_text(encoding="utf-8")


def test_check_says_to_route_first(routed: Path) -> None:
    """What is there is checked and told; what needs all paths names the place of the first that is missing."""
    done = CliRunner().invoke(commands, ["check", str(routed)])
    assert done.exit_code == 1 and "headergen route" in " ".join(done.output.split())
    done = CliRunner().invoke(commands, ["resolve", str(routed)])
    assert done.exit_code == 3
    assert "job.yaml:22:6 primaries.1: the path of primary 1 is still to be found" in done.output


def test_a_spec_without_anything_to_find(routed: Path) -> None:
    done = CliRunner().invoke(commands, ["route", str(routed.with_name("job_routed.yaml"))])
    assert done.exit_code == 3 and "no tube is marked find" in done.output


STEPS = (Straight(50.8), Bend(math.radians(90), 63.5, math.radians(-45)), Straight(100.0))


@pytest.mark.parametrize(
    "primaries",
    [
        "primaries:\n  1: find   # mine\n",
        "primaries:\n  1: {target: 300, find: true}\n",
        "primaries:\n  1:\n    find: true\n    target: 300   # long\n    path: [{straight: 20}]   # a guess\n",
        "primaries:\n  1:\n    # over the starter\n    find: true\n    target: 300   # long\n    path:\n"
        "      # only a guess\n      - {straight: 20}\n",
        "primaries: {1: find}\n",
        "primaries: {1: {find: true, target: 300}}\n",
    ],
    ids=[
        "a word",
        "keys in braces",
        "keys in lines, with a guess",
        "comments on their own lines",
        "all in braces",
        "all in braces, keys",
    ],
)
def test_every_way_of_writing_it_reads_back(tmp_path: Path, primaries: str) -> None:
    text = changed(("primaries:\n  1:\n    - {straight: 200}\n", primaries), ("units: mm", "units: in"))
    text = text.replace("[0, 200, 0]", "[0, 8, 0]").replace("target: 300", "target: 12")
    text = text.replace("42.4, wall: 1.5", "1.5, wall: 0.065").replace("thickness: 10", "thickness: 0.4")
    text = text.replace("round: 38", "round: 1.4") + "length: {tolerance: 0.1}\n"
    text += "# the last word\n"
    draft = draft_of(tmp_path, text)
    assert draft.primaries[0].to_find
    found = draft.with_primaries((replace(draft.primaries[0], steps=STEPS, to_find=False),))
    made = routed_text(text, found, "note;")
    assert all(comment in made for comment in re.findall("#.*", text))
    again = draft_of(tmp_path, made)
    primary = again.primaries[0]
    assert not primary.to_find and primary.target == draft.primaries[0].target
    for mine, theirs in zip(primary.steps, STEPS, strict=True):
        assert asdict(mine) == pytest.approx(asdict(theirs), abs=2e-4)  # inches to 1e-5 are 0.00025 mm


@pytest.mark.parametrize("kept", ["", "target: 300, "])
def test_a_path_in_braces_has_a_step_a_line(tmp_path: Path, kept: str) -> None:
    marked = f"{{{kept}find: true}}" if kept else "find"
    text = changed(("primaries:\n  1:\n    - {straight: 200}\n", f"primaries: {{1: {marked}}}\n"))
    draft = draft_of(tmp_path, text)
    found = draft.with_primaries((replace(draft.primaries[0], steps=STEPS, to_find=False),))
    lines = routed_text(text, found, "note;").splitlines()
    assert [line.strip().startswith("{") for line in lines].count(True) == len(STEPS)
    assert all(line.count("straight:") + line.count("bend:") <= 1 for line in lines)
    assert max(len(line) for line in lines if "straight" in line or "bend" in line) <= 100
