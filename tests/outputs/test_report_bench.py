"""Pieces and joints on the report page."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from headergen.geometry.curves.body import distance_to_body, tube_body
from headergen.outputs.report.bench import bench_sections
from headergen.outputs.report.sections import Table
from tests.demos import checked_once, planned_once

SPEC = Path(__file__).parents[2] / "specs" / "glasswort_left.yaml"


@pytest.mark.slow
def test_each_joint_has_its_place_on_the_tube() -> None:
    header, shop = checked_once("glasswort_left").result.header, planned_once("glasswort_left")
    pieces, joints = bench_sections(header, shop)
    [_, table], [places] = pieces.blocks, joints.blocks
    assert isinstance(table, Table) and isinstance(places, Table)
    assert len(table.rows) == len(shop.plan.pieces) > 0
    assert len(places.rows) == len(places.sights) == len(shop.plan.joints) > 0
    lines = {run.name: tube_body(line, run.tube.radius) for run, line in header.tubes}
    for joint, sight in zip(shop.plan.joints, places.sights, strict=True):
        assert sight is not None
        away, at = distance_to_body(lines[joint.run], np.array(sight.points[:1]))
        assert at[0] == pytest.approx(joint.at, abs=1e-6)
        assert away[0] == pytest.approx(-lines[joint.run].radius, abs=1e-6), "in the middle of the tube"


def test_without_a_plan_nothing_is_said_of_the_bench() -> None:
    assert list(bench_sections(checked_once("glasswort_left").result.header, None)) == []
