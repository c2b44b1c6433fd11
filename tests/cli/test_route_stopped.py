"""Ctrl-C during a search keeps the best answer, or says that nothing was changed."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from headergen import worker
from headergen.cli import INTERRUPTED, commands

sys.path.insert(0, str(Path(__file__).parents[1] / "solve" / "route"))
from wanted import TWO


def spec_in(folder: Path) -> Path:
    spec = folder / "job.yaml"
    spec.write_text(TWO, encoding="utf-8")
    return spec


def test_ctrl_c_keeps_the_best_so_far(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    spec, find = spec_in(tmp_path), worker.find_paths

    def interrupted(draft, meshes, effort, watch):  # type: ignore[no-untyped-def]
        def pressed(sofar: worker.Sofar) -> None:
            if sofar.bends:
                raise KeyboardInterrupt

        return find(draft, meshes, effort, pressed)

    monkeypatch.setattr(worker, "find_paths", interrupted)
    done = CliRunner().invoke(commands, ["route", str(spec), "--seconds", "60"])
    assert done.exit_code == INTERRUPTED and "best so far" in done.output
    assert sorted(path.name for path in tmp_path.iterdir()) == ["job.yaml", "job_routed.yaml"]
    assert CliRunner().invoke(commands, ["check", str(tmp_path / "job_routed.yaml")]).exit_code == 0


def test_ctrl_c_before_any_answer_writes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def pressed(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(worker, "find_paths", pressed)
    assert CliRunner().invoke(commands, ["route", str(spec_in(tmp_path))]).exit_code != 0
    assert [path.name for path in tmp_path.iterdir()] == ["job.yaml"]
