"""A primary and the outlet of another collector in one collector: each bore is made for the tube that goes into it."""

from __future__ import annotations

from pathlib import Path

import pytest

from headergen.geometry.merge.design import possible_merge
from headergen.geometry.merge.uneven import UnevenMerge
from headergen.mock.build import make_mock
from headergen.model import MockSettings
from headergen.pipeline import check, full_text
from headergen.solids.build import make_parts
from headergen.spec.reader import read_spec

SPEC = """\
format: 1
job: {title: Test, revision: A, date: 2026-03-14}
units: mm
tube: {outside_diameter: 42.4, wall: 1.5, material: 304L}
flange:
  plane: {origin: [0, 0, 0], normal: [0, 1, 0], x: [1, 0, 0]}
  thickness: 10
  ports:
    1: {at: [0, 0], shape: {round: 38}}
    2: {at: [50, 0], shape: {round: 38}}
    4: {at: [196, 0], shape: {round: 38}}
collectors:
  front:
    plane: {origin: [25, 200, 0], normal: [0, 1, 0], x: [1, 0, 0]}
    join: slip
    slip: 35
    pattern: line
    pitch: 50
    bores: [1, 2]
    half_angle: 9
    outlet: 50.8
  main:
    plane: {origin: [98, 700, 0], normal: [0, 1, 0], x: [1, 0, 0]}
    join: slip
    slip: 40
    pattern: line
    bores: [front, 4]
    half_angle: 10
    outlet: 63.5
secondaries:
  front: [{straight: 150}, {bend: {fit: 10}, radius: 90, rotation: {fit: 0}}, {straight: {fit: 100}},
          {bend: {fit: 10}, radius: 90, rotation: {fit: 180}}, {straight: {fit: 60}}]
primaries:
  1: [{straight: 200}]
  2: [{straight: 200}]
  4: {target: 710, path: [{straight: 150}, {bend: {fit: 10}, radius: 90, rotation: {fit: 180}}, {straight: {fit: 100}},
                           {bend: {fit: 10}, radius: 90, rotation: {fit: 180}}, {straight: {fit: 160}}]}
limits: {between_tubes: 5}
"""


@pytest.fixture
def spec(tmp_path: Path) -> Path:
    (tmp_path / "mixed.yaml").write_text(SPEC, encoding="utf-8")
    return tmp_path / "mixed.yaml"


def test_all_tubes_close_and_each_bore_has_the_size_of_its_tube(spec: Path) -> None:
    result = check(spec).result
    assert [each.message for each in result.findings if each.level != "info"] == []
    draft = result.header.draft
    [main] = [each for each in draft.collectors if each.name == "main"]
    sizes = {bore.run: bore.tube.outside_diameter for bore in main.bores if bore.tube is not None}
    assert sizes == {"secondary front": 50.8, "primary 4": 42.4}
    merge = possible_merge(draft.tube, main)
    assert isinstance(merge, UnevenMerge)
    # a sleeve is as wide as its tube, the clearance of 0.3 and its own wall of 1.5 on either side
    assert [each.outer for each in merge.tubes] == pytest.approx([50.8 / 2 + 1.8, 42.4 / 2 + 1.8])
    ends = {end.run: (end.along, end.across) for end in result.survey.ends}
    assert ends["primary 4"] == pytest.approx((0.0, 0.0), abs=0.01)
    assert ends["secondary front"] == pytest.approx((0.0, 0.0), abs=0.01)


def test_written_in_full_it_is_the_same(spec: Path) -> None:
    again = spec.with_name("again.yaml")
    again.write_text(full_text(spec), encoding="utf-8")
    bores = [[each.bores for each in read_spec(path)[1].collectors] for path in (spec, again)]
    assert bores[0] == bores[1]


@pytest.mark.slow
def test_it_is_made_and_printed(spec: Path, tmp_path: Path) -> None:
    header = check(spec).result.header
    (tmp_path / "parts").mkdir()
    parts, overlaps = make_parts(header, tmp_path / "parts", lambda *_: None)
    assert "collector main" in {part.name for part in parts} and overlaps == ()
    mock = make_mock(header, MockSettings(plates=False, collector=True))
    assert {run for part in mock.parts for run in part.runs} >= {"primary 4", "secondary front"}
    assert len(mock.collectors) >= 2
