"""What a spec may say about its fit mock, and the complaints."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from small_spec import changed, complaints_of, draft_of

from headergen.model import Datum, MockSettings, Plane
from headergen.pipeline import full_text


def mock(section: str) -> str:
    return changed(end=f"mock: {section}\n")


def test_none_is_asked_for_by_default(tmp_path: Path) -> None:
    assert draft_of(tmp_path, changed()).mock is None
    assert draft_of(tmp_path, mock("{}")).mock == MockSettings()


def test_every_value_arrives_and_is_written_out_again(tmp_path: Path) -> None:
    text = changed(("- {straight: 200}", "- {straight: 150}\n    - {straight: 50}")) + (
        "mock:\n  bed: [300, 10 in, 400]\n  gap: 0.3\n  wall: 2.5\n  spigot: 12\n  lean: 45\n  flange: false\n"
        "  density: 1.27\n  weight: 800\n  plates: false\n  collector: true\n  cut_guides: true\n"
        "  table: {origin: [0, 0, -300], normal: [0, 0, 2]}\n"
        "  datums: [{name: frame tab, at: [1, 2 in, 3]}, {name: rail, at: [4, 5, 6], hole: 10}]\n"
        "  without_key: [{primary: 1, joint: 1}]\n  steel_after: [{primary: 1, joint: 1}]\n"
    )
    wanted = MockSettings(
        bed=(300.0, 254.0, 400.0),
        gap=0.3,
        wall=2.5,
        spigot=12.0,
        lean=math.radians(45),
        flange=False,
        density=1.27,
        plates=False,
        collector=True,
        cut_guides=True,
        weight=800.0,
        table=Plane((0.0, 0.0, -300.0), (0.0, 0.0, 1.0)),
        datums=(Datum("frame tab", (1.0, 50.8, 3.0), 8.5), Datum("rail", (4.0, 5.0, 6.0), 10.0)),
        without_key=((1, 1),),
        steel_after=((1, 1),),
    )
    assert draft_of(tmp_path, text).mock == wanted
    again = draft_of(tmp_path, full_text(tmp_path / "spec.yaml")).mock
    assert again is not None and again.lean == pytest.approx(wanted.lean, abs=1e-10)
    assert (
        again.table == wanted.table and again.without_key == again.steel_after == ((1, 1),) and again.bed == wanted.bed
    )
    assert again.datums == wanted.datums and again.cut_guides and again.collector and again.weight == 800.0


@pytest.mark.parametrize(
    ("section", "path", "words"),
    [
        ("{bed: [220, 220]}", "mock.bed", "three sizes"),
        ("{bed: [50, 220, 250]}", "mock.bed", "a bed of less than 100 mm is too small"),
        ("{gap: 3}", "mock.gap", "3 mm is too much"),
        ("{wall: 1}", "mock.wall", "1 mm is too little"),
        ("{lean: 5}", "mock.lean", "a lean of less than 20 degrees"),
        ("{walls: 3}", "mock.walls", "walls is not a key here"),
        ("{table: {origin: [0, 0, 0], normal: [0, 0, 0]}}", "mock.table.normal", "has no direction"),
        ("{without_key: [{primary: 3, joint: 1}]}", "mock.without_key entry 1 primary", "there is no primary 3"),
        ("{steel_after: [{primary: 1, joint: 2}]}", "mock.steel_after entry 1 joint", "1 piece, so no joint 2"),
        ("{without_key: [{primary: 1, joint: 1}]}", "mock.without_key entry 1 joint", "1 piece, so no joint 1"),
        (
            "{datums: [{name: rail, at: [1, 2, 3]}, {name: Rail, at: [4, 5, 6]}]}",
            "mock.datums value 2 name",
            "another datum is called Rail as well",
        ),
    ],
)
def test_what_is_wrong_is_said(section: str, path: str, words: str, tmp_path: Path) -> None:
    [complaint] = complaints_of(tmp_path, mock(section))
    assert words in complaint.message
    assert complaint.path.startswith(path) and complaint.line == 19


@pytest.mark.parametrize("key", ["without_key", "steel_after"])
def test_a_joint_is_listed_once(key: str, tmp_path: Path) -> None:
    """Two plugs of one name would have one file, and one place on the plate."""
    joints = "{primary: 1, joint: 1}, {primary: 1, joint: 1}"
    text = changed(
        ("- {straight: 200}", "- {straight: 150}\n    - {straight: 50}"), end=f"mock: {{{key}: [{joints}]}}\n"
    )
    [complaint] = complaints_of(tmp_path, text)
    assert complaint.message == "joint 1 of primary 1 is listed twice"
    assert complaint.path.startswith(f"mock.{key} entry 2") and complaint.line == 20
