"""Answers as files: Ctrl-C keeps the best, or says that nothing was changed; several are unlike, and drawn."""

from __future__ import annotations

import sys
from dataclasses import replace
from itertools import combinations
from math import dist
from pathlib import Path

import pytest
from click.testing import CliRunner

from headergen.commands.codes import FINDINGS, INTERRUPTED, UNREADABLE
from headergen.commands.line import commands
from headergen.geometry.curves.centreline import frame_at
from headergen.jobs import route as search
from headergen.model import Centreline, Draft
from headergen.pipeline import check, settle
from headergen.routing import paths_to_find
from headergen.solve.effort import Effort
from headergen.solve.route import Routed
from headergen.solve.route import route as find_at_once
from headergen.spec.routed import routed_text
from headergen.words.say import say_length

sys.path.insert(0, str(Path(__file__).parents[1] / "solve" / "route"))
from test_stages import PAIR
from wanted import TWO


def spec_in(folder: Path) -> Path:
    spec = folder / "job.yaml"
    spec.write_text(TWO, encoding="utf-8")
    return spec


@pytest.mark.slow
def test_ctrl_c_keeps_the_best_so_far(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    spec, find = spec_in(tmp_path), search.find_paths

    def interrupted(draft, meshes, effort, watch, known):  # type: ignore[no-untyped-def]
        def pressed(sofar: search.Sofar) -> None:
            if sofar.bends:
                raise KeyboardInterrupt

        return find(draft, meshes, effort, pressed, known)

    monkeypatch.setattr(search, "find_paths", interrupted)
    done = CliRunner().invoke(commands, ["route", str(spec), "--rounds", "60"])
    assert done.exit_code == INTERRUPTED and "best so far" in done.output
    assert sorted(path.name for path in tmp_path.iterdir()) == ["job.yaml", "job_routed.yaml"]
    assert CliRunner().invoke(commands, ["check", str(tmp_path / "job_routed.yaml")]).exit_code == 0
    top, rest = (tmp_path / "job_routed.yaml").read_text(encoding="utf-8").split("\n", 1)
    assert "--as-found, ended by Ctrl-C: its angles are not whole degrees" in top
    monkeypatch.setattr(search, "find_paths", find)
    command = top.split(" by headergen ")[1].split(",  ")[0].split(", ended")[0].split()
    again = CliRunner().invoke(commands, [command[0], str(spec), *command[1:]])
    assert again.exit_code == 0, again.output
    assert (tmp_path / "job_routed.yaml").read_text(encoding="utf-8").split("\n", 1)[1] == rest


def test_what_an_earlier_search_left_is_told_when_nothing_is_found(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    spec, earlier = spec_in(tmp_path), tmp_path / "job_routed.yaml"
    monkeypatch.setattr(search, "find_paths", lambda *_: Routed((), 3))
    assert "earlier search" not in CliRunner().invoke(commands, ["route", str(spec)]).output
    earlier.write_text(routed_text(TWO, settle_none(spec), "from an earlier search"), encoding="utf-8")
    done = CliRunner().invoke(commands, ["route", str(spec)])
    assert done.exit_code == FINDINGS and "job_routed.yaml is left from an earlier search" in done.output


def test_alternatives_that_an_earlier_search_left_are_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever this search asks for: they answer another spec, and lie beside its files."""
    spec = spec_in(tmp_path)
    for end in ("", "_2", "_7"):
        file = tmp_path / f"job_routed{end}.yaml"
        file.write_text(routed_text(TWO, settle_none(spec), "from an earlier search"), encoding="utf-8")
    monkeypatch.setattr(search, "find_paths", lambda *_: Routed((), 3))
    said = CliRunner().invoke(commands, ["route", str(spec)]).output
    assert [f"job_routed{end}.yaml is left" in said for end in ("", "_2", "_3", "_7")] == [True, True, False, True]


def settle_none(spec: Path) -> Draft:
    return paths_to_find(spec).draft


def test_ctrl_c_while_places_are_tried_promises_no_repetition(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The place that was best then is in the file; which rounds of which place found it is not kept."""
    spec = spec_in(tmp_path)
    moves = "bores: free, move: {main: {x: {min: -20, max: 20}}}"
    spec.write_text(TWO.replace("bores: free", moves), encoding="utf-8")
    wanted = paths_to_find(spec)
    still = replace(wanted.draft, routing=replace(wanted.draft.routing, moves=()))
    [answer] = find_at_once(still, wanted.meshes, Effort(rounds=6)).answers
    moved = replace(answer, draft=replace(answer.draft, routing=wanted.draft.routing))
    stopped = Routed((moved,), 6, stopped=True, rough=("primary 1", "primary 2"))
    monkeypatch.setattr(search, "find_paths", lambda *_: stopped)
    done = CliRunner().invoke(commands, ["route", str(spec)])
    assert done.exit_code == INTERRUPTED
    top = (tmp_path / "job_routed.yaml").read_text(encoding="utf-8").split("\n", 1)[0]
    said = "ended by Ctrl-C while places were tried: angles are not whole degrees, and no command repeats this"
    assert said in top and "--rounds" not in top and "--as-found" not in top


def test_ctrl_c_before_any_answer_writes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def pressed(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(search, "find_paths", pressed)
    assert CliRunner().invoke(commands, ["route", str(spec_in(tmp_path))]).exit_code != 0
    assert [path.name for path in tmp_path.iterdir()] == ["job.yaml"]


@pytest.mark.slow
def test_several_answers_are_unlike_and_drawn_side_by_side(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    spec, find, found = spec_in(tmp_path), search.find_paths, []
    monkeypatch.setattr(search, "find_paths", lambda *job: found.append(find(*job)) or found[-1])
    done = CliRunner().invoke(commands, ["route", str(spec), "--rounds", "44", "--alternatives", "3"])
    assert done.exit_code == 0
    paths = [tmp_path / f"job_routed{end}.yaml" for end in ("", "_2", "_3")]
    written = [path.read_bytes() for path in paths]
    command = written[1].decode().split("\n", 1)[0].split(" by headergen ")[1].split(", alternative")[0].split()
    assert command == ["route", "--alternatives", "3", "--seed", "0", "--rounds", "44"]
    assert CliRunner().invoke(commands, [command[0], str(spec), *command[1:]]).exit_code == 0
    assert [path.read_bytes() for path in paths] == written, "the top line of each repeats them all"
    lines = [settle(path).centrelines for path in paths]
    for one, other in combinations(lines, 2):
        assert max(apart(a, b) for a, b in zip(one, other, strict=True)) > 15.0  # mm, somewhere on some tube
    picture = tmp_path / "job_routed_alternatives.png"
    if "cannot render" in done.output:
        pytest.skip("no renderer here")
    assert picture.read_bytes()[:8] == b"\x89PNG\r\n\x1a\n" and picture.name in done.output
    assert not [path.name for path in tmp_path.iterdir() if path.name.endswith(".new")]
    monkeypatch.setattr(search, "find_paths", lambda *_: replace(found[0], answers=found[0].answers[:1]))
    again = CliRunner().invoke(commands, ["route", str(spec)])
    assert "shows the alternatives of an earlier search" in again.output


def apart(one: Centreline, other: Centreline) -> float:
    """Most that two tubes lie apart at equal shares of their lengths."""
    shares = [k / 40 for k in range(41)]
    ends = ([frame_at(line, share * line.length)[0] for share in shares] for line in (one, other))
    return max(dist(a, b) for a, b in zip(*ends, strict=True))


@pytest.mark.slow
def test_one_primary_is_found_anew_while_all_else_stays(tmp_path: Path) -> None:
    """A bar goes through its path; another primary, too near to something else, stays as it is and is no hindrance."""
    spec, routed = spec_in(tmp_path), tmp_path / "job_routed.yaml"
    assert CliRunner().invoke(commands, ["route", str(spec), "--rounds", "16"]).exit_code == 0
    lines = settle(routed).centrelines
    bars = [bar(name, lines[k], 0.5) for k, name in enumerate(("bar", "stay"))]
    spec.write_text(routed.read_text(encoding="utf-8") + "".join(bars), encoding="utf-8")
    before = check(spec).result
    [first, second] = before.helps
    assert {first.anew, second.anew} == {(1,), (2,)}
    done = CliRunner().invoke(commands, ["route", str(spec), "--only", "1", "--rounds", "60", "--overwrite"])
    assert done.exit_code == 0, done.output
    after = check(routed).result
    assert {each.where for each in after.findings if each.level == "error"} == {"primary 2"}
    kept, found = (settle(path).run("primary 2").steps for path in (spec, routed))
    assert kept == found
    gap = next(each for each in after.survey.gaps if (each.a, each.b) == ("primary 1", "bar"))
    assert gap.value >= gap.required
    [said] = [line for line in done.output.splitlines() if line.startswith("Primary 1 to bar")]
    assert f"gap {say_length(gap.value, 'mm')}" in said and "Another path for primary 1" in said
    assert routed.read_text(encoding="utf-8").startswith("# routed: from job.yaml by headergen route --only 1 --seed 0")


def bar(name: str, line: Centreline, share: float) -> str:
    """A line of a chassis: a bar right through a tube."""
    middle = frame_at(line, share * line.length)[0]
    ends = [[round(x, 1) for x in (middle[0] + away, middle[1], middle[2] + away)] for away in (-25.0, 25.0)]
    return f"  - {{name: {name}, cylinder: {{from: {ends[0]}, to: {ends[1]}, diameter: 12}}, clearance: 6}}\n"


GROWN = "[{straight: 20}, {step: {outside_diameter: 50.8, wall: 1.5, by: cone, length: 20}}, {straight: 20}]"


@pytest.mark.parametrize(
    ("number", "path", "why"),
    [
        (7, "[{straight: 60}]", "there is no primary 7"),
        (1, "{locked: true, path: [{straight: 60}]}", "primary 1 is locked"),
    ],
)
def test_what_cannot_be_found_anew_is_refused(number: int, path: str, why: str, tmp_path: Path) -> None:
    spec = spec_in(tmp_path)
    text = TWO.replace("1: find ", f"1: {path} ")
    text = text.replace("2: {find: true}", f"2: {GROWN if path == GROWN else '[{straight: 60}]'}")
    spec.write_text(text, encoding="utf-8")
    done = CliRunner().invoke(commands, ["route", str(spec), "--only", str(number)])
    assert done.exit_code == UNREADABLE and why in done.output


BANK = """\
# The other bank; this comment stays.
format: 1
mirror_of: job.yaml
job: {title: Other, revision: A, date: 2026-03-14}
units: mm
bank: {offset: 30, way: staggered, mirror: {origin: [0, -400, 0]}, mirrored: [rail, head], left_out: [bar]}
primaries:
  1: find              # to be found
  2: find
route: {radii: [63.5], cost_weights: {other_bank: LIKE}}
"""


def mean_distance(one: Centreline, other: Centreline) -> float:
    shares = [k / 50 for k in range(51)]
    pairs = ((frame_at(one, one.length * s)[0], frame_at(other, other.length * s)[0]) for s in shares)
    return sum(dist(p, q) for p, q in pairs) / len(shares)


def bar_through(spec: Path) -> str:
    """A bar across the first primary of a spec, in the middle of its length."""
    line = settle(spec).centrelines[0]
    x, y, z = (round(value, 1) for value in frame_at(line, line.length / 2)[0])
    place = f"from: [{x - 60}, {y}, {z}], to: [{x + 60}, {y}, {z}]"
    return f"  - {{name: bar, cylinder: {{{place}, diameter: 20}}, clearance: 8}}\n"


@pytest.mark.slow
def test_the_other_bank_is_found_like_the_first(tmp_path: Path) -> None:
    """The first bank leads round a bar that the other does not have, so only the weight keeps it from the short way.

    At a high weight it is the mirrored path itself, at none another one, ten times as far off as the other may be.
    """
    spec, runner = spec_in(tmp_path), CliRunner()

    def routed(asked: Path, rounds: int) -> Path:
        done = runner.invoke(commands, ["route", str(asked), "--rounds", str(rounds)])
        assert done.exit_code == 0, done.output
        return asked.with_name(f"{asked.stem}_routed.yaml")

    spec.write_text(TWO + bar_through(routed(spec, 16)), encoding="utf-8")
    routed(spec, 32).replace(spec)
    mirrored, bank = tmp_path / "mirrored.yaml", tmp_path / "bank.yaml"
    mirrored.write_text(BANK.split("primaries:")[0], encoding="utf-8")
    own = settle(mirrored).centrelines

    def farthest(weight: int) -> float:
        bank.write_text(BANK.replace("LIKE", str(weight)), encoding="utf-8")
        found = routed(bank, 16)
        text = found.read_text(encoding="utf-8")
        assert "# The other bank; this comment stays." in text and "mirror_of: job.yaml" in text
        assert runner.invoke(commands, ["check", str(found)]).exit_code == 0
        return max(mean_distance(one, other) for one, other in zip(settle(found).centrelines, own, strict=True))

    assert farthest(1000) < 0.1
    assert farthest(0) > 1.0


COUNTED = """\
units: mm
outside_diameter: 42.4
bends:
  - {radius: 63.5, angle: 90, legs: [80, 80], price: 9, count: 1}
straights:
  - {length: 2000}
"""


@pytest.mark.slow
def test_count_keeps_to_the_bends_on_hand_and_stands_in_the_top_line(tmp_path: Path) -> None:
    spec = spec_in(tmp_path)
    spec.write_text(spec.read_text(encoding="utf-8").replace("tube:", "stock: shelf.yaml\ntube:", 1), encoding="utf-8")
    (tmp_path / "shelf.yaml").write_text(COUNTED, encoding="utf-8")
    found = CliRunner().invoke(commands, ["route", str(spec), "--count", "--rounds", "12"])
    assert found.exit_code == 0 and "The bends on hand are not enough for" in found.output, found.output
    top = (tmp_path / "job_routed.yaml").read_text(encoding="utf-8").split("\n", 1)[0]
    assert "headergen route --count --seed 0 --rounds 12" in top
    (tmp_path / "shelf.yaml").write_text(COUNTED.replace(", count: 1", ""), encoding="utf-8")
    refused = CliRunner().invoke(commands, ["route", str(spec), "--count", "--rounds", "12"])
    assert refused.exit_code == 2 and "--count needs a stock list that counts bends" in refused.output


@pytest.mark.slow
def test_ctrl_c_in_a_later_search_leaves_a_command_that_repeats_what_is_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The primaries are in whole degrees, the run after them is as it was found; or all that is there."""
    find, during = search.find_paths, ["secondary main"]

    def interrupted(draft, meshes, effort, watch, known):  # type: ignore[no-untyped-def]
        def pressed(sofar: search.Sofar) -> None:
            if sofar.of in during and sofar.bends:
                raise KeyboardInterrupt

        return find(draft, meshes, effort, pressed, known)

    spec, target = tmp_path / "pair.yaml", tmp_path / "pair_routed.yaml"
    spec.write_text(PAIR, encoding="utf-8")
    monkeypatch.setattr(search, "find_paths", interrupted)
    done = CliRunner().invoke(commands, ["route", str(spec), "--rounds", "10+6"])
    assert done.exit_code == INTERRUPTED and "angles of secondary main not yet made whole degrees" in done.output
    top, rest = target.read_text(encoding="utf-8").split("\n", 1)
    assert "--last-as-found, ended by Ctrl-C: the angles of secondary main are not whole degrees" in top
    during[:] = ["primary 1 and primary 2"]
    done = CliRunner().invoke(commands, ["route", str(spec), "--rounds", "10+6"])
    assert done.exit_code == INTERRUPTED and "still to be found: secondary main" in done.output
    first = target.read_text(encoding="utf-8").split("\n", 1)[0]
    assert "--as-found, ended by Ctrl-C: its angles are not whole degrees, secondary main still to be found" in first
    monkeypatch.setattr(search, "find_paths", find)
    command = top.split(" by headergen ")[1].split(", ended")[0].split()
    again = CliRunner().invoke(commands, [command[0], str(spec), *command[1:]])
    assert again.exit_code == 0, again.output
    assert target.read_text(encoding="utf-8").split("\n", 1)[1] == rest
