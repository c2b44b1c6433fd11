"""Slips at the command line: wrong folders and endings, and figures that are printed with their unit."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from headergen.commands.line import commands
from tests.spec.small_spec import SMALL, changed

TRIANGLE = np.array([[0, 0, 0], [400, 0, 0], [0, 400, 0]], "<f4")


def invoke(*arguments: object) -> Result:
    return CliRunner().invoke(commands, [str(each) for each in arguments])


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "job.yaml").write_text(SMALL, encoding="utf-8")
    head = bytes(80) + b"\1\0\0\0" + bytes(12)
    (tmp_path / "scan.stl").write_bytes(head + TRIANGLE.tobytes() + bytes(2))
    return tmp_path


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (["route", "."], 3, "is a folder, not a file"),
        (["resolve", "job.yaml", "--to", "none/full.yaml"], 2, "there is no folder none; make it first"),
        (["mesh", "scan.stl", "--picture", "scan.jpg"], 2, "give the file the ending .png"),
        (["mesh", "scan.gltf"], 3, "export it as one GLB file"),
        (["mesh", "scan.stl", "--beside", "scan.stl"], 3, "the file is not text"),
    ],
)
def test_wrong_files_and_folders_are_named(here: Path, arguments: list[str], code: int, said: str) -> None:
    (here / "scan.gltf").write_text("{}", encoding="utf-8")
    done = invoke(*arguments)
    assert (done.exit_code, said in done.output) == (code, True), done.output
    assert "itself is at fault" not in done.output and not (here / "scan.jpg").exists()


def test_sizes_of_a_mesh_are_no_powers_of_ten(here: Path) -> None:
    said = invoke("mesh", "scan.stl", "--beside", "job.yaml").output
    assert "in m : 400000 × 400000 × 0 mm" in said and not re.search(r"\de\+\d", said)


@pytest.mark.parametrize("units", ["mm", "in"])
def test_banks_are_compared_in_the_units_of_the_job(here: Path, units: str) -> None:
    """The tube is 200 mm long either way; the second stands 10 mm to its right, and has a fellow less."""
    sized = [("units: mm", "units: in")] if units == "in" else []
    text = changed()
    for key, least in (("outside_diameter: ", 42.4), ("wall: ", 1.5), ("thickness: ", 10), ("round: ", 38)):
        text = text.replace(f"{key}{least}", f"{key}{least} mm")
    text = text.replace("[0, 200, 0]", "[0 mm, 200 mm, 0 mm]").replace("straight: 200", "straight: 200 mm")
    for old, new in sized:
        text = text.replace(old, new)
    (here / "one.yaml").write_text(text, encoding="utf-8")
    moved = text.replace("origin: [0, 0, 0]", "origin: [10 mm, 0 mm, 0 mm]").replace("[0 mm, 200", "[10 mm, 200")
    (here / "two.yaml").write_text(moved, encoding="utf-8")
    done = invoke("banks", "one.yaml", "two.yaml")
    length, off = ("200.00 mm", "+10.00 mm") if units == "mm" else ("7.8740 in", "+0.3937 in")
    assert done.exit_code == 0, done.output
    assert f"{length} and {length} long" in done.output and f"{off} forward" in done.output
    assert ("mm" in done.output) == (units == "mm") and "they cross" in done.output


def test_what_has_no_fellow_in_the_other_bank_is_named(here: Path) -> None:
    more = changed(
        ("    1: {at: [0, 0], shape: {round: 38}}\n", "    1: {at: [0, 0], shape: {round: 38}}\n"
         "    2: {at: [90, 0], shape: {round: 38}}\n"),
        ("bores: [1]\n", "bores: [1]\n  aft:\n    plane: {origin: [90, 200, 0], normal: [0, 1, 0], x: [1, 0, 0]}\n"
         "    join: weld\n    pattern: line\n    bores: [2]\n"),
        end="  2:\n    - {straight: 200}\n",
    )  # fmt: skip
    (here / "more.yaml").write_text(more, encoding="utf-8")
    said = invoke("banks", "job.yaml", "more.yaml").output
    assert "Primary 2 is in the second bank only" in said and "Collector aft is in the second bank only" in said
    said = invoke("banks", "more.yaml", "job.yaml").output
    assert "Primary 2 is in the first bank only" in said and "Collector aft is in the first bank only" in said
