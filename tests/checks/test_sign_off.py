"""What a customer signs for, and what is said when the spec is no longer that; expected values are by hand."""

from __future__ import annotations

import json
from dataclasses import asdict, replace
from pathlib import Path

import pytest
from pydantic import TypeAdapter

from headergen.checks.sign_off import differences, sign_off, signed_findings
from headergen.model.sign_off import HASH_LETTERS, SignOff
from headergen.pipeline import against_signed, check, settle
from headergen.spec.signature import signature

SPECS = Path(__file__).parents[2] / "specs"


def spec_with(folder: Path, *changes: tuple[str, str]) -> Path:
    text = (SPECS / "bogbean.yaml").read_text(encoding="utf-8").replace("../shared", str(SPECS.parent / "shared"))
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    path = folder / "bogbean.yaml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def facts(tmp_path_factory: pytest.TempPathFactory) -> SignOff:
    checked = check(spec_with(tmp_path_factory.mktemp("as_it_is")))
    return sign_off(checked.result, checked.signature)


def test_the_facts_are_those_of_the_spec(facts: SignOff) -> None:
    assert (facts.title, facts.revision, facts.date) == ("Bogbean", "A", "2026-03-14")
    assert facts.finish == "bare stainless" and facts.tube == "42.4 mm × 1.5 mm, 304L"
    [outlet] = facts.outlets
    along = sum(value * way for value, way in zip(outlet.way, (-1.0, 0.05, 0.0), strict=True)) / (1.0 + 0.05**2) ** 0.5
    assert along == pytest.approx(1.0), "the gas leaves square to the collector plane"
    # on the axis through the collector plane's origin, which is given from the middle of port 1
    after = [value - start for value, start in zip(outlet.place, (-470.0, 115.0, -370.0), strict=True)]
    assert after[0] < -100 and after[1] == pytest.approx(-0.05 * after[0]) and after[2] == pytest.approx(0.0)
    assert outlet.diameter == pytest.approx(63.5)
    assert [name for name, _ in facts.lengths] == [f"primary {k}" for k in (1, 2, 3, 4)]
    assert all(length == pytest.approx(700.0, abs=2.0) for _, length in facts.lengths)
    assert facts.ground is not None and facts.ground.item == "floor"
    assert [gap.value for gap in facts.gaps] == sorted(gap.value for gap in facts.gaps)
    assert {gap.item for gap in facts.gaps} >= {"frame", "steering shaft", "brake line", "floor"}
    assert facts.clear and facts.size is None and facts.grams is None
    assert "4 primaries" in facts.included and "1 flange" in facts.included


def test_facts_survive_their_file(facts: SignOff) -> None:
    assert TypeAdapter(SignOff).validate_json(json.dumps(asdict(facts))) == facts


MOVED = {
    "origin: [-470, 115, -370]": ("origin: [-470, 115, -358]", "the outlet of main moved 12.0 mm up"),
    "{straight: 346.02}": ("{straight: 350.02}", "primary 2 is 4.0 mm longer"),
    "origin: [0, 0, -520]": ("origin: [0, 0, -500]", "the gap to floor was "),
    "revision: A": ("revision: B", "revision was A and is B"),
}
OTHER = {
    "outlet: 63.5": ("outlet: 60.0", "the outlet of main was 63.5 mm wide and is 60.0 mm"),
    "date: 2026-03-14, ": (
        "date: 2026-03-14, finish: black ceramic, ",
        "finish was bare stainless and is black ceramic",
    ),
    "wall: 1.5, ": ("wall: 2.0, ", "tube was 42.4 mm × 1.5 mm, 304L and is 42.4 mm × 2.0 mm, 304L"),
    "  - {name: oxygen sensor, collector: main, at: 30, clock: 72}": ("  []", "there is no oxygen sensor any more"),
    "  - {name: floor, plane: {origin: [0, 0, -520], normal: [0, 0, 1]}, clearance: 25}\n": (
        "",
        "floor is no longer in the chassis",
    ),
}


@pytest.mark.slow
@pytest.mark.parametrize("changes", [MOVED, OTHER], ids=["moved", "otherwise"])
def test_what_differs_is_said_in_words(changes: dict[str, tuple[str, str]], facts: SignOff, tmp_path: Path) -> None:
    checked = check(spec_with(tmp_path, *((old, new) for old, (new, _) in changes.items())))
    found = list(differences(facts, sign_off(checked.result, checked.signature), "mm"))
    for _, said in changes.values():
        assert any(each.startswith(said) for each in found), (said, found)
    assert checked.signature != facts.hash


def test_nothing_differs_from_itself(facts: SignOff) -> None:
    assert list(differences(facts, facts, "mm")) == []
    draft = settle(SPECS / "bogbean.yaml").draft
    assert list(signed_findings(facts, facts, facts.hash, draft)) == []


@pytest.mark.slow
def test_a_signed_revision_is_compared_wherever_its_facts_lie(facts: SignOff, tmp_path: Path) -> None:
    signed = (("date: 2026-03-14, ", f"date: 2026-03-14, signed: {facts.hash}, "),)
    checked = check(spec_with(tmp_path, *signed))
    assert checked.signature == facts.hash, "what was signed is no part of the hash"
    assert against_signed(checked, [tmp_path]) == checked

    moved = check(spec_with(tmp_path, *signed, ("origin: [-470, 115, -370]", "origin: [-470, 115, -358]")))
    [away] = [f for f in against_signed(moved, [tmp_path]).result.findings if f.rule == "signed"]
    assert "is not at hand" in away.message and away.level == "warning"

    (tmp_path / "broken_sign_off.json").write_text("{")
    (tmp_path / "sign_off.json").write_text(json.dumps(asdict(facts)))
    found = against_signed(moved, [tmp_path])
    [said] = [f for f in found.result.findings if f.rule == "signed"]
    assert "the outlet of main moved 12.0 mm up" in said.message and found.signed == facts
    # port 1 is at zero, and the outlet where the facts of the moved header have it
    assert said.against == "outlet of main"
    assert said.point == pytest.approx(sign_off(moved.result, moved.signature).outlets[0].place)


def test_what_changed_is_found_by_its_place(facts: SignOff) -> None:
    """A sensor's own place; a tube by its name; nowhere where only words differ."""
    draft = settle(SPECS / "bogbean.yaml").draft
    [sensor], (name, length) = facts.sensors, facts.lengths[1]
    elsewhere = replace(sensor, place=(0.0, 0.0, 9.0))
    longer = (facts.lengths[0], (name, length + 3.0), *facts.lengths[2:])
    told = {
        replace(facts, sensors=(elsewhere,), hash="x"): (sensor.name, (0.0, 0.0, 9.0)),
        replace(facts, lengths=longer, hash="x"): (name, None),
        replace(facts, title="Other", hash="x"): ("", None),
    }
    for now, (against, point) in told.items():
        [said] = signed_findings(facts, now, facts.hash, draft)
        assert (said.against, said.point) == (against, point)


def test_another_way_of_writing_it_is_the_same_spec(facts: SignOff, tmp_path: Path) -> None:
    for changes in (
        (("units: mm\n", "units: mm  # as before\n"),),
        (("    slip: 40\n", "    slip: 4.0e1\n"),),
        (("length: {target: 700, tolerance: 2}", "length: {tolerance: 2, target: 700}"),),
    ):
        assert signature(settle(spec_with(tmp_path, *changes))) == facts.hash


def test_another_chassis_under_the_same_name_is_another_hash(tmp_path: Path) -> None:
    header = settle(spec_with(tmp_path))
    items = tuple(
        replace(item, shape=replace(item.shape, sha256="0" * 64)) if item.name == "frame" else item
        for item in header.draft.chassis
    )
    other = replace(header, draft=replace(header.draft, chassis=items))
    assert signature(other) != signature(header)
    assert set(signature(other)) <= set(HASH_LETTERS)


# 60 mm aside after 600 mm along the collector's axis
TAIL = """
runs:
  tail:
    from: main
    path:
      - {straight: {fit: 50, min: 40}}
      - {bend: {fit: 15}, radius: 95, rotation: 0}
      - {straight: {fit: 250, min: 40}}
      - {bend: {fit: 15}, radius: 95, rotation: 180}
      - {straight: {fit: 60, min: 45}}
    to: {at: [-1066.25, 204.89, -370], along: [-1, 0.05, 0], into: {diameter: 64.1, depth: 40}}
"""


def with_a_tail(folder: Path) -> Path:
    """The Bogbean whose outlet goes on to a silencer's mouth."""
    text = (SPECS / "bogbean.yaml").read_text(encoding="utf-8")
    [end] = [line for line in text.splitlines(keepends=True) if line.startswith("    end: {ring")]
    path = spec_with(folder, (end, ""))
    path.write_text(path.read_text(encoding="utf-8") + TAIL, encoding="utf-8")
    return path


def test_the_end_of_a_run_is_as_wide_as_its_tube(tmp_path: Path) -> None:
    """The mouth is another's part with a wall that nobody gave: neither its width nor its gaps are signed for."""
    checked = check(with_a_tail(tmp_path))
    found = sign_off(checked.result, checked.signature)
    [outlet] = found.outlets
    assert outlet.collector == "tail" and outlet.diameter == pytest.approx(63.5)
    mouth = [gap for gap in checked.result.survey.part_gaps if gap.a == "mouth of secondary main" and gap.b == "floor"]
    assert mouth and not [gap for gap in found.gaps if "mouth of secondary" in gap.part]
    assert found.ground is not None and "mouth" not in found.ground.part
