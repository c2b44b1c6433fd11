"""What the sheet of the fit mock says of plates that stand on a table, and of joints that turn."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from headergen.model import CutGuide, Job, LocatingPlate, MockSettings, PlatePair, PrintedPart
from headergen.outputs.mock_sheet import MockFacts, write_mock_sheet


def sheet(tmp_path: Path, settings: MockSettings, *pairs: PlatePair) -> str:
    job = Job("Bogbean", "A", "2026-03-14")
    write_mock_sheet(tmp_path / "mock.md", MockFacts(job, 0, settings, (), 1, (), pairs))
    return (tmp_path / "mock.md").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("degrees", "words"),
    [
        (0.0, "Both stand square on the table"),
        (6.84, "6.8° from square to it, each on the lower side of its edge: L1 and L2 have different outlines."),
    ],
)
def test_plates_on_a_table(degrees: float, words: str, tmp_path: Path) -> None:
    one, two = (LocatingPlate(name, "main", (), (), 6.0, at) for name, at in (("L1", -30.0), ("L2", 40.0)))
    pair = PlatePair((one, two), 64.0, 40.0, 0.006, True, (), math.radians(degrees))
    text = sheet(tmp_path, MockSettings(), pair)
    assert words in text and ("square on the table" in text) == (degrees == 0.0)


def test_a_free_joint_is_read_clockwise_along_the_travel(tmp_path: Path) -> None:
    """As rotations are in the spec: right-hand positive about the travel."""
    text = sheet(tmp_path, MockSettings(without_key=(("primary 2", 2),)))
    assert "Free to turn: joint 2 of primary 2." in text and "clockwise positive looking along the travel" in text
    assert "Free to turn" not in sheet(tmp_path, MockSettings())


@pytest.mark.parametrize("units", ["mm", "in"])
def test_every_length_has_its_unit_and_the_jobs_comes_first(units: str, tmp_path: Path) -> None:
    one, two = (LocatingPlate(name, "main", (), (), 6.0, at) for name, at in (("L1", -25.4), ("L2", 40.0)))
    pair = PlatePair((one, two), 50.8, 12.7, 0.006, False, (), 0.0)
    cut = CutGuide("G1-1", "main", "mitre", 4, 25.4, 0.2, 38.1)
    part = PrintedPart("P1-2", ("primary 1",), (2, 3), (25.4, 50.8, 76.2), 1000.0, 10.0, 0.1, 1)
    facts = MockFacts(Job("Bogbean", "A", "2026-03-14"), 0, MockSettings(), (part,), 1, (), (pair,), (cut,))
    write_mock_sheet(tmp_path / "mock.md", replace(facts, units=units))
    text = (tmp_path / "mock.md").read_text(encoding="utf-8")
    for millimetres, inches in (("12.7 mm", "0.500 in"), ("50.8 mm", "2.000 in"), ("38.1 mm", "1.500 in")):
        first, second = (millimetres, inches) if units == "mm" else (inches, millimetres)
        assert f"{first} ({second})" in text, text
    bed = ["220 × 220 × 250 mm", "8.7 × 8.7 × 9.8 in"]
    first, second = bed if units == "mm" else reversed(bed)
    assert f"{first} ({second})" in text
    size = "25 × 51 × 76" if units == "mm" else "1.0 × 2.0 × 3.0"
    assert f"size on the bed, {units} |" in text and f"| {size} |" in text
    assert "| P1-2 | primary 1 | piece 2, piece 3 | 1 |" in text
