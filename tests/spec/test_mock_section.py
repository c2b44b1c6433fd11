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
        "  density: 1.27\n  weight: 800\n  plates: false\n  collector: true\n  cut_guides: true\n  saddles: true\n"
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
        saddles=True,
        weight=800.0,
        table=Plane((0.0, 0.0, -300.0), (0.0, 0.0, 1.0)),
        datums=(Datum("frame tab", (1.0, 50.8, 3.0), 8.5), Datum("rail", (4.0, 5.0, 6.0), 10.0)),
        without_key=(("primary 1", 1),),
        steel_after=(("primary 1", 1),),
    )
    assert draft_of(tmp_path, text).mock == wanted
    again = draft_of(tmp_path, full_text(tmp_path / "spec.yaml")).mock
    assert again is not None and again.lean == pytest.approx(wanted.lean, abs=1e-10)
    assert (
        again.table == wanted.table
        and again.without_key == again.steel_after == (("primary 1", 1),)
        and again.bed == wanted.bed
    )
    assert again.datums == wanted.datums and again.cut_guides and again.collector and again.weight == 800.0


@pytest.mark.parametrize(
    ("section", "path", "words"),
    [
        ("{bed: [220, 220]}", "mock.bed", "[x, y, height]"),
        ("{bed: [50, 220, 250]}", "mock.bed", "50 mm is too small: it must be at least 100 mm"),
        ("{bed: [220, 220, 60]}", "mock.bed", "60 mm is too small: it must be at least 80 mm"),
        ("{bed: [220, 1001, 250]}", "mock.bed", "1001 mm is too large: it must be at most 1000 mm"),
        ("{bed: [220, 50 in, 250]}", "mock.bed", "50 in"),
        ("{gap: 3}", "mock.gap", "3 mm is too large"),
        ("{wall: 1}", "mock.wall", "1 mm is too small"),
        ("{lean: 5}", "mock.lean", "a lean of less than 20 degrees"),
        ("{walls: 3}", "mock.walls", "walls is not a key here"),
        ("{table: {origin: [0, 0, 0], normal: [0, 0, 0]}}", "mock.table.normal", "has no direction"),
        ("{without_key: [{primary: 3, joint: 1}]}", "mock.without_key entry 1 primary", "there is no primary 3"),
        ("{steel_after: [{secondary: left, joint: 1}]}", "mock.steel_after entry 1 secondary", "no secondary left"),
        (
            "{steel_after: [{joint: 2}]}",
            "mock.steel_after entry 1",
            "a joint is of one tube: give primary or secondary",
        ),
        ("{without_key: [{primary: 1, secondary: left, joint: 1}]}", "mock.without_key entry 1", "and not both"),
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


PRINT = "bed: [300, 310, 400], gap: 0.3, wall: 2.5, spigot: 12"


def in_inches(section: str) -> str:
    """The same straight tube in inches."""
    return (
        "format: 1\njob: {title: Test, revision: A, date: 2026-03-14}\nunits: in\n"
        "tube: {outside_diameter: 1-5/8 in, wall: 0.065, material: 304L}\n"
        "flange:\n  plane: {origin: [0, 0, 0], normal: [0, 1, 0], x: [1, 0, 0]}\n  thickness: 0.375\n"
        "  ports:\n    1: {at: [0, 0], shape: {round: 1.5}}\n"
        "collectors:\n  main:\n    plane: {origin: [0, 8, 0], normal: [0, 1, 0], x: [1, 0, 0]}\n"
        "    join: weld\n    pattern: line\n    bores: [1]\n"
        f"primaries:\n  1:\n    - {{straight: 8}}\nmock: {{{section}}}\n"
    )


def test_sizes_of_the_print_are_millimetres_in_an_inch_file(tmp_path: Path) -> None:
    """Plain, they count in mm; with their unit, in that; places of the job stay in inches."""
    more = ", datums: [{name: rail, at: [1, 2, 3], hole: 0.5}]"
    made = draft_of(tmp_path, in_inches(PRINT + more)).mock
    assert made is not None and made.bed == (300.0, 310.0, 400.0)
    assert (made.gap, made.wall, made.spigot) == (0.3, 2.5, 12.0)
    assert made.datums == (Datum("rail", (25.4, 50.8, pytest.approx(76.2)), 12.7),)
    inches = draft_of(tmp_path, in_inches("bed: [10 in, 10 in, 12 in], spigot: 0.5 in")).mock
    assert inches is not None and inches.bed == pytest.approx((254.0, 254.0, 304.8)) and inches.spigot == 12.7


@pytest.mark.parametrize(
    ("section", "words", "hint"),
    [
        ("bed: [8.7, 8.7, 10]", "8.7 mm is too small: it must be at least 100 mm", "write 8.7 in"),
        ("gap: 0.01", "0.01 mm is too small: it must be at least 0.05 mm", "write 0.01 in"),
        ("wall: 0.1", "0.1 mm is too small", "write 0.1 in"),
        ("spigot: 0.5", "0.5 mm is too small", "write 0.5 in"),
        ("bed: [40 in, 220, 250]", "40 in", ""),
        ("bed: [5588, 220, 250]", "5588 mm is too large: it must be at most 1000 mm", ""),
    ],
)
def test_a_print_in_inches_without_a_unit_is_asked_about(section: str, words: str, hint: str, tmp_path: Path) -> None:
    complaints = complaints_of(tmp_path, in_inches(section))
    assert complaints and words in complaints[0].message and hint in complaints[0].hint
