"""What is half built belongs to the tubes of one bank: the other bank has its own, or none."""

from __future__ import annotations

from pathlib import Path

import pytest

from headergen.spec.complaint import SpecError
from headergen.spec.reader import read_spec
from tests.spec.small_spec import SMALL

OTHER = """\
format: 1
mirror_of: first.yaml
job: {title: Other, revision: A, date: 2026-02-03}
units: mm
bank: {offset: 0, way: staggered, left_out: [LEFT]}
"""
BUILT = "as_built: [{primary: 1, welded: [0]}]\n"


def other_bank(folder: Path, more: str) -> Path:
    (folder / "first.yaml").write_text(SMALL + BUILT, encoding="utf-8")
    _, first = read_spec(folder / "first.yaml")
    assert [each.run for each in first.as_built] == ["primary 1"]
    names = ", ".join(item.name for item in first.chassis)
    (folder / "other.yaml").write_text(OTHER.replace("LEFT", names) + more, encoding="utf-8")
    return folder / "other.yaml"


@pytest.mark.parametrize(("more", "runs"), [("", []), (BUILT, ["primary 1"])])
def test_the_other_bank_has_its_own(more: str, runs: list[str], tmp_path: Path) -> None:
    _, other = read_spec(other_bank(tmp_path, more))
    assert [each.run for each in other.as_built] == runs


def test_a_tube_that_the_other_bank_does_not_have_is_named(tmp_path: Path) -> None:
    with pytest.raises(SpecError) as raised:
        read_spec(other_bank(tmp_path, BUILT.replace("primary: 1", "primary: 9")))
    [complaint] = raised.value.complaints
    assert (complaint.line, complaint.column) == (6, 22)
    assert complaint.message == "the first bank has no primary 9"
