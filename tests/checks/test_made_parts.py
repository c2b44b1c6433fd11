"""Made parts against the chassis, by boxes whose distances are plain, and against each other."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from headergen.checks.judge import judge_made, runs_without_solid
from headergen.checks.made_parts import made_gaps
from headergen.geometry.distance.depth import places_on
from headergen.geometry.frames import WORLD
from headergen.geometry.mesh.boxes import box_mesh
from headergen.geometry.mesh.index import index_of
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.model import Bend, Box, ChassisItem, Cylinder, Gap, Header, MeshRef, Overlap, Plane, Shape, Straight
from headergen.pipeline import Checked, judge_parts
from headergen.solve.closing import close
from tests.checks.small_header import draft, measured, moved
from tests.demos import checked_once

ROOT = Path(__file__).parents[2]


def block(x: float, size: float) -> Box:
    return Box(moved(WORLD, (x, 0.0, 0.0)), (size, size, size))


def gap(part: Box, shape: Shape, name: str = "boss lambda", **item: object) -> list[Gap]:
    chassis = (ChassisItem("item", shape, 15.0, **item),)  # type: ignore[arg-type]
    header: Header = close(draft(chassis=chassis))
    meshes = {"item": box_mesh(block(60.0, 20.0))} if isinstance(shape, MeshRef) else {}
    indices = {item: index_of(mesh) for item, mesh in meshes.items()}
    return list(made_gaps(header, indices, {name: box_mesh(part)}, {"flange": "", "transition 1": ""}))


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
    assert (found.a, found.b, found.required) == ("boss lambda", "item", 15.0)
    assert abs(found.points[1][0] - found.points[0][0]) == pytest.approx(40.0, abs=1e-3)


def test_a_part_across_the_skin_and_one_swallowed_whole() -> None:
    (across,) = gap(block(0.0, 20.0), block(15.0, 20.0))
    assert across.value == pytest.approx(-5.0, abs=1e-3) and across.at_least and not across.inside
    (within,) = gap(block(0.0, 20.0), block(0.0, 100.0))
    assert within.value == pytest.approx(-40.0, abs=1e-3) and within.inside


def test_what_stands_on_the_head_is_not_measured_against_it() -> None:
    for name, count in (("flange", 0), ("transition 1", 0), ("boss lambda", 1), ("collector main", 1)):
        assert len(gap(block(0.0, 20.0), block(15.0, 20.0), name, free_from_flange=35.0)) == count
    of_another = {"free_from_flange": 35.0, "flanges": ("right",)}
    assert len(gap(block(0.0, 20.0), block(15.0, 20.0), "flange", **of_another)) == 1, "the head of another flange"
    assert gap(block(0.0, 20.0), block(900.0, 20.0)) == [], "far off"


def test_how_deep_a_part_reaches_into_a_round_bar_and_behind_a_plane() -> None:
    """Faces of the part, and no corner of it, are inside the bar: 3 mm of the bar's 20 are over the face at x = 10."""
    (bar,) = gap(block(0.0, 20.0), Cylinder((17.0, 0.0, -90.0), (17.0, 0.0, 90.0), 20.0))
    assert -3.0 - 0.5 < bar.value < -3.0 + 0.5 and bar.at_least  # the bar has 48 sides; places are 2 mm apart
    (floor,) = gap(block(0.0, 20.0), Plane((4.0, 0.0, 0.0), (-1.0, 0.0, 0.0)))
    assert floor.value == pytest.approx(-6.0, abs=1e-3)


def test_parts_in_an_enclosure() -> None:
    """A part of 20 mm in a box of 100: 40 mm to its walls. Half out of it, 10 mm deep; outside, by its distance."""
    (held,) = gap(block(0.0, 20.0), block(0.0, 100.0), role="enclosure")
    assert held.value == pytest.approx(40.0, abs=1e-3) and not held.inside
    (through,) = gap(block(50.0, 20.0), block(0.0, 100.0), role="enclosure")
    assert through.value == pytest.approx(-10.0, abs=1e-3) and not through.inside
    (out,) = gap(block(75.0, 20.0), block(0.0, 100.0), role="enclosure")
    assert out.value == pytest.approx(-15.0, abs=1e-3) and out.inside


def test_an_open_surface_cannot_say_how_deep() -> None:
    whole = box_mesh(block(15.0, 20.0))
    header = close(draft(chassis=(ChassisItem("item", MeshRef("scan.stl", "0", "mm", WORLD), 15.0, "surface"),)))
    index = index_of(TriangleMesh(whole.vertices, whole.faces[:-2], closed=False))
    (found,) = made_gaps(header, {"item": index}, {"boss lambda": box_mesh(block(0.0, 20.0))})
    assert (found.value, found.at_least, found.crosses) == (0.0, False, True)
    (said,) = judge_made(header.draft, [found], ())
    assert "boss lambda and item cross, 0.0 mm between them; the depth in an open surface is not known" in said.message
    (clear,) = made_gaps(header, {"item": index}, {"boss lambda": box_mesh(block(-20.0, 20.0))})
    assert clear.value == pytest.approx(15.0, abs=1e-3) and not clear.crosses


def test_a_closed_surface_says_how_deep_and_does_not_only_cross() -> None:
    (across,) = gap(block(0.0, 20.0), block(15.0, 20.0))
    assert across.value < 0 and not across.crosses


def test_places_are_nowhere_farther_apart_than_they_say() -> None:
    """On a long thin box: every point of its skin, a seeded handful of each face, has a place within half the spacing's
    diagonal."""
    mesh = box_mesh(Box(moved(WORLD, (0.0, 0.0, 0.0)), (200.0, 30.0, 1.0)))
    places = places_on(mesh)
    random = np.random.default_rng(3)
    shares = random.dirichlet((1.0, 1.0, 1.0), 40)
    points = np.concatenate([shares @ mesh.vertices[face] for face in mesh.faces])
    nearest = np.array([np.linalg.norm(places - point, axis=1).min() for point in points])
    assert nearest.max() <= 2.0 * np.sqrt(2) / 2 + 1e-9
    assert len(places) < 3 * (2 * (200 * 30 + 200 + 30)) / 2.0**2


@pytest.fixture(scope="module")
def checked() -> Checked:
    return checked_once("bogbean")


def test_findings_of_made_parts_join_the_others(checked: Checked) -> None:
    head = next(item.shape for item in checked.result.header.draft.chassis if item.name == "gearbox")
    assert isinstance(head, Cylinder)
    near = box_mesh(Box(moved(WORLD, head.start), (10.0, 10.0, 10.0)))
    result = judge_parts(checked, (), {"boss lambda": near}, (Overlap(("spike main", "collector main"), 5.0),))
    rules = [finding.rule for finding in result.findings]
    assert rules.count("parts-overlap") == 1 and "part-clear" in rules
    assert len(result.part_gaps) > 3


def test_what_an_envelope_has_said_is_not_said_again(checked: Checked) -> None:
    said = Gap("flange", "sump", 15.0, 3.0, ((0.0,) * 3, (0.0,) * 3))
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
    for length, without in ((40.0, {"primary 1"}), (30.0, set())):
        made = draft(steps)
        port = replace(made.flanges[0].ports[0], transition=length)
        primary = replace(made.primaries[0], start=port)
        asked = replace(made, flanges=(replace(made.flanges[0], ports=(port,)),), runs=(primary,))
        assert runs_without_solid(measured(asked)) == without
