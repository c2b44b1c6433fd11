"""Both pages stay small enough for a phone with a scan of 100 000 triangles as chassis, and say it is thinned."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
import yaml

from headergen.checks.sign_off import sign_off
from headergen.jobs.pages import make_pages, make_report_page, measured_meshes
from headergen.pipeline import check, evidence
from tests.cli.calls import run

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))
from made_scan import scan

ROOT = Path(__file__).parents[2]
DEMOS = ("bogbean", "withybed", "glasswort_left")
TRIANGLES = 100_000
MOST = {"preview.html": 3_000_000, "report.html": 5_000_000}
RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])  # of a binary STL


def with_scan(name: str, folder: Path) -> Path:
    """A demo with a noisy, holed scan below it: no two of its triangles are in one plane."""
    records = np.zeros(TRIANGLES, RECORD)
    records["corners"] = scan(TRIANGLES, below=700.0)
    stl = folder / "scan.stl"
    stl.write_bytes(bytes(80) + np.array([TRIANGLES], "<u4").tobytes() + records.tobytes())
    content = yaml.safe_load((ROOT / "specs" / f"{name}.yaml").read_text(encoding="utf-8"))
    beside = {"mesh", "stock"}  # files that the spec names
    for entry in (content, *content["chassis"]):
        entry |= {key: str(ROOT / "specs" / value) for key, value in entry.items() if key in beside}
    content["chassis"].append({"name": "scan", "mesh": "scan.stl", "units": "mm", "clearance": "5 mm"})
    spec = folder / f"{name}.yaml"
    spec.write_text(yaml.safe_dump(content, sort_keys=False), encoding="utf-8")
    return spec


def sizes_hold(folder: Path) -> None:
    for name, most in MOST.items():
        assert (folder / name).stat().st_size <= most, name
    assert "are thinned for this page" in (folder / "report.html").read_text(encoding="utf-8")
    assert "shapes shown are thinned" in (folder / "preview.html").read_text(encoding="utf-8")


@pytest.mark.slow
def test_pages_of_a_header_that_is_only_measured(tmp_path: Path) -> None:
    spec = with_scan("withybed", tmp_path)
    checked = check(spec)
    assert [mesh.content.triangles for mesh in checked.result.survey.meshes if mesh.item == "scan"] == [TRIANGLES]
    shown = measured_meshes(checked.result, checked.meshes)
    assert any(each.name == "scan" and len(each.mesh.faces) > 1000 for each in shown), "it is there"
    seen = (shown, None, "1.0")
    make_pages(tmp_path, (sign_off(checked.result, checked.signature), None), checked.result, seen)
    make_report_page(tmp_path, checked.result, evidence(spec, checked), seen)
    sizes_hold(tmp_path)


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize("name", DEMOS)
def test_pages_of_a_whole_build(name: str, tmp_path: Path) -> None:
    done = run("build", with_scan(name, tmp_path), "--out", tmp_path / "out")
    assert done.returncode in (0, 1), done.stderr
    sizes_hold(tmp_path / "out" / name)
