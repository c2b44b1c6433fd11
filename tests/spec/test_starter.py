"""The starter spec: reads, closes and clears everything as it is, and fits on a sheet."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
import trimesh

from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.frames import angle_between, subtract
from headergen.model import Cylinder
from headergen.pipeline import bench, built_by_hand, check
from headergen.solve.closing import close
from headergen.spec.reader import read_spec
from headergen.spec.starter import starter_text


def write(folder: Path, name: str = "Withybed") -> Path:
    path = folder / "starter.yaml"
    path.write_text(starter_text(name), encoding="utf-8")
    return path


def test_it_fits_on_a_sheet() -> None:
    """A4 upright with 8 point letters: 92 lines."""
    lines = starter_text("Withybed").splitlines()
    assert len(lines) <= 92
    assert max(len(line) for line in lines) <= 100


@pytest.mark.parametrize("name", ["Withybed", 'the "second" one', "back\\slash", "Glaßwort: 2", "#7", "@STARTER"])
def test_any_name_becomes_the_title(tmp_path: Path, name: str) -> None:
    assert read_spec(write(tmp_path, name))[1].job.title == name


def test_schema_and_date_are_put_in() -> None:
    text = starter_text("Test", schema="../specs/headergen.schema.json", date="2026-03-14")
    assert text.startswith("# yaml-language-server: $schema=../specs/headergen.schema.json\n")
    assert "date: 2026-03-14}" in text


def test_every_tube_ends_on_its_bore_and_is_as_long_as_it_should_be(tmp_path: Path) -> None:
    _, draft = read_spec(write(tmp_path))
    header = close(draft)
    for primary, line in zip(header.primaries, header.centrelines, strict=True):
        end, tangent, _ = frame_at(line, line.length)
        assert math.dist(end, primary.end.frame.origin) < draft.limits.end_position / 2
        assert angle_between(tangent, primary.end.frame.z) < draft.limits.end_angle / 2
        assert abs(line.length - (draft.length.target or 0)) < draft.length.tolerance / 2


def test_both_tubes_clear_the_rail_by_hand_calculation(tmp_path: Path) -> None:
    """Both run down 40 + 63.5 mm from the head, the rail 185 mm from it; both radii come off that."""
    _, draft = read_spec(write(tmp_path))
    (rail,) = (item for item in draft.chassis if isinstance(item.shape, Cylinder))
    assert isinstance(rail.shape, Cylinder)
    for line in close(draft).centrelines:
        points = [frame_at(line, line.length * k / 400)[0] for k in range(401)]
        axis = [subtract(point, rail.shape.start) for point in points]
        nearest = min(math.hypot(y, z) for _, y, z in axis) - draft.tube.radius - rail.shape.diameter / 2
        assert nearest == pytest.approx(185 - 103.5 - 21.2 - 22.5, abs=0.1)  # sampled every millimetre
        assert nearest > rail.clearance


def test_neither_check_nor_bench_has_anything_to_say_against_it(tmp_path: Path) -> None:
    result = check(write(tmp_path)).result
    result = built_by_hand(result, bench(result.header, result.survey.gaps))
    assert [finding.message for finding in result.findings if finding.level != "info"] == []


def used(*needles: str, instead: int = 0) -> str:
    """The sheet with the lines that hold a needle used, by taking their #> away; `instead` lines before them go."""
    kept: list[str] = []
    for line in starter_text("Withybed").splitlines():
        if line.startswith("#>") and any(needle in line for needle in needles):
            kept = [each for each in kept if not each.startswith("#")][:-instead] if instead else kept
            line, instead = line.removeprefix("#>"), 0
        kept.append(line)
    return "\n".join(kept) + "\n"


def against(folder: Path, text: str) -> list[str]:
    """What a check has to say against it."""
    path = folder / "used.yaml"
    path.write_text(text, encoding="utf-8")
    return [finding.message for finding in check(path).result.findings if finding.level != "info"]


def shelf_in(folder: Path) -> None:
    """The stock file of the sheet, in a file of its own."""
    lines = starter_text("Withybed").split("#>stock:")[1].split("\n\n")[0].splitlines()[1:]
    (folder / "shelf.yaml").write_text("\n".join(line.removeprefix("#") for line in lines), encoding="utf-8")


def test_shelf_and_merge_can_be_used_as_they_stand(tmp_path: Path) -> None:
    shelf_in(tmp_path)
    text = used("stock:", "half_angle:", "outlet:", "outlet_length:")
    assert all(f"\n{line}" in text for line in ("stock:", "    half_angle:", "    outlet:", "    outlet_length:"))
    assert against(tmp_path, text) == []


def test_a_tube_can_grow_and_be_cut_from_stock_of_both_sizes(tmp_path: Path) -> None:
    """Its three lines stand in the place of one straight as long as they are."""
    shelf_in(tmp_path)
    text = used("{straight: 20}", "{step:", instead=1).replace("\nflange:\n", "\nstock: shelf.yaml\nflange:\n")
    assert text.count("    - {straight: 60}\n") == 1, "that of primary 2"
    assert against(tmp_path, text) == []
    _, draft = read_spec(tmp_path / "used.yaml")
    assert [[tube.outside_diameter for tube in run.tubes] for run in draft.primaries] == [[42.4, 45.5], [42.4]]
    result = check(tmp_path / "used.yaml").result
    shop = bench(result.header, result.survey.gaps)
    assert shop.plan.pieces and all(piece.item is not None for piece in shop.plan.pieces), "all of it is in stock"


def test_two_flanges_can_be_used_in_place_of_one(tmp_path: Path) -> None:
    flange = starter_text("Withybed").split("\nflange:\n")[1].split("#>flanges:")[0]
    text = used("flanges:", "  one: {", "  two: {", "{1: {at: [0, 0], sh", "{2: {at: [0, 0]")
    text = text.replace(f"flange:\n{flange}", "")
    assert against(tmp_path, text) == []
    _, draft = read_spec(tmp_path / "used.yaml")
    assert [(flange.name, [port.number for port in flange.ports]) for flange in draft.flanges] == [
        ("one", [1]),
        ("two", [2]),
    ]


def test_a_run_can_follow_the_outlet(tmp_path: Path) -> None:
    text = used("half_angle:", "outlet:", "outlet_length:", "runs:", "tail:", "along: [0, 0, -1], into")
    assert against(tmp_path, text) == []
    _, draft = read_spec(tmp_path / "used.yaml")
    assert [run.end.called for run in draft.runs if not run.is_primary] == ["the end of secondary main"]


def test_a_crossover_can_join_the_tubes(tmp_path: Path) -> None:
    text = used("runs:", "balance:", "joins:")
    assert against(tmp_path, text) == []
    _, draft = read_spec(tmp_path / "used.yaml")
    assert [(run.name, run.end.called) for run in draft.runs if not run.is_primary] == [
        ("secondary balance", "its joint on primary 2")
    ]


def test_a_mesh_can_be_used_as_it_stands(tmp_path: Path) -> None:
    trimesh.creation.box((400.0, 20.0, 300.0)).apply_translation((0.0, 300.0, 0.0)).export(tmp_path / "scan.stl")
    text = used("mesh: scan.stl")
    assert "\n  - {name: engine bay, mesh:" in text
    assert against(tmp_path, text) == []


def test_a_value_left_open_takes_the_place_of_the_line_above(tmp_path: Path) -> None:
    text = used("fit: 81.8", instead=1)
    assert text.count("straight: 81.8}") == 1 and text.count("fit: 81.8") == 1
    assert against(tmp_path, text) == []


def test_points_take_the_place_of_a_path(tmp_path: Path) -> None:
    text = used("points: [[-120", "[-85, 103.5, -300]]", instead=8)
    assert text.count("\n  2:") == 1 and "points: [[-120" in text
    assert against(tmp_path, text) == []


def test_a_path_to_be_found_takes_the_place_of_a_path(tmp_path: Path) -> None:
    path = tmp_path / "used.yaml"
    path.write_text(used("2: find", instead=8), encoding="utf-8")
    _, draft = read_spec(path)
    assert [primary.to_find for primary in draft.primaries] == [False, True]
