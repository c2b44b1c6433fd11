"""Slips of the pen: each brings one sentence, at the place that is wrong, and nothing beside it that is not true."""

from __future__ import annotations

from pathlib import Path

import pytest
from small_spec import changed, complaints_of

from headergen.spec.mesh.obj import read_obj
from headergen.spec.mesh.raw import BrokenMeshError

STEPS = "    - {straight: 200}\n"
SLIPS = {
    "a number that is none": ("{straight: 200}", "{straight: .nan}", ".nan is no number", ""),
    "limits that cross": ("{straight: 200}", "{straight: {fit: 200, min: 210, max: 190}}", "min is more than max", ""),
    "a guess outside": (
        "{straight: 200}",
        "{straight: {fit: 200, min: 210}}",
        "more than the guess",
        "between min and",
    ),
    "a decimal comma in a point": ("[0, 200, 0]", "[0, 200,5, 0]", "the list has 4 values", "decimal point"),
    "find misspelt": (f"  1:\n{STEPS}", "  1: fnd\n", 'a path is required here, not "fnd"', "write find"),
    "yes for true": (f"  1:\n{STEPS}", "  1: {find: yes}\n", 'true is required here, not "yes"', "write true"),
    "points from the bore": (
        STEPS.rstrip("\n"),
        "    radius: 60\n    points: [[0, 200, 0], [0, 0, 0]]",
        "200 mm from the middle of port 1",
        "the other way round, from port to bore",
    ),
}


@pytest.mark.parametrize("name", SLIPS)
def test_a_slip_is_said_once_and_truly(name: str, tmp_path: Path) -> None:
    old, new, words, hint = SLIPS[name]
    said = complaints_of(tmp_path, changed((old, new)))
    at_points = [each for each in said if "first leg" not in each.message]
    assert len(at_points) == 1 and words in at_points[0].message and hint in at_points[0].hint, said
    assert at_points[0].line and at_points[0].column


@pytest.mark.parametrize(
    ("item", "words"),
    [
        ("header: spec.yaml", "spec.yaml is this file itself"),
        ("header: ./spec.yaml", "./spec.yaml is this file itself"),
        ('mesh: ""', "the text is empty"),
        ("mesh: scan.gltf", "is glTF as text, which is not read"),
    ],
)
def test_a_file_in_the_chassis_that_cannot_be(item: str, words: str, tmp_path: Path) -> None:
    (tmp_path / "scan.gltf").write_text("{}", encoding="utf-8")
    (said,) = complaints_of(tmp_path, changed(end=f"chassis:\n  - {{name: rail, {item}, clearance: 5}}\n"))
    assert words in said.message and (said.hint or "empty" in words)


def test_a_bank_that_mirrors_itself(tmp_path: Path) -> None:
    bank = "bank: {offset: 10, way: staggered, keep: []}\n"
    text = f"format: 1\nmirror_of: spec.yaml\njob: {{title: T, revision: A, date: 2026-03-14}}\nunits: mm\n{bank}"
    (said,) = complaints_of(tmp_path, text)
    assert "spec.yaml is this file itself" in said.message and said.line == 2


def test_a_binary_file_is_no_utf_16_text(tmp_path: Path) -> None:
    """An STL's head may be all zeros."""
    for content in (bytes(84) + bytes(range(200)), b"solid".ljust(80) + bytes(54)):
        (said,) = complaints_of(tmp_path, content)
        assert said.message == "the file is not text" and "headergen mesh" in said.hint


def test_a_face_of_an_obj_that_names_no_corner_is_found_by_its_line() -> None:
    cases = (b"f 1 2 9", "9, and the file has 3"), (b"f 1/1 2/2 9/1", "9, and"), (b"f -1 -2 -7", "-7, and there are 3")
    for face, words in cases:
        with pytest.raises(BrokenMeshError) as caught:
            read_obj(b"# made\nv 0 0 0\nv 9 0 0\n\nv 0 9 0\n" + face + b"\n")
        assert caught.value.line == 6 and f"corner {words}" in str(caught.value.message)
