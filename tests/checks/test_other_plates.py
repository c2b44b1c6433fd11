"""Plates, tabs, brackets and bosses of another header in the chassis are kept off like its tubes."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from headergen.geometry.mesh.boxes import plate_mesh
from headergen.geometry.mesh.triangles import enclosed_volume
from headergen.geometry.plate.flange import plate_of
from headergen.geometry.plate.outline import area
from headergen.pipeline import Checked, check, settle
from headergen.spec.writer import spec_text

OTHER = """\
format: 1
job: {title: Other, revision: A, date: 2026-03-14}
units: mm
tube: {outside_diameter: 42.4, wall: 1.5, material: 304L}
flange:
  plane: {origin: [0, 0, 0], normal: [0, 1, 0], x: [1, 0, 0]}
  thickness: 10
  bolts: [{at: [-80, 0], hole: 8.5}, {at: [80, 0], hole: 8.5}]
  ports: {1: {at: [0, 0], shape: {round: 38}}}
collectors:
  main: {join: slip, slip: 35, pattern: line, bores: [1], plane: {origin: [0, 200, 0], normal: [0, 1, 0]}}
primaries:
  1: [{straight: 200}]
bosses:
  - {name: gauge, primary: 1, at: 90, clock: 0, kind: plain, thread: M12x1.25, outside_diameter: 30, height: 12}
"""
MINE = """\
format: 1
job: {{title: Mine, revision: A, date: 2026-03-14}}
units: mm
tube: {{outside_diameter: 42.4, wall: 1.5, material: 304L}}
flange:
  plane: {{origin: [80, {high}, -200], normal: [0, 0, 1], x: [1, 0, 0]}}
  thickness: 10
  ports: {{1: {{at: [0, 0], shape: {{round: 38}}}}}}
collectors:
  main: {{join: slip, slip: 35, pattern: line, bores: [1], plane: {{origin: [80, {high}, 250], normal: [0, 0, 1]}}}}
primaries:
  1: [{{straight: 450}}]
chassis:
  - {{name: other bank, header: other.yaml, clearance: 10}}
"""


FACED = 9.7  # mm: a plate of 10, faced by the usual 0.3


def checked(folder: Path, gap: float) -> Checked:
    """A tube that runs across the other one's plate, `gap` mm above it: the faced plate, and half its width."""
    (folder / "other.yaml").write_text(OTHER)
    (folder / "mine.yaml").write_text(MINE.format(high=FACED + 42.4 / 2 + gap))
    return check(folder / "mine.yaml")


@pytest.mark.parametrize(("gap", "errors"), [(12.0, 0), (7.0, 1), (-3.0, 1)])
def test_a_tube_over_the_other_flange(gap: float, errors: int, tmp_path: Path) -> None:
    result = checked(tmp_path, gap).result
    [found] = [each for each in result.survey.gaps if each.b == "flange of other bank"]
    assert found.value == pytest.approx(gap, abs=1e-6) and found.required == 10.0
    wrong = [each for each in result.findings if each.level == "error"]
    assert [each.against for each in wrong] == ["flange of other bank"] * errors, [each.message for each in wrong]


def test_it_is_not_written_into_the_spec(tmp_path: Path) -> None:
    header = checked(tmp_path, 12.0).result.header
    assert [item.name for item in header.draft.chassis] == ["other bank", "flange of other bank"]
    assert "flange of other bank" not in spec_text(header)


def test_its_boss_is_among_the_round_bodies(tmp_path: Path) -> None:
    """30 wide, from the axis of the tube 90 mm on, out to 12 mm past its skin."""
    shape = checked(tmp_path, 12.0).result.header.draft.chassis[0].shape
    [boss] = [line for line, diameter in shape.tubes if math.isclose(diameter, 30.0)]  # type: ignore[union-attr]
    [segment] = boss.segments
    assert segment.start == pytest.approx((0.0, 90.0, 0.0)) and segment.length == pytest.approx(42.4 / 2 + 12)
    assert segment.tangent == pytest.approx((0.0, 0.0, 1.0)), "at twelve o'clock"


def test_the_plate_is_the_whole_plate(tmp_path: Path) -> None:
    """By volume against outline and thickness, and closed; all of it between its two faces."""
    shape = checked(tmp_path, 12.0).result.header.draft.chassis[1].shape
    mesh, header = plate_mesh(shape), settle(tmp_path / "other.yaml")  # type: ignore[arg-type]
    plate = plate_of(header.draft.flanges[0], header.draft.tube)
    assert enclosed_volume(mesh.vertices, mesh.faces) == pytest.approx(area(plate.outline) * FACED, rel=1e-4)
    assert (np.ptp(mesh.vertices[:, 1]), mesh.vertices[:, 1].min()) == pytest.approx((FACED, 0.0))
