"""Made parts against the chassis, by boxes whose distances are plain, and against each other."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from headergen.checks.judge import primaries_without_solid
from headergen.checks.made_parts import made_gaps
from headergen.geometry.boxes import box_mesh
from headergen.geometry.frames import WORLD
from headergen.geometry.index import index_of
from headergen.geometry.mesh import TriangleMesh
from headergen.model import Bend, Box, ChassisItem, Cylinder, Header, MeshRef, Overlap, PartGap, Plane, Shape, Straight
from headergen.pipeline import Checked, check, judge_parts
from headergen.solve.closing import close
from tests.checks.small_header import draft, measured, moved

ROOT = Path(__file__).parents[2]


def block(x: float, size: float) -> Box:
    return Box(moved(WORLD, (x, 0.0, 0.0)), (size, size, size))


def gap(part: Box, shape: Shape, name: str = "boss lambda", **item: object) -> list[PartGap]:
    chassis = (ChassisItem("item", shape, 15.0, **item),)  # type: ignore[arg-type]
    header: Header = close(draft(chassis=chassis))
    meshes = {"item": box_mesh(block(60.0, 20.0))} if isinstance(shape, MeshRef) else {}
    indices = {item: index_of(mesh) for item, mesh in meshes.items()}
    return list(made_gaps(header, indices, {name: box_mesh(part)}))


@pytest.mark.parametrize(
    "shape",
    [
        block(60.0, 20.0),
        Cylinder((50.0, 0.0, 0.0), (70.0, 0.0, 0.0), 20.0),
        Plane((50.0, 0.0, 0.0), (-1.0, 0.0, 0.0)),
        MeshRef("frame.stl", "0", "mm", WORLD),
    ],
    ids=["box", "cylinder", "plane", "mesh"],
)
def test_a_part_forty_millimetres_away(shape: Shape) -> None:
    """A box from −10 to 10, and an item that begins at 50."""
    (found,) = gap(block(0.0, 20.0), shape)
    assert found.value == pytest.approx(40.0, abs=1e-3) and not found.inside
    assert (found.part, found.other, found.required) == ("boss lambda", "item", 15.0)
    assert abs(found.points[1][0] - found.points[0][0]) == pytest.approx(40.0, abs=1e-3)


def test_a_part_across_the_skin_and_one_swallowed_whole() -> None:
    (across,) = gap(block(0.0, 20.0), block(15.0, 20.0))
    assert across.value == 0.0 and not across.inside
    (within,) = gap(block(0.0, 20.0), block(0.0, 100.0))
    assert within.value == pytest.approx(-40.0, abs=1e-3) and within.inside


def test_what_stands_on_the_head_is_not_measured_against_it() -> None:
    for name, count in (("flange", 0), ("transition 1", 0), ("boss lambda", 1), ("collector main", 1)):
        assert len(gap(block(0.0, 20.0), block(15.0, 20.0), name, free_from_flange=35.0)) == count
    assert gap(block(0.0, 20.0), block(0.0, 100.0), role="enclosure") == []
    assert gap(block(0.0, 20.0), block(900.0, 20.0)) == [], "far off"


@pytest.fixture(scope="module")
def checked() -> Checked:
    return check(ROOT / "specs" / "bogbean.yaml")


def test_findings_of_made_parts_join_the_others(checked: Checked) -> None:
    head = next(item.shape for item in checked.result.header.draft.chassis if item.name == "gearbox")
    assert isinstance(head, Cylinder)
    near = box_mesh(Box(moved(WORLD, head.start), (10.0, 10.0, 10.0)))
    result = judge_parts(checked, (), {"boss lambda": near}, (Overlap(("spike main", "collector main"), 5.0),))
    rules = [finding.rule for finding in result.findings]
    assert rules.count("parts-overlap") == 1 and "part-clear" in rules
    assert len(result.part_gaps) > 3


def test_what_an_envelope_has_said_is_not_said_again(checked: Checked) -> None:
    said = PartGap("flange", "sump", 15.0, 3.0, ((0.0,) * 3, (0.0,) * 3))
    survey = replace(checked.result.survey, part_gaps=(said,))
    mesh = TriangleMesh(
        np.array([[-150.0, -150, -390], [-149, -150, -390], [-150, -149, -390]]), np.array([[0, 1, 2]]), False
    )
    twice = judge_parts(replace(checked, result=replace(checked.result, survey=survey)), (), {"flange": mesh}, ())
    assert not [f for f in twice.findings if f.where == "flange" and "sump" in f.message]
    once = judge_parts(checked, (), {"flange": mesh}, ())
    assert [f for f in once.findings if f.where == "flange" and "sump" in f.message]


def test_a_tube_that_its_transition_leaves_no_room_has_no_solid() -> None:
    """A straight of 40 mm before the first bend, and 9.7 of plate with 40 of transition: 49.7."""
    steps = [Straight(40.0), Bend(0.3, 63.5, 0.0), Straight(200.0)]
    for length, without in ((40.0, {1}), (30.0, set())):
        made = draft(steps)
        port = replace(made.flange.ports[0], transition=length)
        primary = replace(made.primaries[0], port=port)
        asked = replace(made, flange=replace(made.flange, ports=(port,)), primaries=(primary,))
        assert primaries_without_solid(measured(asked)) == without
