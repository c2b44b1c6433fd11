"""What a result was made from: every file behind it, through any chain of specs that name each other."""

from __future__ import annotations

import hashlib
import sys
from pathlib import Path
from typing import Any

import pytest
import trimesh
from click.testing import CliRunner

from headergen.build import inputs_of
from headergen.commands.line import commands
from headergen.outputs.folder import Manifest, write_manifest
from headergen.pipeline import check
from tests.spec.small_spec import changed

SHELF = "units: mm\nbends:\n  - {radius: 63.5, angle: 90, legs: [60, 60]}\n"
BANK = """\
format: 1
mirror_of: {first}
job: {{title: Other, revision: A, date: 2026-03-14}}
units: mm
bank: {{offset: 20, way: staggered, mirror: {{origin: [0, -300, 0]}}, {items}}}
"""
OPENED: list[Path] = []
LISTENS = [False]


def _hear(event: str, args: tuple[Any, ...]) -> None:
    if LISTENS[0] and event == "open" and isinstance(args[0], str):
        OPENED.append(Path(args[0]).resolve())


sys.addaudithook(_hear)  # of the interpreter; it cannot be taken away again, so it listens only when asked


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A bank with kept scan that mirrors `first`, beside a header that mirrors `third`; each names a shelf."""
    for folder in ("job", "left", "far", "shelf", "scans"):
        (tmp_path / folder).mkdir()
    for name in ("one", "two"):
        (tmp_path / "shelf" / f"{name}.yaml").write_text(SHELF, encoding="utf-8")
    rail = trimesh.creation.box((300, 40, 40), trimesh.transformations.translation_matrix((0, 100, 200)))
    rail.export(tmp_path / "scans" / "rail.stl")
    scan = "chassis: [{name: rail, mesh: ../scans/rail.stl, units: mm, clearance: 5}]\n"
    (tmp_path / "left" / "first.yaml").write_text(changed(end=f"stock: ../shelf/one.yaml\n{scan}"), encoding="utf-8")
    (tmp_path / "far" / "third.yaml").write_text(changed(end="stock: ../shelf/two.yaml\n"), encoding="utf-8")
    around = "chassis: [{name: beyond, header: ../left/other.yaml, clearance: 5}]\n"
    (tmp_path / "left" / "other.yaml").write_text(BANK.format(first="../far/third.yaml", items="keep: []"))
    spec = tmp_path / "job" / "spec.yaml"
    spec.write_text(BANK.format(first="../left/first.yaml", items="keep: [rail]") + around, encoding="utf-8")
    return spec


def test_every_file_that_is_read_is_accounted_for(job: Path) -> None:
    """Whatever a check opens beneath the folder stands among the inputs, with the hash of what is on disk."""
    OPENED.clear()
    LISTENS[0] = True
    try:
        result = check(job).result
    finally:
        LISTENS[0] = False
    root = job.parents[1]
    opened = {path for path in OPENED if path.is_relative_to(root)}
    assert len(opened) == 7, "the spec, three others, two shelves and a scan"
    inputs = {(job.parent / name).resolve(): sha for name, sha in inputs_of(job, result).items()}
    assert set(inputs) == opened
    for path, sha in inputs.items():
        assert sha == hashlib.sha256(path.read_bytes()).hexdigest()


@pytest.mark.slow
def test_a_change_in_any_of_them_makes_the_result_an_old_one(job: Path) -> None:
    old, run = "was made from another state of this spec", CliRunner()
    target = job.parent / "out" / "spec"
    target.mkdir(parents=True)
    write_manifest(target, Manifest(inputs_of(job, check(job).result), (), "1", "clean"))
    arguments = ["check", str(job), "--out", str(job.parent / "out")]
    assert old not in run.invoke(commands, arguments).output
    for path in sorted(job.parents[1].glob("*/*.yaml")):
        before = path.read_bytes()
        path.write_bytes(before + b"# changed\n")
        assert old in run.invoke(commands, arguments).output, path
        path.write_bytes(before)
