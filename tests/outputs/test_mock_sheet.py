"""What the sheet of the fit mock says of plates that stand on a table, and of joints that turn."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from headergen.model import Job, LocatingPlate, MockSettings, PlatePair
from headergen.outputs.mock_sheet import MockFacts, write_mock_sheet


def sheet(tmp_path: Path, settings: MockSettings, *pairs: PlatePair) -> str:
    job = Job("Bogbean", "A", "2026-03-14")
    write_mock_sheet(tmp_path / "mock.md", MockFacts(job, 0, settings, (), 1, (), pairs))
    return (tmp_path / "mock.md").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("degrees", "words"),
    [
        (0.0, "Both stand square on the table"),
        (6.84, "6.8° from square to it, each on the lower side of its edge: L1 and L2 are not of one outline."),
    ],
)
def test_plates_on_a_table(degrees: float, words: str, tmp_path: Path) -> None:
    one, two = (LocatingPlate(name, "main", (), (), 6.0, at) for name, at in (("L1", -30.0), ("L2", 40.0)))
    pair = PlatePair((one, two), 64.0, 40.0, 0.006, True, (), math.radians(degrees))
    text = sheet(tmp_path, MockSettings(), pair)
    assert words in text and ("square on the table" in text) == (degrees == 0.0)


def test_a_free_joint_is_read_clockwise_along_the_travel(tmp_path: Path) -> None:
    """As rotations are in the spec: right-hand positive about the travel."""
    text = sheet(tmp_path, MockSettings(without_key=((2, 2),)))
    assert "Free to turn: joint 2 of primary 2." in text and "clockwise positive seen along the travel" in text
    assert "Free to turn" not in sheet(tmp_path, MockSettings())
