"""From a file on disk to a Draft, and everything that is wrong with it at once."""

from __future__ import annotations

import hashlib
import math
import os
import random
from collections.abc import Callable
from pathlib import Path

import pytest
from small_spec import SMALL, changed, complaints_of, draft_of

from headergen.model import Draft
from headergen.spec.complaint import SpecError
from headergen.spec.reader import MOST_COMPLAINTS, read_spec
from headergen.spec.text import LARGEST


def whole_spec(unit: str, size: Callable[[float], str]) -> str:
    """A spec that uses every kind of length, each written by `size`."""
    s = size
    return f"""\
format: 1
job: {{title: Units, revision: 2, date: 2026-03-14}}
units: {unit}
tube: {{outside_diameter: {s(41.275)}, wall: {s(1.651)}, material: 321}}
flange:
  plane: {{origin: [{s(10)}, {s(-20)}, {s(30)}], normal: [0, 1, -0.15], x: [1, 0, 0]}}
  thickness: {s(9.525)}
  bolts: [{{at: [{s(45)}, {s(31)}], hole: {s(8.5)}}}]
  ports:
    1: {{at: [0, 0], shape: {{oval: [{s(40)}, {s(32)}]}}}}
    2: {{at: [{s(88.9)}, {s(-3)}], shape: {{rectangle: [{s(40)}, {s(32)}, {s(6)}]}}, tilt: {{angle: 8, toward: 90}}}}
collectors:
  one:
    plane: {{origin: [{s(400)}, {s(300)}, {s(-200)}], normal: [1, 0, 0]}}
    join: slip
    slip: {s(38.1)}
    pattern: [[{s(-30)}, {s(2)}], [{s(30)}, 0]]
    bores: [2, 1]
    outlet: {s(63.5)}
    half_angle: 10
length: {{target: {s(700)}, tolerance: {s(3.2)}}}
limits:
  {{min_straight: {s(12.7)}, between_tubes: {s(6)}, together: {s(100)}, end_position: {s(2)}, chord_error: {s(0.1)}}}
primaries:
  1: [{{straight: {s(45)}}}, {{bend: 62.5, radius: {s(63.5)}, rotation: 12}}, {{straight: {s(1.5)}}}]
  2: {{path: [{{straight: {s(50)}}}], target: {s(705)}, locked: true}}
chassis:
  - name: a
    box: {{center: [{s(1)}, {s(2)}, {s(3)}], size: [{s(4)}, {s(5)}, {s(6)}], normal: [0, 1, 1]}}
    clearance: {s(12)}
  - {{name: b, cylinder: {{from: [0, 0, 0], to: [{s(7)}, 0, {s(9)}], diameter: {s(22)}}}, clearance: {s(15)}}}
  - {{name: c, plane: {{origin: [0, 0, {s(-250)}], normal: [0, 0, 2]}}, clearance: 0}}
  - name: d
    tube: {{points: [[0, 0, 0], [{s(50)}, 0, 0]], diameter: {s(6)}}}
    clearance: {s(40)}
    free_from_flange: {s(30)}
"""


def numbers_in(value: object) -> list[object]:
    """Every leaf of nested dataclasses and tuples, in order."""
    if isinstance(value, tuple):
        return [leaf for part in value for leaf in numbers_in(part)]
    if hasattr(value, "__dataclass_fields__"):
        return [leaf for name in value.__dataclass_fields__ for leaf in numbers_in(getattr(value, name))]
    return [value]


def assert_same(one: Draft, other: Draft) -> None:
    """Equal but for rounding (1e-9 mm, the millionth part of a micrometre) and for the unit the shop reads."""
    first, second = numbers_in(one), numbers_in(other)
    assert len(first) == len(second) > 150
    for a, b in zip(first[:-1], second[:-1], strict=True):
        assert a == (pytest.approx(b, abs=1e-9) if isinstance(b, float) else b)


def test_the_same_spec_in_inches_and_in_millimetres(tmp_path: Path) -> None:
    in_mm = draft_of(tmp_path, whole_spec("mm", lambda mm: f"{mm!r}"))
    assert_same(in_mm, draft_of(tmp_path, whole_spec("in", lambda mm: f"{mm / 25.4!r}")))
    assert_same(in_mm, draft_of(tmp_path, whole_spec("in", lambda mm: f"{mm!r} mm")))
    assert_same(in_mm, draft_of(tmp_path, whole_spec("mm", lambda mm: f'"{mm / 25.4!r} in"')))
    assert_same(in_mm, draft_of(tmp_path, whole_spec("mm", lambda mm: f"{mm / 1000!r} m")))


def test_the_shops_unit_is_kept(tmp_path: Path) -> None:
    assert draft_of(tmp_path, whole_spec("in", lambda mm: f"{mm} mm")).units == "in"


def test_the_source_says_what_was_read(tmp_path: Path) -> None:
    path = tmp_path / "spec.yaml"
    path.write_text(SMALL)
    source, draft = read_spec(path)
    assert source.file == path.as_posix()
    assert source.sha256 == hashlib.sha256(SMALL.encode()).hexdigest()
    assert source.marks[("primaries", "1", 0, "straight")] == (18, 18)
    assert draft.job.title == "Test"


def test_numbers_where_text_is_wanted_stay_as_written(tmp_path: Path) -> None:
    draft = draft_of(tmp_path, changed(("revision: A", "revision: 2"), ("material: 304L", "material: 321")))
    assert (draft.job.revision, draft.tube.material) == ("2", "321")


def test_yes_and_no_are_names_like_any_other(tmp_path: Path) -> None:
    draft = draft_of(tmp_path, changed(("title: Test", "title: No"), ("  main:", "  on:")))
    assert (draft.job.title, draft.collectors[0].name) == ("No", "on")


def test_all_complaints_of_a_file_come_at_once_and_in_order(tmp_path: Path) -> None:
    text = changed(
        ("revision: A", "revison: A"),  # unknown, and missing
        ("wall: 1.5", "wall: 1,5"),  # refused as text
        ("thickness: 10", "thickness: -10"),  # out of range
        ("bores: [1]", "bores: [2]"),  # disagrees
        ("{straight: 200}", "{bend: 45}"),  # incomplete
        end="chassis:\n  - {name: frame, mesh: nowhere.stl, units: mm, clearance: 10}\nstock: none.yaml\n",
    )
    places = [(complaint.line, complaint.path) for complaint in complaints_of(tmp_path, text)]
    assert places == [
        (2, "job"),
        (2, "job.revison"),
        (4, "tube.wall"),
        (7, "flange.thickness"),
        (15, "collectors.main bore 1"),
        (17, "primaries.1"),
        (18, "primaries.1 step 1 bend"),
        (20, "chassis item 1 mesh"),
        (21, "stock"),
    ]


def test_a_flood_of_complaints_is_cut(tmp_path: Path) -> None:
    text = changed(("    - {straight: 200}\n", "    - {straight: -1}\n" * 500))
    complaints = complaints_of(tmp_path, text)
    assert len(complaints) == MOST_COMPLAINTS + 1
    assert complaints[-1].message == f"and {500 - MOST_COMPLAINTS} more complaints after these"


def test_ranges_are_not_judged_while_the_unit_is_in_doubt(tmp_path: Path) -> None:
    text = changed(
        ("units: mm", "units: inch"), ("outside_diameter: 42.4, wall: 1.5", "outside_diameter: 2, wall: 0.06")
    )
    assert [complaint.path for complaint in complaints_of(tmp_path, text)] == ["units"]


def test_a_radius_smaller_than_the_tube_is_read(tmp_path: Path) -> None:
    """It is a finding of the check, with its own words, and no reason not to read the file."""
    draft = draft_of(tmp_path, changed(("{straight: 200}", "{bend: 45, radius: 10}")))
    assert draft.primaries[0].steps[0].radius == 10.0  # type: ignore[union-attr]


def test_stock_is_read_from_the_folder_of_the_spec(tmp_path: Path) -> None:
    (tmp_path / "shelf").mkdir()
    (tmp_path / "shelf/tube.yaml").write_text(
        "units: in\ncurrency: EUR\n"
        "bends: [{radius: 2.5, angle: 90, legs: [2, 3], price: 8}]\nstraights: [{length: 40}]\n"
    )
    stock = draft_of(tmp_path, changed(("units: mm", "units: mm\nstock: shelf/tube.yaml"))).stock
    assert stock is not None
    (bend,) = stock.bends
    assert (bend.radius, *bend.legs) == pytest.approx((63.5, 50.8, 76.2))
    assert bend.price == 8.0
    assert stock.straights[0].length == pytest.approx(1016.0)


def test_stock_as_it_is_sold_and_as_it_was_measured(tmp_path: Path) -> None:
    """An elbow has no legs; what was measured stands beside the name; counts and prices say what can be had."""
    (tmp_path / "shelf.yaml").write_text(
        "units: mm\noutside_diameter: 42.4\noval: 4\nbends:\n"
        "  - {radius: 63.5, angle: 90, legs: [75, 150], count: 2,\n"
        "     measured: {radius: 63.9, angle: 89.6, oval: [43.1, 41.5], legs: [76, 148]}}\n"
        "  - {radius: 42.4, angle: 90, price: 6, count: 0}\n"
        "  - {radius: 63.5, angle: 60}\nstraights: [{length: 1000, price: 17, count: 1}, {length: 500, count: 3}]\n"
    )
    stock = draft_of(tmp_path, changed(("units: mm", "units: mm\nstock: shelf.yaml"))).stock
    assert stock is not None and stock.oval == 0.04
    long, elbow, plain = stock.bends
    assert (long.radius, long.real_radius, long.legs, long.real_legs) == (63.5, 63.9, (75, 150), (76, 148))
    assert math.degrees(long.real_angle) == pytest.approx(89.6)
    assert long.measured is not None and long.measured.oval == (43.1, 41.5)
    assert (elbow.legs, elbow.count, elbow.can_be_bought) == ((0, 0), 0, True)
    assert (long.can_be_bought, plain.can_be_bought, plain.count) == (False, True, None)
    assert [straight.can_be_bought for straight in stock.straights] == [True, False]


def test_the_stock_files_that_come_along_are_read(tmp_path: Path) -> None:
    folder = Path(__file__).parents[2] / "shared/stock"
    files = sorted(folder.glob("*.yaml"))
    assert len(files) >= 2
    for file in files:
        relative = os.path.relpath(file, tmp_path)
        stock = draft_of(tmp_path, changed(("units: mm", f"units: mm\nstock: {relative}"))).stock
        assert stock is not None and stock.bends and stock.straights
        assert all(bend.radius > 20 for bend in stock.bends)


@pytest.mark.parametrize("name", ["nowhere.yaml", ".", "no/folder/spec.yaml", "a\0b.yaml", "n" * 5000])
def test_a_file_that_is_none_is_a_complaint(tmp_path: Path, name: str) -> None:
    with pytest.raises(SpecError) as raised:
        read_spec(tmp_path / name)
    assert len(raised.value.complaints) == 1


def test_a_file_that_may_not_be_read_is_a_complaint(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(self: Path) -> bytes:
        raise PermissionError

    (tmp_path / "spec.yaml").write_text(SMALL)
    monkeypatch.setattr(Path, "read_bytes", refuse)  # root may read everything, so rights cannot be taken away
    with pytest.raises(SpecError, match="may not be read"):
        read_spec(tmp_path / "spec.yaml")


def test_a_file_that_is_too_large_is_a_complaint(tmp_path: Path) -> None:
    (complaint,) = complaints_of(tmp_path, SMALL + "#" * LARGEST)
    assert "bytes" in complaint.message


def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.yaml")
    with pytest.raises(SpecError, match="not an ordinary file"):
        read_spec(tmp_path / "pipe.yaml")


@pytest.mark.slow
def test_random_values_never_bring_anything_but_complaints(tmp_path: Path) -> None:
    """500 seeded specs in which words were swapped for others of every kind: each reads, or is refused with a place."""
    chooser = random.Random(7)
    words = ["0", "-1", "1e30", "[1, 2]", "[]", "{}", "{a: 1}", "true", "no", "'x'", "1-5/8 in", "99", "[[0, 0, 0]]"]
    text = whole_spec("mm", lambda mm: f"{mm!r}")
    spots = [at for at in range(1, len(text)) if text[at - 1] in " [{:" and text[at].isalnum()]
    refused = 0
    for _ in range(500):
        content = text
        for at in sorted(chooser.sample(spots, chooser.randint(1, 3)), reverse=True):
            length = next(k for k, c in enumerate(content[at:]) if not (c.isalnum() or c in "._"))
            content = content[:at] + chooser.choice(words) + content[at + length :]
        complaints = complaints_of(tmp_path, content)
        refused += bool(complaints)
        assert all(complaint.line and complaint.column and complaint.message for complaint in complaints)
    assert refused > 300


@pytest.mark.parametrize("size", ["1e160", "1e300", "-1e300"])
def test_a_direction_too_large_to_be_squared_is_a_complaint(tmp_path: Path, size: str) -> None:
    """The square of 1e160 is past the largest float: its direction would come out as none at all."""
    text = changed(("normal: [0, 1, 0], x: [1, 0, 0]}\n  thickness", f"normal: [0, {size}, 0]}}\n  thickness"))
    assert [complaint.path for complaint in complaints_of(tmp_path, text)] == ["flange.plane.normal value 2"]


@pytest.mark.parametrize(("value", "words"), [("{a: 1}", "keys with values"), ("[1, 2]", "a list")])
def test_what_is_no_single_value_is_described_not_printed(tmp_path: Path, value: str, words: str) -> None:
    (complaint,) = complaints_of(tmp_path, changed(("units: mm", f"units: {value}")))
    assert complaint.message == f"{words} is not one of mm, in"


def test_a_hand_is_common_practice_then_its_file_then_what_the_spec_says(tmp_path: Path) -> None:
    (tmp_path / "hand.yaml").write_text("units: in\nspare: 0.5\nclocking: 0.4\nradius: 1\n", encoding="utf-8")
    both = changed(("units: mm", "units: mm\nhand: {file: hand.yaml, clocking: 0.3}"))
    named = changed(("units: mm", "units: mm\nhand: hand.yaml"))
    hand, alone = draft_of(tmp_path, both).hand, draft_of(tmp_path, named).hand
    assert hand.clocking == pytest.approx(math.radians(0.3))
    assert alone.clocking == pytest.approx(math.radians(0.4))
    assert (hand.spare, hand.radius, hand.step) == pytest.approx((12.7, 0.01, 0.5))


def test_the_file_of_a_hand_is_among_those_a_result_is_made_from(tmp_path: Path) -> None:
    (tmp_path / "hand.yaml").write_text("units: mm\n", encoding="utf-8")
    (tmp_path / "one.yaml").write_text(changed(("units: mm", "units: mm\nhand: hand.yaml")), encoding="utf-8")
    source, _ = read_spec(tmp_path / "one.yaml")
    assert source.others == (("hand.yaml", hashlib.sha256(b"units: mm\n").hexdigest()),)
