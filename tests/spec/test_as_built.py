"""What is half built belongs to the tubes of one bank: the other bank has its own, or none."""

from __future__ import annotations

from pathlib import Path

import pytest

from headergen.pipeline import settle
from headergen.spec.complaint import SpecError
from headergen.spec.reader import read_spec
from headergen.spec.writer import spec_text
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


ROOT = Path(__file__).resolve().parents[2]
BULRUSH = (ROOT / "specs" / "bulrush.yaml").read_text(encoding="utf-8").replace("../shared", f"{ROOT}/shared")


@pytest.mark.parametrize("tube", ["run: tail", "secondary: main"])
def test_a_run_has_either_of_its_names_and_is_written_under_its_own(tube: str, tmp_path: Path) -> None:
    (tmp_path / "half.yaml").write_text(BULRUSH + f"as_built: [{{{tube}, welded: [0, 1]}}]\n", encoding="utf-8")
    header = settle(tmp_path / "half.yaml")
    [built] = header.draft.as_built
    run = header.run(built.run)
    assert run.end.collector == "tail" and built.welded == (0, 1)
    again = tmp_path / "again.yaml"
    again.write_text(spec_text(header), encoding="utf-8")
    assert 'run: "tail"' in again.read_text(encoding="utf-8")
    assert settle(again).draft.as_built == header.draft.as_built


FROM_A_PORT = """\
format: 1
job: {title: Test, revision: A, date: 2026-03-14}
units: mm
tube: {outside_diameter: 42.4, wall: 1.5, material: 304L}
flange:
  plane: {origin: [0, 0, 0], normal: [0, 1, 0], x: [1, 0, 0]}
  thickness: 10
  ports: {1: {at: [0, 0], shape: {round: 38}}}
runs:
  stack: {from: 1, to: {at: [0, 200, 0], along: [0, 1, 0]}, path: [{straight: 200}]}
as_built:
"""


def test_a_run_from_a_port_is_a_primary(tmp_path: Path) -> None:
    path = tmp_path / "stack.yaml"
    path.write_text(FROM_A_PORT + "  - {run: stack, welded: [0]}\n", encoding="utf-8")
    assert [each.run for each in read_spec(path)[1].as_built] == ["primary 1"]


def test_one_tube_under_two_names_is_listed_twice(tmp_path: Path) -> None:
    path = tmp_path / "stack.yaml"
    path.write_text(FROM_A_PORT + "  - {run: stack, welded: [0]}\n  - {primary: 1, cut: [1]}\n", encoding="utf-8")
    with pytest.raises(SpecError) as raised:
        read_spec(path)
    [complaint] = raised.value.complaints
    assert (complaint.line, complaint.message) == (13, "primary 1 is listed already")


@pytest.mark.parametrize(
    ("name", "said"),
    [("trail", "there is no run trail here"), ("balance", "run balance stands on the side of another run")],
)
def test_runs_of_the_other_bank_are_asked_for_as_well(name: str, said: str, tmp_path: Path) -> None:
    first = (ROOT / "specs" / "guide_crossover.yaml").read_text(encoding="utf-8").replace("../shared", f"{ROOT}/shared")
    (tmp_path / "first.yaml").write_text(first, encoding="utf-8")
    path = tmp_path / "other.yaml"
    path.write_text(OTHER.replace(", left_out: [LEFT]", "") + f"as_built: [{{run: {name}}}]\n", encoding="utf-8")
    with pytest.raises(SpecError) as raised:
        read_spec(path)
    assert said in " ".join(each.message for each in raised.value.complaints)
