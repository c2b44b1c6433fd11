"""Every broken spec in tests/bad_specs brings its one complaint: at the right place, in words of the workshop."""

from __future__ import annotations

import json
import re
from functools import cache
from pathlib import Path

import pytest
from bad_spec_cases import FOLDER, bad_specs, expected_of

from headergen.spec.complaint import Complaint, SpecError, complaint_text
from headergen.spec.mesh.load import load_meshes
from headergen.spec.reader import read_spec
from headergen.spec.schema import json_schema
from tests.lots import together

# Words that only somebody who knows the code or its libraries would understand.
FOREIGN = re.compile(
    r"Input should|pydantic|Entry\b|Error\b|Traceback|None\b|NoneType|\bdict\b|\btuple\b|\bstr\b|\bint\b"
)


@cache
def keys() -> set[str]:
    """Of the file, as its schema has them."""
    return set(re.findall(r"\w+", json.dumps(json_schema())))


@cache
def complaints_of(spec: Path) -> tuple[Complaint, ...]:
    with pytest.raises(SpecError) as raised:
        _, draft = read_spec(spec)
        load_meshes(spec, draft)
    return raised.value.complaints


@together("spec", bad_specs())
def test_a_broken_spec_brings_its_complaint(spec: Path) -> None:
    wanted = expected_of(spec)
    (complaint,) = complaints_of(spec)
    assert (complaint.line, complaint.column, complaint.byte) == (wanted.line, wanted.column, wanted.byte)
    assert Path(complaint.file).resolve() == wanted.file.resolve()
    assert wanted.phrase in complaint_text(complaint)


@together("spec", bad_specs())
def test_its_words_are_those_of_the_workshop(spec: Path) -> None:
    (complaint,) = complaints_of(spec)
    said = f"{complaint.path} {complaint.message} {complaint.hint}".replace(str(FOLDER), "")
    assert not FOREIGN.search(said)
    joined = set(re.findall(r"[a-z]+(?:_[a-z]+)+", said)) - {path.stem for path in FOLDER.glob("meshes/*")}
    assert joined <= keys()  # words joined by _ are keys of the file or nothing
    assert complaint.message[0].islower() or not complaint.message[0].isalpha()


@together("spec", bad_specs())
def test_it_is_shown_with_its_line_and_a_caret(spec: Path) -> None:
    (complaint,) = complaints_of(spec)
    head, *rest = complaint_text(complaint).split("\n")
    if complaint.byte is not None:
        assert head == f"{complaint.file}: byte {complaint.byte}: {complaint.message}"
    if complaint.column is None and complaint.byte is None:
        assert head == f"{complaint.file}:{complaint.line}: {complaint.message}"
    if complaint.column is None:
        assert_spec_is_named(spec, rest[0])
        return
    place = f"{complaint.file}:{complaint.line}:{complaint.column} {complaint.path}".rstrip()
    assert head == f"{place}: {complaint.message}"
    shown, caret = rest[:2]
    line = Path(complaint.file).read_bytes().decode("utf-8", "replace").split("\n")[(complaint.line or 0) - 1]
    assert shown == "    " + "".join(c if c.isprintable() else " " if c == "\t" else "\ufffd" for c in line)
    assert caret == " " * (4 + (complaint.column or 0) - 1) + "^"


def assert_spec_is_named(spec: Path, said: str) -> None:
    """Whoever reads of a broken mesh is told which line of the spec names it."""
    [(number, line)] = [
        (n, line) for n, line in enumerate(spec.read_text().splitlines(), 1) if "mesh: " in line and n > 1
    ]
    column = line.index("mesh: ") + len("mesh: ") + 1
    assert said == f"    named in {spec}:{number}:{column} chassis item 1 mesh"


def test_there_are_enough_of_them_and_each_is_small() -> None:
    assert len(bad_specs()) >= 30
    assert all(path.stat().st_size < 1500 for path in FOLDER.rglob("*") if path.is_file())
