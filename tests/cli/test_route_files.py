"""Answers as files: Ctrl-C keeps the best, or says that nothing was changed; several are unlike, and drawn."""

from __future__ import annotations

import sys
from itertools import combinations
from math import dist
from pathlib import Path

import pytest
from click.testing import CliRunner

from headergen.commands import commands
from headergen.commands.say import INTERRUPTED
from headergen.geometry.curves.centreline import frame_at
from headergen.jobs import route as search
from headergen.model import Centreline
from headergen.pipeline import settle

sys.path.insert(0, str(Path(__file__).parents[1] / "solve" / "route"))
from wanted import TWO


def spec_in(folder: Path) -> Path:
    spec = folder / "job.yaml"
    spec.write_text(TWO, encoding="utf-8")
    return spec


def test_ctrl_c_keeps_the_best_so_far(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    spec, find = spec_in(tmp_path), search.find_paths

    def interrupted(draft, meshes, effort, watch):  # type: ignore[no-untyped-def]
        def pressed(sofar: search.Sofar) -> None:
            if sofar.bends:
                raise KeyboardInterrupt

        return find(draft, meshes, effort, pressed)

    monkeypatch.setattr(search, "find_paths", interrupted)
    done = CliRunner().invoke(commands, ["route", str(spec), "--seconds", "60"])
    assert done.exit_code == INTERRUPTED and "best so far" in done.output
    assert sorted(path.name for path in tmp_path.iterdir()) == ["job.yaml", "job_routed.yaml"]
    assert CliRunner().invoke(commands, ["check", str(tmp_path / "job_routed.yaml")]).exit_code == 0


def test_ctrl_c_before_any_answer_writes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def pressed(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(search, "find_paths", pressed)
    assert CliRunner().invoke(commands, ["route", str(spec_in(tmp_path))]).exit_code != 0
    assert [path.name for path in tmp_path.iterdir()] == ["job.yaml"]


def test_several_answers_are_unlike_and_drawn_side_by_side(tmp_path: Path) -> None:
    spec = spec_in(tmp_path)
    done = CliRunner().invoke(commands, ["route", str(spec), "--rounds", "32", "--alternatives", "3"])
    assert done.exit_code == 0
    paths = [tmp_path / f"job_routed{end}.yaml" for end in ("", "_2", "_3")]
    lines = [settle(path).centrelines for path in paths]
    for one, other in combinations(lines, 2):
        assert max(apart(a, b) for a, b in zip(one, other, strict=True)) > 15.0  # mm, somewhere on some tube
    picture = tmp_path / "job_routed_alternatives.png"
    if "cannot render" in done.output:
        pytest.skip("no renderer here")
    assert picture.read_bytes()[:8] == b"\x89PNG\r\n\x1a\n" and picture.name in done.output
    assert not [path.name for path in tmp_path.iterdir() if path.name.endswith(".new")]
    again = CliRunner().invoke(commands, ["route", str(spec), "--rounds", "32"])
    assert "shows the alternatives of an earlier search" in again.output


def apart(one: Centreline, other: Centreline) -> float:
    """Most that two tubes lie apart at equal shares of their lengths."""
    shares = [k / 40 for k in range(41)]
    ends = ([frame_at(line, share * line.length)[0] for share in shares] for line in (one, other))
    return max(dist(a, b) for a, b in zip(*ends, strict=True))


BANK = """\
# The other bank; this comment stays.
format: 1
mirror_of: job.yaml
job: {title: Other, revision: A, date: 2026-03-14}
units: mm
bank: {offset: 30, way: staggered, mirror: {origin: [0, -400, 0]}, mirrored: [rail, head]}
primaries:
  1: find              # to be found
  2: find
route: {radii: [63.5], cost_weights: {other_bank: LIKE}}
"""


def mean_distance(one: Centreline, other: Centreline) -> float:
    shares = [k / 50 for k in range(51)]
    pairs = ((frame_at(one, one.length * s)[0], frame_at(other, other.length * s)[0]) for s in shares)
    return sum(dist(p, q) for p, q in pairs) / len(shares)


def test_the_other_bank_is_found_like_the_first(tmp_path: Path) -> None:
    """First with nothing else about: the mirrored path itself. Then with a bar through it: the weight says how near."""
    spec = spec_in(tmp_path)
    assert CliRunner().invoke(commands, ["route", str(spec), "--rounds", "16"]).exit_code == 0
    (tmp_path / "job_routed.yaml").replace(spec)
    mirrored = tmp_path / "mirrored.yaml"
    mirrored.write_text(BANK.split("primaries:")[0], encoding="utf-8")
    own = settle(mirrored).centrelines
    middle = frame_at(own[0], own[0].length / 2)[0]
    ends = [[round(x, 1) for x in (middle[0] + away, middle[1], middle[2])] for away in (-60.0, 60.0)]
    bar = f"chassis: [{{name: bar, cylinder: {{from: {ends[0]}, to: {ends[1]}, diameter: 20}}, clearance: 8}}]\n"

    def distances(weight: int, more: str = "") -> list[float]:
        bank, routed = tmp_path / "bank.yaml", tmp_path / "bank_routed.yaml"
        bank.write_text(BANK.replace("LIKE", str(weight)) + more, encoding="utf-8")
        done = CliRunner().invoke(commands, ["route", str(bank), "--rounds", "24"])
        assert done.exit_code == 0, done.output
        text = routed.read_text(encoding="utf-8")
        assert "# The other bank; this comment stays." in text and "mirror_of: job.yaml" in text
        assert CliRunner().invoke(commands, ["check", str(routed)]).exit_code == 0
        return [mean_distance(one, other) for one, other in zip(settle(routed).centrelines, own, strict=True)]

    assert max(distances(100)) < 0.1
    careless, like = distances(0, bar), distances(100, bar)
    assert 1.0 < sum(like) < sum(careless)
