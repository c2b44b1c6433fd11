"""Flange, sleeves, merge and outlet as simple envelopes, and their gaps to the chassis."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from headergen.checks.envelopes import envelopes
from headergen.checks.measure import Meshes
from headergen.geometry.curves.centreline import trace
from headergen.geometry.distance.convex import Convex
from headergen.geometry.frames import WORLD, frame_from_normal
from headergen.geometry.mesh.boxes import box_mesh
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.model import (
    Bolt,
    Box,
    ChassisItem,
    Cylinder,
    Draft,
    HeaderRef,
    MeshRef,
    Plane,
    PortShape,
    Straight,
    TubeRun,
)
from tests.checks.small_header import LENGTH, draft, findings, measured, moved

SLEEVE = 21.2 + 0.3 + 1.5  # tube, sliding gap, wall
HOLE = 21.2 + 0.2  # tube, and the room round it in the plate
MARGIN = 12.0  # of plate beyond holes, unless the spec says otherwise


def merging(*chassis: ChassisItem) -> Draft:
    """One tube into a slip collector that narrows from its sleeve to 30 mm at 10°, then 80 mm of outlet."""
    made = draft([Straight(LENGTH)], chassis=chassis)
    collector = replace(
        made.collectors[0], join="slip", slip=40.0, half_angle=math.radians(10), outlet=30.0, outlet_length=80.0
    )
    return replace(made, collectors=(collector,))


def part(made: Draft, name: str) -> Convex:
    return next(each for each in envelopes(made) if each.name.startswith(name)).solid


def reaches(solid: Convex, direction: tuple[float, float, float]) -> float:
    """How far a solid goes along a direction from the origin."""
    return float(solid.farthest(np.array([direction]))[0] @ np.array(direction))


ALONG, BACK, UP = (0.0, 1.0, 0.0), (0.0, -1.0, 0.0), (0.0, 0.0, 1.0)  # the tube runs along y


def test_what_the_envelopes_are() -> None:
    """The merge is as long as its drop in radius over the tangent of its half angle, the formula of a cone [C]."""
    made = merging()
    sleeve, merge, outlet = (part(made, name) for name in ("slip sleeve", "merge", "outlet"))
    length = (SLEEVE - 15) / math.tan(math.radians(10))
    for solid, start, end in (
        (sleeve, LENGTH - 40, LENGTH),
        (merge, LENGTH, LENGTH + length),
        (outlet, LENGTH + length, LENGTH + length + 80),
    ):
        assert (-reaches(solid, BACK), reaches(solid, ALONG)) == pytest.approx((start, end))
    assert [reaches(solid, UP) for solid in (sleeve, merge, outlet)] == pytest.approx([SLEEVE, SLEEVE, 15.0])
    at_its_side = np.array([[0.0, LENGTH + length / 2, (SLEEVE + 15) / 2]])
    assert merge.skin(at_its_side)[0][0] == pytest.approx(0.0, abs=1e-9)


def test_a_welded_collector_has_no_sleeves_and_wraps_the_tubes() -> None:
    made = merging()
    welded = replace(made, collectors=(replace(made.collectors[0], join="weld", slip=0.0),))
    assert [each.name for each in envelopes(welded)] == [
        "flange",
        "merge of collector main",
        "outlet of collector main",
    ]
    assert reaches(part(welded, "merge"), UP) == pytest.approx(21.2)


@pytest.mark.parametrize(("outlet", "names"), [(2 * SLEEVE, ["outlet"]), (60.0, ["merge", "outlet"]), (None, [])])
def test_an_outlet_as_wide_as_the_bores_needs_no_merge(outlet: float | None, names: list[str]) -> None:
    """Wider than the bores, the merge opens by its half angle instead; without an outlet there is neither."""
    made = merging()
    wide = replace(made, collectors=(replace(made.collectors[0], outlet=outlet),))
    found = [each for each in envelopes(wide) if each.name.startswith(("merge", "outlet"))]
    assert [each.name.split()[0] for each in found] == names
    if found:
        assert reaches(found[-1].solid, UP) == pytest.approx(outlet / 2)  # type: ignore[operator]
        drop = abs(SLEEVE - outlet / 2) / math.tan(math.radians(10))  # type: ignore[operator]
        assert reaches(found[-1].solid, ALONG) == pytest.approx(LENGTH + drop + 80)


def test_the_merge_holds_every_bore() -> None:
    made = draft([Straight(LENGTH)], [Straight(LENGTH)], pitch=50.0)
    merging = replace(made.collectors[0], half_angle=math.radians(10), outlet=63.5)
    [_, *merge] = envelopes(replace(made, collectors=(merging,)))
    assert merge and {each.name for each in merge} == {"merge of collector main"}
    for primary in made.primaries:
        rim = np.add(primary.end.frame.origin, [[21.2, 0, 0], [-21.2, 0, 0], [0, 0, 21.2]])
        assert (np.min([each.solid.skin(rim)[0] for each in merge], axis=0) <= 1e-9).all()


@pytest.mark.parametrize("shape", [PortShape("round", (38.0,)), PortShape("rectangle", (38.0, 38.0, 6.0))])
def test_the_flange_goes_round_ports_and_bolts(shape: PortShape) -> None:
    """Port 38 mm at the middle, bolt 8 mm at (45, −30): from −19 to 49 and from −34 to 19, and a margin round it."""
    made = draft()
    port = replace(made.flanges[0].ports[0], shape=shape)
    flange = part(
        replace(made, flanges=(replace(made.flanges[0], bolts=(Bolt((45.0, -30.0), 8.0),), ports=(port,)),)), "flange"
    )
    x, y = np.array(made.flanges[0].frame.x), np.array(made.flanges[0].frame.y)
    spans = [(-reaches(flange, tuple(-axis)), reaches(flange, tuple(axis))) for axis in (x, y, np.array(ALONG))]
    assert spans[0] == pytest.approx((-HOLE - MARGIN, 49 + MARGIN))
    assert spans[1] == pytest.approx((-34 - MARGIN, HOLE + MARGIN))
    assert spans[2] == pytest.approx((0.0, 10.0 - 0.3)), "its back is on the face of the head; it is faced by 0.3 mm"


END = LENGTH + (SLEEVE - 15) / math.tan(math.radians(10))  # where the merge ends and the outlet begins
BESIDE_OUTLET = trace(frame_from_normal((42.0, END + 30, -90.0), UP), [Straight(200.0)])


@pytest.mark.parametrize(
    ("shape", "what", "gap"),
    [
        # faces 6 mm off the sleeve, square to x; 20 mm upstream of the plane
        (Box(moved(WORLD, (SLEEVE + 6 + 10, LENGTH - 20, 0)), (20.0, 10.0, 20.0)), "slip sleeve of bore 1", 6.0),
        (Cylinder((25.0, END + 40, -60.0), (25.0, END + 40, 60.0), 10.0), "outlet", 25 - 15 - 5),
        (TubeRun(((-60.0, END + 40, 23.0), (60.0, END + 40, 23.0)), 6.0), "outlet", 23 - 15 - 3),
        (Plane((0.0, 0.0, -SLEEVE - 4), (0.0, 0.0, 1.0)), "merge", 4.0),
        (Plane((0.0, -3.0, 0.0), (0.0, 1.0, 0.0)), "flange", 3.0),
        # its flat end stands 4 mm off the flange's edge, though it is 60 mm wide
        (Cylinder((HOLE + MARGIN + 4, 5.0, 0.0), (200.0, 5.0, 0.0), 60.0), "flange", 4.0),
        # the tube of another header beside the outlet
        (HeaderRef("b.yaml", "0", ((BESIDE_OUTLET, 40.0),)), "outlet", 42 - 15 - 20),
        # a needle 3 mm inside the merge's side, half way along: the side leans by 10°, the needle's edge is deepest
        (
            Cylinder((200.0, (LENGTH + END) / 2, 0.0), ((SLEEVE + 15) / 2 - 3, (LENGTH + END) / 2, 0.0), 0.02),
            "merge",
            -3 * math.cos(math.radians(10)) - 0.01 * math.sin(math.radians(10)),
        ),
    ],
    ids=["box", "cylinder", "line", "plane below", "plane behind", "end on", "header", "inside the merge"],
)
def test_a_part_too_near_is_found_and_said(shape: object, what: str, gap: float) -> None:
    item = ChassisItem("mount", shape, 8.0)  # type: ignore[arg-type]
    survey = measured(merging(item))
    found = next(each for each in survey.part_gaps if each.a.startswith(what))
    assert found.value == pytest.approx(gap, abs=1e-6)
    said = [f for f in findings(merging(item)) if f.rule == "part-clear" and f.where.startswith(what)]
    assert len(said) == 1 and "mount" in said[0].message and "8.0 mm required" in said[0].message
    assert f"{abs(gap):.1f} mm" in said[0].message


def test_what_is_far_away_is_left_out() -> None:
    far = ChassisItem("mount", Box(moved(WORLD, (300.0, 200.0, 0.0)), (20.0, 20.0, 20.0)), 8.0)
    assert measured(merging(far)).part_gaps == ()


def test_the_flange_may_stand_on_the_head() -> None:
    head = ChassisItem("head", Box(moved(WORLD, (0, -50.0, 0)), (200.0, 100.0, 200.0)), 15.0, free_from_flange=30.0)
    assert [gap for gap in measured(merging(head)).part_gaps if gap.a == "flange"] == []


def test_a_part_wholly_inside_something_closed() -> None:
    tank = ChassisItem("tank", Box(moved(WORLD, (0.0, END + 40, 0.0)), (300.0, 400.0, 300.0)), 8.0)
    said = [f.message for f in findings(merging(tank)) if f.rule == "part-clear"]
    assert any("outlet of collector main is wholly on the wrong side of tank" in message for message in said)


def test_a_collector_keeps_off_tubes_that_go_elsewhere() -> None:
    """Two tubes 50 mm apart into two collectors: the sleeve of one is 50 − 21.2 − its own radius from the other."""
    made = draft([Straight(LENGTH)], [Straight(LENGTH)], pitch=50.0)
    one, two = made.primaries
    first = replace(made.collectors[0], bores=(one.end,), join="slip", slip=40.0)
    second = replace(first, name="other", bores=(replace(two.end, collector="other"),))
    split = replace(made, collectors=(first, second), runs=(one, replace(two, end=second.bores[0])))
    gaps = [gap for gap in measured(split).part_gaps if gap.b == "primary 2"]
    assert gaps[0].value == pytest.approx(50 - 21.2 - SLEEVE, abs=1e-9)


def said_of(made: Draft, what: str, meshes: Meshes | None = None) -> str:
    [message] = [f.message for f in findings(made, meshes) if f.rule == "part-clear" and f.where.startswith(what)]
    return message


def test_a_mesh_is_measured_like_the_box_it_is() -> None:
    """The same box as a solid and as a mesh, out of square to everything: one gap."""
    box = Box(frame_from_normal((60.0, END, 30.0), (3.0, 1.0, 2.0)), (40.0, 50.0, 60.0))
    as_box = measured(merging(ChassisItem("mount", box, 15.0))).part_gaps
    ref = MeshRef("mount.stl", "0", "mm", WORLD)
    as_mesh = measured(merging(ChassisItem("mount", ref, 15.0)), {"mount": box_mesh(box)}).part_gaps
    assert as_box and as_box == as_mesh


def test_an_open_mesh_has_no_inside() -> None:
    tank = box_mesh(Box(moved(WORLD, (0.0, END, 0.0)), (300.0, 500.0, 300.0)))
    opened = TriangleMesh(tank.vertices.copy(), tank.faces[:6].copy(), closed=False)
    item = ChassisItem("tank", MeshRef("tank.stl", "0", "mm", WORLD), 8.0)
    assert any(gap.inside for gap in measured(merging(item), {"tank": tank}).part_gaps)
    assert not any(gap.inside for gap in measured(merging(item), {"tank": opened}).part_gaps)


def test_a_tunnel_may_hold_the_merge_but_not_be_broken_through() -> None:
    tunnel = ChassisItem("tunnel", Box(moved(WORLD, (0, END, 0)), (200.0, 2000.0, 200.0)), 8.0, role="enclosure")
    assert all(gap.value >= gap.required for gap in measured(merging(tunnel)).part_gaps)
    low = replace(tunnel, shape=Box(moved(WORLD, (0, END, 90.0)), (200.0, 2000.0, 200.0)))
    assert "breaks out of tunnel, which it must stay inside" in said_of(merging(low), "outlet")


def test_two_collectors_keep_off_each_other() -> None:
    """Two tubes 60 mm apart, each into a merge that opens to an outlet of 58 mm: 60 − 58 mm between the outlets."""
    made = draft([Straight(LENGTH)], [Straight(LENGTH)], pitch=60.0)
    one, two = made.primaries
    first = replace(made.collectors[0], bores=(one.end,), half_angle=math.radians(10), outlet=58.0, outlet_length=80.0)
    there = moved(first.frame, two.end.frame.origin)
    second = replace(first, name="other", frame=there, bores=(replace(two.end, collector="other"),))
    split = replace(made, collectors=(first, second), runs=(one, replace(two, end=second.bores[0])))
    gaps = {(gap.a, gap.b): gap.value for gap in measured(split).part_gaps}
    assert gaps["outlet of collector main", "outlet of collector other"] == pytest.approx(2.0, abs=1e-9)
    assert gaps["merge of collector main", "merge of collector other"] == pytest.approx(2.0, abs=1e-9)
    assert "is 2.0 mm from outlet of collector other; 5.0 mm required" in " ".join(f.message for f in findings(split))
