"""The starter spec: reads, closes and clears everything as it is, and fits on a sheet."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from headergen.geometry.centreline import frame_at
from headergen.geometry.frames import angle_between, subtract
from headergen.model import Cylinder
from headergen.pipeline import check
from headergen.solve.closing import close
from headergen.spec.reader import read_spec
from headergen.spec.starter import starter_text


def write(folder: Path, name: str = "Withybed") -> Path:
    path = folder / "starter.yaml"
    path.write_text(starter_text(name), encoding="utf-8")
    return path


def test_it_fits_on_a_sheet() -> None:
    lines = starter_text("Withybed").splitlines()
    assert len(lines) <= 82
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
        assert math.dist(end, primary.bore.frame.origin) < draft.limits.end_position / 2
        assert angle_between(tangent, primary.bore.frame.z) < draft.limits.end_angle / 2
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


def test_a_check_of_it_has_nothing_to_say_against_it(tmp_path: Path) -> None:
    findings = check(write(tmp_path)).result.findings
    assert [finding.message for finding in findings if finding.level != "info"] == []


def test_what_stands_there_as_comments_is_true(tmp_path: Path) -> None:
    """With the keys of the merge, and with points in place of the second path, it is as clear as before."""
    text = starter_text("Withybed")
    merged = text.replace("    # half_angle:", "    half_angle:").replace("    # outlet:", "    outlet:")
    path, points = merged.split("  2:\n    - {straight: 40}")
    points = points[points.index("  # 2: {points:") :].replace("  # ", "  ")
    spec = tmp_path / "starter.yaml"
    for changed, count in ((text, 0), (merged, 1), (f"{path}{points}", 1)):
        assert changed.count("    half_angle:") == count
        spec.write_text(changed, encoding="utf-8")
        checked = check(spec).result
        assert checked.findings == ()
        assert checked.survey.lengths[1] == pytest.approx(382, abs=1.5)
    assert "  2: {points:" in changed
