"""A boss and a bracket on runs, from an outlet and from a port: seated, made, drilled; the other bank has them too."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest

from headergen.checks.judge import judge
from headergen.geometry.merge.design import merge_of
from headergen.model import Header
from headergen.pipeline import check, settle
from headergen.solids.assembly import named_solids
from headergen.solids.inspect import measure
from headergen.solids.shapes import fused, shared
from headergen.spec.writer import spec_text

SPEC = """
format: 1
job: {title: Parts on runs, revision: A, date: 2026-09-01}
units: mm
tube: {outside_diameter: 42.4, wall: 1.5, material: 304L}
flange:
  plane: {origin: [0, 0, 0], normal: [0, 1, 0], x: [1, 0, 0]}
  thickness: 10
  ports:
    1: {at: [0, 0], shape: {round: 38}}
    2: {at: [46, 0], shape: {round: 38}}
    3: {at: [120, 0], shape: {round: 38}}
collectors:
  main:
    plane: {origin: [23, 200, 0], normal: [0, 1, 0], x: [1, 0, 0]}
    join: weld
    pattern: line
    pitch: 46
    bores: [1, 2]
    half_angle: 12
    outlet: 50.8
    outlet_length: 30
primaries:
  1: [{straight: 200}]
  2: [{straight: 200}]
runs:
  tail: {from: main, to: {at: [23, 700, 0], along: [0, 1, 0]}, path: [{straight: {fit: 400}}]}
  relief: {from: 3, to: {at: [120, 700, 0], along: [0, 1, 0]}, path: [{straight: 700}]}
bosses:
  - {name: lambda, secondary: main, at: 60, clock: 0}
  - {name: probe, primary: 3, at: 300, clock: 60, kind: plain}
brackets:
  - {name: stay, between: [{secondary: main, at: 150}, {primary: 3, at: PLACE}], length: 40, hole: 16}
limits: {between_tubes: 3, together: 210}
"""


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The bracket's second foot is as far from the flange as its first."""
    folder = tmp_path_factory.mktemp("runs")
    (folder / "first.yaml").write_text(SPEC.replace("PLACE", "500"), encoding="utf-8")
    draft = settle(folder / "first.yaml").draft
    end = merge_of(draft.tube, draft.collectors[0]).end
    (folder / "job.yaml").write_text(SPEC.replace("PLACE", f"{200 + end + 150:.6f}"), encoding="utf-8")
    return folder / "job.yaml"


@pytest.fixture(scope="module")
def solids(path: Path) -> dict[str, Any]:
    return {name: each.wrapped for name, each in named_solids(settle(path)).items()}


def test_they_are_clear_and_made(path: Path, solids: dict[str, Any]) -> None:
    result = check(path).result
    errors = [finding for finding in judge(result.survey) if finding.level == "error"]
    assert [finding.message for finding in errors] == []
    assert {"boss lambda M18x1.5", "boss probe", "bracket stay", "secondary main", "primary 3"} <= set(solids)


def test_a_boss_stands_on_its_run_and_its_hole_goes_through_the_wall(path: Path, solids: dict[str, Any]) -> None:
    """The tube's metal is a ring's less the hole's: a drill of radius a through a wall r..R, on one side."""
    header = settle(path)
    for boss, run, wide in (("lambda M18x1.5", "secondary main", 50.8), ("probe", "primary 3", 42.4)):
        made = solids[f"boss {boss}"]
        assert measure(shared(made, solids[run])).volume < 1e-3
        assert measure(fused([made, solids[run]])).shells == 1
        line = next(line for each, line in header.tubes if each.name == run)
        length = line.length - (2.0 if run == "primary 3" else 0.0)  # the setback in the plate
        inner = wide / 2 - 1.5
        full = math.pi * ((wide / 2) ** 2 - inner**2) * length
        drilled = full - measure(solids[run]).volume
        # the kernel's volume of a drilled tube is good to a hundred-thousandth of the whole
        through = _through_wall(16.5 / 2, wide / 2, inner)
        assert drilled == pytest.approx(through, abs=2e-5 * full) and 2e-5 * full < 0.01 * through, run


def _through_wall(drill: float, outer: float, inner: float) -> float:
    """Volume between two cylinders within a drill square to their axis: ∫ 2·√(a² − x²)·(√(R² − x²) − √(r² − x²)) dx."""
    steps = 20000
    step = 2 * drill / steps
    places = [-drill + (k + 0.5) * step for k in range(steps)]
    return step * sum(
        2 * math.sqrt(drill**2 - x * x) * (math.sqrt(outer**2 - x * x) - math.sqrt(inner**2 - x * x)) for x in places
    )


def test_a_bracket_stands_between_two_runs(path: Path, solids: dict[str, Any]) -> None:
    made = solids["bracket stay"]
    for run in ("secondary main", "primary 3"):
        assert measure(shared(made, solids[run])).volume < 1e-3
    assert measure(fused([solids["secondary main"], made, solids["primary 3"]])).shells == 1, "it reaches both"
    # 97 mm between the middles, less both radii, 40 long and 3 thick, less a hole of 16: the feet are coped
    flat = (97.0 - 25.4 - 21.2) * 40.0 * 3.0 - math.pi * 8.0**2 * 3.0
    assert measure(made).volume == pytest.approx(flat, rel=0.01)


def test_a_spec_written_in_full_has_them_on_the_same_runs(path: Path, tmp_path: Path) -> None:
    header = settle(path)
    (tmp_path / "again.yaml").write_text(spec_text(header), encoding="utf-8")
    again: Header = settle(tmp_path / "again.yaml")
    assert [each.host for each in again.draft.bosses] == ["secondary main", "primary 3"]
    assert again.draft.fitted == header.draft.fitted


def test_the_other_bank_has_them_on_its_own_runs(path: Path, tmp_path: Path) -> None:
    (tmp_path / "job.yaml").write_text(path.read_text(encoding="utf-8"), encoding="utf-8")
    other = tmp_path / "other.yaml"
    other.write_text(
        "format: 1\njob: {title: Other bank, revision: A, date: 2026-09-01}\nmirror_of: job.yaml\n"
        "units: mm\nbank: {offset: 0, way: staggered}\n",
        encoding="utf-8",
    )
    mirrored = settle(other).draft
    assert [each.host for each in mirrored.bosses] == ["secondary main", "primary 3"]
    assert [run.name for run in mirrored.runs] == ["primary 1", "primary 2", "primary 3", "secondary main"]
