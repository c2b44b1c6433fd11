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


TRANSITION = OTHER.replace("{round: 38}}", "{rectangle: [64, 30, 6]}, transition: 60}")
ROUND, WIDE = 42.4 / 2, 64 / 2 + 1.5  # mm: outsides of the tube, and of the transition where it leaves the plate
HIGH = 45.0  # mm over the face of the head


@pytest.mark.parametrize(("gap", "errors"), [(12.0, 0), (7.0, 1)])
def test_a_tube_beside_the_other_transition(gap: float, errors: int, tmp_path: Path) -> None:
    """Square to its axis, past its flat end: in the plane of both axes that is a line from the plate to the tube."""
    (tmp_path / "other.yaml").write_text(TRANSITION)
    length = math.hypot(60.0, WIDE - ROUND)
    beside = WIDE + ((ROUND + gap) * length - (HIGH - FACED) * (WIDE - ROUND)) / 60.0
    (tmp_path / "mine.yaml").write_text(MINE.format(high=HIGH).replace("[80, ", f"[{beside}, "))
    result = check(tmp_path / "mine.yaml").result
    [found] = [each for each in result.survey.gaps if each.b == "transition 1 of other bank"]
    assert found.value == pytest.approx(gap, abs=1e-6)
    wrong = [each.against for each in result.findings if each.level == "error"]
    assert wrong == ["transition 1 of other bank"] * errors
    assert all(found.value < each.value for each in result.survey.gaps if each.b == "other bank")


def test_the_transition_is_the_whole_transition(tmp_path: Path) -> None:
    """Its port's shape up to the face of the plate, the tube's circle at its end; closed, with no hollow between."""
    (tmp_path / "other.yaml").write_text(TRANSITION)
    (tmp_path / "mine.yaml").write_text(MINE.format(high=400.0))
    shapes = {item.name: item.shape for item in check(tmp_path / "mine.yaml").result.header.draft.chassis}
    mesh = plate_mesh(shapes["transition 1 of other bank"])  # type: ignore[arg-type]
    x, y, z = mesh.vertices.T
    in_plate, end = abs(y - FACED) < 1e-6, abs(y - FACED - 60.0) < 1e-6
    assert [np.ptp(x[in_plate]), np.ptp(z[in_plate])] == pytest.approx([2 * WIDE, 33.0])
    assert np.hypot(x[end], z[end]) == pytest.approx(np.full(end.sum(), ROUND))
    port, circle = 67.0 * 33.0 - (4 - math.pi) * 7.5**2, math.pi * ROUND**2
    prism, whole = (FACED - y.min()) * port, enclosed_volume(mesh.vertices, mesh.faces)
    assert prism + 60.0 * circle < whole < prism + 60.0 * port, "from one area to the other"
    assert set(np.unique(np.round(y, 6))) == {round(float(y.min()), 6), FACED, FACED + 60.0}
