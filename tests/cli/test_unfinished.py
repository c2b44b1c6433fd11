"""`check` of a spec with paths still to be found: all that is there is checked, and what was not is an error."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from headergen.pipeline import check_what_is_there
from tests.cli.calls import called

SPEC = """\
format: 1
job: {title: Test, revision: A, date: 2026-03-14}
units: mm
tube: {outside_diameter: 42.4, wall: 1.5, material: 304L}
flange:
  plane: {origin: [0, 0, 0], normal: [0, 1, 0], x: [1, 0, 0]}
  thickness: 10
  ports:
    {1: {at: [0, 0], shape: {round: 38}}, 2: {at: [60, 0], shape: {round: 38}}, 3: {at: [PLACE, 0], shape: {round: 38}}}
collectors:
  main: {join: weld, pattern: [[-60, 0], [0, 0], [60, 0]], bores: [1, 2, 3], half_angle: 12, outlet: 60.3,
    outlet_length: 60, plane: {origin: [60, 200, 0], normal: [0, 1, 0], x: [1, 0, 0]}}
bosses: [{name: oxygen sensor, collector: main, at: 30, clock: 90}, {name: probe, primary: 3, at: 90, clock: 90}]
runs:
  over: {leaves: {run: 1, at: 100, along: [1, 0, 0]}, joins: {run: 2, at: 100, along: [1, 0, 0]},
    path: [{straight: 60}], tube: {outside_diameter: 20, wall: 1.5}}
primaries: {1: FIRST, 2: [{straight: 200}], 3: THIRD}
chassis: [{name: rail, box: {center: [60, 100, 40], size: [10, 10, 10]}, clearance: HIGH}]
"""
GIVEN = "[{straight: 200}]"


def written(folder: Path, *, first: str = GIVEN, third: str = "find", place: str = "120", high: str = "5") -> Path:
    text = SPEC.replace("FIRST", first).replace("THIRD", third).replace("PLACE", place).replace("HIGH", high)
    path = folder / "job.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def said(path: Path) -> dict[str, str]:
    return {finding.rule: finding.message for finding in check_what_is_there(path).result.findings}


def test_what_has_no_path_is_an_error_with_its_remedy(tmp_path: Path) -> None:
    path = written(tmp_path)
    done = called("check", path)
    text = " ".join(done.stdout.split())
    assert done.returncode == 1 and "NOT CLEARED" in text
    assert "Primary 3 is not checked: it has no path yet" in text and f"run headergen route {path}" in text


def test_the_tubes_that_are_there_are_measured(tmp_path: Path) -> None:
    """The rail is 40 − 5 − 21.2 mm from primary 2, and what is required is more."""
    result = check_what_is_there(written(tmp_path, high="20")).result
    (gap,) = (gap for gap in result.survey.gaps if {gap.a, gap.b} == {"primary 2", "rail"})
    assert gap.value == pytest.approx(13.8)
    assert {"gap-chassis", "path-missing"} <= {each.rule for each in result.findings if each.level == "error"}


def test_ports_and_plate_are_judged_without_any_path(tmp_path: Path) -> None:
    """Two ports 40 mm apart run into each other."""
    path = written(tmp_path, first="find", place="100")
    path.write_text(path.read_text(encoding="utf-8").replace("2: [{straight: 200}]", "2: find"), encoding="utf-8")
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace(text[text.index("runs:") : text.index("primaries:")], ""), encoding="utf-8")
    found = said(path)
    assert "Primary 1, primary 2 and primary 3 are not checked" in found["path-missing"]
    assert any(rule.startswith("plate") for rule in found)


def test_what_stands_on_it_goes_with_it(tmp_path: Path) -> None:
    header = check_what_is_there(written(tmp_path)).result.header
    assert [run.name for run in header.runs] == ["primary 1", "primary 2", "secondary over"]
    assert [boss.name for boss in header.draft.bosses] == ["oxygen sensor"]


def test_nothing_is_said_that_needs_all_of_them(tmp_path: Path) -> None:
    """The sensor would seem to have two cylinders of three."""
    assert "sensor-sees" not in said(written(tmp_path))


def test_a_whole_spec_is_checked_as_before(tmp_path: Path) -> None:
    assert "path-missing" not in said(written(tmp_path, third=GIVEN))


def test_the_report_and_the_tables_are_written(tmp_path: Path) -> None:
    for first in (GIVEN, "find"):
        path = written(tmp_path, first=first)
        if first == "find":
            text = path.read_text(encoding="utf-8").replace("2: [{straight: 200}]", "2: find")
            path.write_text(text.replace(text[text.index("runs:") : text.index("primaries:")], ""), encoding="utf-8")
        done = called("check", path, "--table", "--report", tmp_path / "report")
        assert done.returncode == 1 and "at fault" not in done.stdout + done.stderr
        report = json.loads((tmp_path / "report" / "report.json").read_text(encoding="utf-8"))
        assert "path-missing" in [finding["rule"] for finding in report["findings"]]
        assert (tmp_path / "report" / "report.html").exists()


def test_build_needs_every_path(tmp_path: Path) -> None:
    done = called("build", written(tmp_path), "--out", tmp_path / "out")
    assert done.returncode == 3 and "the path of primary 3 is still to be found" in done.stderr
    assert not (tmp_path / "out" / "job").exists()
