"""`correct` and `hand`: what they print and write, and what they refuse."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result
from pypdf import PdfReader
from scipy.spatial.transform import Rotation

from headergen import pipeline
from headergen.built.plausible import what_cannot_be
from headergen.commands.line import commands
from headergen.geometry.curves.centreline import frame_at
from headergen.hand.tube import tubes_of
from headergen.model import Header, PieceAsBuilt, RunAsBuilt, Shop
from headergen.outputs.shop.order import order_list
from headergen.pipeline import bench, settle
from tests.cli.calls import called, without_pictures

ROOT = Path(__file__).resolve().parents[2]
GUIDE = (ROOT / "specs" / "guide_as_built.yaml").read_text(encoding="utf-8").replace("../shared", f"{ROOT}/shared")
AS_BUILT = GUIDE[GUIDE.index("as_built:\n") : GUIDE.index("flange:\n")]


def call(*words: object) -> Result:
    return CliRunner().invoke(commands, [str(word) for word in words])


@pytest.fixture(autouse=True, scope="module")
def planned_once() -> Iterator[None]:
    """What is half built changes no sheet: the bench of a header, most of the work, is planned once for all tests."""
    plan, there = pipeline.bench, dict[str, Shop]()

    def planned(header: Header, *more: Any, **also: Any) -> Shop:
        name = repr((replace(header.draft, as_built=()), header.centrelines, more, also))
        if name not in there:
            there[name] = plan(header, *more, **also)
        return there[name]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pipeline, "bench", planned)
        yield


def half(measured: str) -> str:
    """Two pieces of primary 1 are there, with something that was measured of them."""
    return f"as_built: [{{primary: 1, welded: [0, 1], {measured}}}]\n"


def spec(folder: Path, as_built: str = AS_BUILT) -> Path:
    path = folder / "half.yaml"
    path.write_text(GUIDE.replace(AS_BUILT, as_built), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def corrected(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Result]:
    folder = tmp_path_factory.mktemp("correct")
    return folder, call("correct", spec(folder))


def test_the_work_is_one_line_for_each_tube(corrected: tuple[Path, Result]) -> None:
    _, done = corrected
    assert done.exit_code == 0, done.output
    lines = done.output.splitlines()
    assert [line.split(":")[0] for line in lines[:2]] == ["primary 1", "primary 2"]
    assert "seen from the flange" in lines[0] and "primary 1 to primary 2" in done.output


def test_the_spec_as_it_is_can_be_read_and_reaches_its_bores(corrected: tuple[Path, Result]) -> None:
    """What is tacked in its bore stays where it was measured; the other tube is closed on its own."""
    header = settle(corrected[0] / "half_as_built.yaml")
    assert header.draft.as_built == () and header.misses == ()
    assert "# as built: from half.yaml" in (corrected[0] / "half_as_built.yaml").read_text(encoding="utf-8")
    assert header.run("primary 1").steps[1].radius == pytest.approx(63.4)  # type: ignore[union-attr]


def test_the_pages_have_the_work_the_figures_and_the_templates(corrected: tuple[Path, Result]) -> None:
    pages = [page.extract_text() for page in PdfReader(corrected[0] / "half_correction.pdf").pages]
    text = " ".join(" ".join(pages).split())
    assert "Primary 1: " in text and "Primary 2: " in text
    assert "Turns as they are now" in text and "On the table, as they are now" in text
    assert "cut off square, cut up" in text


def test_the_record_has_what_was_planned_measured_and_done(corrected: tuple[Path, Result]) -> None:
    record = json.loads((corrected[0] / "half_record.json").read_text(encoding="utf-8"))
    first = record["runs"][0]["joints"][1]
    assert first["planned"]["shrinkage"] == pytest.approx(0.4)
    assert first["measured"]["shrinkage"] == pytest.approx(0.45)
    piece = record["runs"][0]["pieces"][0]["measured"]
    assert piece == {"length": None, "angle": pytest.approx(75.4), "radius": 63.4, "legs": None, "oval": [42.9, 41.8]}
    assert any(joint["done"] for run in record["runs"] for joint in run["joints"])
    others = [corrected[0] / f"record_{number}.json" for number in range(6)]
    for number, other in enumerate(others):
        other.write_text(json.dumps({**record, "header": f"header {number}"}), encoding="utf-8")
    said = call("hand", *others)
    assert said.exit_code == 0 and "shrinkage: 0.45 mm" in said.output and "from 6 measured in 6 headers" in said.output


def test_the_record_has_the_tube_as_it_is_with_its_kinks(corrected: tuple[Path, Result]) -> None:
    """Segment by segment, walked by another library: each begins where the one before ends, but for kinks along its
    way, and the last ends in its bore, or as far out of it as the end piece is slid."""
    record = json.loads((corrected[0] / "half_record.json").read_text(encoding="utf-8"))
    bores = np.array([[-330, 140, -330], [-330, 200, -330]])
    for run in record["runs"]:
        kinks, end, way = [], None, None
        for part in run["centreline"]:
            start, along = np.array(part["start"]), np.array(part["along"])
            if end is not None and way is not None:
                assert np.linalg.norm(start - end) < 0.5, "a face as measured is where its pieces do not put it"
                kinks.append(math.degrees(math.acos(min(1.0, float(along @ way)))))
            end, way = start + part["length"] * along, along
            if "radius" in part:
                turn = Rotation.from_rotvec(math.radians(part["angle"]) * np.cross(along, part["inside"]))
                centre = start + part["radius"] * np.array(part["inside"])
                end, way = centre + turn.apply(start - centre), turn.apply(along)
        assert 0.3 < max(kinks) < 3.0 and way == pytest.approx([-0.8, 0, -0.6], abs=0.01)
        assert np.linalg.norm(bores - end, axis=1).min() < 0.5


def test_a_file_changed_by_hand_is_not_overwritten(corrected: tuple[Path, Result]) -> None:
    target = corrected[0] / "half_as_built.yaml"
    own = target.read_text(encoding="utf-8") + "# mine\n"
    beside = corrected[0] / "own"
    beside.mkdir()
    (beside / "half_as_built.yaml").write_text(own, encoding="utf-8")
    done = call("correct", spec(beside))
    assert done.exit_code == 2 and "changed by hand" in done.output
    assert (beside / "half_as_built.yaml").read_text(encoding="utf-8") == own


@pytest.mark.parametrize(
    ("as_built", "said"),
    [
        ("", "nothing in it is half built"),
        ("as_built: [{primary: 1, welded: [0, 9]}]\n", ":{line}:37 as_built 1 welded 2: primary 1 has joints 0 to 4"),
        (
            "as_built: [{primary: 1, welded: [0], ends: [{after: 3, point: [0, 0, 0], direction: [1, 0, 0]}]}]\n",
            "piece 3 is held neither on the flange nor in its bore",
        ),
        (
            "as_built: [{primary: 1, welded: [0], ends: [{after: 1, rim: [[0, 0, 0], [10, 0, 0], [0, 10, 0]]}]}]\n",
            "these points lie on a circle 14.1 mm wide, and the tube is 42.4 mm wide",
        ),
        (
            "as_built: [{primary: 1, welded: [0], ends: [{after: 1, point: [0, 500, 0], direction: [0, 0, -1]}]}]\n",
            "from where its pieces put it",
        ),
        (AS_BUILT.replace("[-67.4, 159.0,", "[-67.4, 167.0,"), "this disagrees with the other readings of this face"),
        # the same point 500 mm farther back; as it was, it is 1.6 mm from where its pieces put it
        (AS_BUILT.replace("point: [-67.4", "point: [-567.4"), "this puts the face 498."),
        (half("pieces: [{piece: 2, length: 635}]"), "piece 2 is 635.0 mm long here and 63.4 mm on its sheet"),
        (half("pieces: [{piece: 1, legs: [430, 2]}]"), "piece 1 is 430.0 mm long in its first leg here and"),
        (half("pieces: [{piece: 1, angle: 7.5}]"), "piece 1 is bent by 7.50° here and 75."),
        (
            half("pieces: [{piece: 1, radius: 6.35}]"),
            "piece 1 is bent to a radius of 6.3 mm here and 63.5 mm on its sheet",
        ),
        (
            half("pieces: [{piece: 1, oval: [82, 20]}]"),
            "is 82.0 mm × 20.0 mm here, and its tube is 42.4 mm",
        ),
        (half("pieces: [{piece: 1, length: 43}]"), "piece 1 is a bend and has no length of its own: give its legs"),
        (half("pieces: [{piece: 2, legs: [43, 2]}]"), "piece 2 is straight: of a straight only its length is measured"),
        (half("pieces: [{piece: 2, oval: [43, 42]}]"), "piece 2 is straight"),
        (half("joints: [{joint: 3, marks: [60, 59.6]}]"), "joint 3 is neither welded nor tacked"),
        (half("joints: [{joint: 1, clocking: 4}]"), "no bend begins at joint 1, so it has no clocking"),
        (AS_BUILT.replace("hole: 43", "hole: 42"), "the hole of 42.0 mm is 0.40 mm narrower than its tube"),
        (AS_BUILT.replace("{after: 1, table", "{after: 0, table"), "a whole number from 1 to 99 is required"),
        (AS_BUILT.replace("offset: 60.6", "offset: 40.6"), "puts the face 20."),
    ],
)
def test_what_cannot_be_is_named_with_its_place(as_built: str, said: str, tmp_path: Path) -> None:
    path = spec(tmp_path, as_built)
    line = GUIDE[: GUIDE.index("as_built:\n")].count("\n") + 1
    done = call("correct", path)
    assert done.exit_code == 3
    assert said.format(line=line) in done.output, done.output
    assert [each.name for each in tmp_path.iterdir()] == ["half.yaml"]


def test_a_plan_that_misses_its_bore_is_refused(tmp_path: Path) -> None:
    """To call that "nothing to change" would send somebody on to weld it."""
    path = spec(tmp_path, half("cut: [1]"))
    text = path.read_text(encoding="utf-8")
    steps = "[{straight: 50}, {bend: 75, radius: 63.5}, {straight: 150}, {bend: 50, radius: 63.5}, {straight: 150}]"
    start, end = text.index("  1:\n    - {straight"), text.index("  2:\n    - {straight")
    path.write_text(f"{text[:start]}  1: {steps}\n{text[end:]}", encoding="utf-8")
    done = call("correct", path)
    assert done.exit_code == 3 and "as_built 1: primary 1 as planned ends" in done.output
    assert "mend its path first" in done.output


def test_what_cannot_be_is_told_in_the_units_of_the_job(tmp_path: Path) -> None:
    header = settle(spec(tmp_path, ""))
    tubes = {tube.run.name: tube for tube in tubes_of(header, bench(header, ()))}
    [(place, said)] = what_cannot_be(
        RunAsBuilt("primary 1", welded=(0, 1), pieces=(PieceAsBuilt(2, length=635.0),)), tubes["primary 1"], "in"
    )
    assert place == ("pieces", 0) and said.startswith("piece 2 is 25.000 in long here and 2.49")


def test_a_tube_that_nothing_closes_says_what_is_missing(tmp_path: Path) -> None:
    """All welded but the last joint, beside its bore: only a cut could move its end."""
    welded = (
        "as_built: [{primary: 2, welded: [0, 1, 2, 3], ends: [{after: 4, point: [-331, 146, -330], "
        "direction: [-0.8, 0, -0.6]}]}]\n"
    )
    done = call("correct", spec(tmp_path, welded))
    assert done.exit_code == 1, done.output
    assert "nothing left to cut can move the end sideways" in done.output
    assert "cut joint" in done.output


def test_what_is_cut_off_is_no_part_of_the_tube(tmp_path: Path) -> None:
    """Piece 2 was welded 20 mm too long: cut back by as much, the tube has its planned length, without a stub."""
    planned = settle(spec(tmp_path, "")).centrelines[0]
    done = call("correct", spec(tmp_path, half("pieces: [{piece: 2, length: 83.5}]")))
    assert done.exit_code == 0, done.output
    assert "primary 1: cut piece 2 20.1 mm shorter at its end" in done.output, "it was 63.4"
    assert f"Primary 1 is then {planned.length:.1f} mm of centreline; planned {planned.length:.1f} mm" in done.output
    [run] = json.loads((tmp_path / "half_record.json").read_text(encoding="utf-8"))["runs"]
    for one, other in pairwise(run["centreline"]):
        if "radius" not in one:
            end = [a + one["length"] * b for a, b in zip(one["start"], one["along"], strict=True)]
            assert end == pytest.approx(other["start"], abs=0.01)


def test_a_record_given_twice_counts_once(corrected: tuple[Path, Result]) -> None:
    record = corrected[0] / "half_record.json"
    copy = corrected[0] / "copy.json"
    copy.write_bytes(record.read_bytes())
    once, twice = call("hand", record), call("hand", record, copy)
    assert once.exit_code == twice.exit_code == 0
    note, rest = twice.output.split("\n", 1)
    assert note.endswith("half_record.json, and counts once") and rest == once.output
    copy.write_text(record.read_text(encoding="utf-8").replace('"record": 1', '"record": 2'), encoding="utf-8")
    other = call("hand", copy)
    assert other.exit_code == 3 and "its format is 2, and this version of headergen reads 1" in other.output


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{", "this is no record"),
        ("[]", "this is no record"),
        ('{"record": 1, "runs": 3}', "this is no record"),
        ("[" * 100_000, "its brackets are nested too deep"),
    ],
)
def test_what_is_no_record_is_refused(text: str, said: str, tmp_path: Path) -> None:
    (tmp_path / "r.json").write_text(text, encoding="utf-8")
    done = call("hand", tmp_path / "r.json")
    assert done.exit_code == 3 and said in done.output and "r.json" in done.output


OTHER_BANK = """\
format: 1
mirror_of: half_as_built.yaml
job: {title: Other bank, revision: A, date: 2026-05-20}
units: mm
bank: {offset: 20, way: staggered, mirror: {origin: [0, -400, 0]}, mirrored: [floor]}
"""


def test_what_is_built_is_mirrored_for_the_other_bank(corrected: tuple[Path, Result]) -> None:
    """Point by point in a plane that faces left, and 20 mm along; the order is the same list again."""
    other = corrected[0] / "other.yaml"
    other.write_text(OTHER_BANK, encoding="utf-8")
    first, second = settle(corrected[0] / "half_as_built.yaml"), settle(other)
    assert second.draft.as_built == ()
    for line, mirrored in zip(first.centrelines, second.centrelines, strict=True):
        assert mirrored.length == pytest.approx(line.length, abs=1e-6)
        for at in np.linspace(0, line.length, 25):
            x, y, z = frame_at(line, float(at))[0]
            found = frame_at(mirrored, float(at))[0]
            assert found[1:] == pytest.approx((-800 - y, z), abs=1e-6)
            assert abs(found[0] - x) == pytest.approx(20, abs=1e-6)
    one, two = (order_list(header, bench(header)) for header in (first, second))
    assert [line.__dict__ for line in one] == [line.__dict__ for line in two]
    assert any(line.quantity > 0 for line in one)


@pytest.mark.slow
def test_what_is_built_can_be_made_again(corrected: tuple[Path, Result], monkeypatch: pytest.MonkeyPatch) -> None:
    without_pictures(monkeypatch.setattr)
    done = called("build", "half_as_built.yaml", cwd=corrected[0])
    assert done.returncode in (0, 1), done.stdout + done.stderr
    folder = corrected[0] / "out" / "half_as_built"
    made = json.loads((folder / "shop.json").read_text(encoding="utf-8"))
    assert {run["name"] for run in made["runs"]} == {"primary 1", "primary 2"}
    assert (folder / "header.step").exists() and (folder / "sheets.pdf").exists()
