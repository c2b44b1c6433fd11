"""What is said of scans: sides that cannot be told, holes run through, an enclosure taken for an obstacle, doubts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trimesh

from headergen.checks.judge import judge
from headergen.checks.measure import survey
from headergen.geometry.frames import WORLD
from headergen.geometry.mesh.boxes import box_mesh
from headergen.geometry.mesh.index import TriangleIndex, build_index, index_of
from headergen.model import (
    Box,
    ChassisItem,
    Draft,
    FileFacts,
    FitSpread,
    MeshFacts,
    MeshRef,
    PairResidual,
    Straight,
    Vec,
)
from headergen.model.finding import Finding
from headergen.solve.closing import close
from tests.checks.small_header import LENGTH, draft, moved

REF = MeshRef("bay.stl", "0", "mm", WORLD)
FACTS = MeshFacts("bay", "bay.stl", FileFacts(12), "mm", "spec", (1.0, 1.0, 1.0), 30.0)


def header(*paths: list[Straight], **more: object) -> Draft:
    return draft(*paths, chassis=(replace(ChassisItem("bay", REF, 15.0), **more),))  # type: ignore[arg-type]


def found(made: Draft, index: TriangleIndex, facts: MeshFacts = FACTS) -> dict[str, Finding]:
    measured = survey(close(made), {"bay": index}, (facts,))
    return {finding.rule: finding for finding in judge(measured)}


def bay(middle: Vec = (0.0, 200.0, 0.0), size: Vec = (400.0, 1200.0, 400.0)) -> TriangleIndex:
    return index_of(box_mesh(Box(moved(WORLD, middle), size)))


def holed_ball(radius: float, hole: float) -> TriangleIndex:
    """A ball round the middle of the tube, open where the tube comes in: no facet within `hole` of its line."""
    made = trimesh.creation.icosphere(5, radius)
    triangles = np.asarray(made.vertices)[made.faces] + (0.0, LENGTH, 0.0)
    keep = (np.hypot(triangles[..., 0], triangles[..., 2]).min(axis=1) > hole) | (
        triangles[..., 1].max(axis=1) > LENGTH
    )
    return build_index(triangles[keep])


def test_all_inside_a_closed_mesh_asks_whether_it_is_an_enclosure() -> None:
    said = found(header(), bay())
    assert said["mesh-role"].level == "error" and "write role: enclosure" in said["mesh-role"].message
    assert "mesh-role" not in found(header(role="enclosure"), bay())
    two = header([Straight(LENGTH)], [Straight(LENGTH)])
    beside = bay(size=(100.0, 1200.0, 100.0))  # holds the first of two tubes only
    assert "mesh-role" not in found(two, beside)


def test_a_tube_through_a_hole_of_the_scan_is_a_warning() -> None:
    said = found(header(), holed_ball(250.0, 60.0))
    assert said["mesh-hole"].level == "warning" and "through a hole" in said["mesh-hole"].message
    assert "mesh-hole" not in found(header(role="surface"), holed_ball(250.0, 60.0))


def test_a_tube_through_the_skin_is_a_crossing_and_no_hole() -> None:
    said = found(header(), holed_ball(250.0, 0.0))
    assert "gap-chassis" in said and "mesh-hole" not in said


def halved(whole: TriangleIndex) -> TriangleIndex:
    triangles = whole.triangles()
    return build_index(triangles[triangles.mean(axis=1)[:, 2] < 1.0])


def test_half_a_shell_does_not_say_which_side() -> None:
    said = found(header(), halved(bay((0.0, 200.0, -10.0))))
    assert said["mesh-side"].level == "warning" and "is not a single closed one" in said["mesh-side"].message
    assert not {"gap-chassis", "mesh-role", "mesh-open"} & set(said)
    two = found(
        header([Straight(LENGTH)], [Straight(LENGTH)]), halved(bay((0.0, 200.0, -10.0), (600.0, 1200.0, 400.0)))
    )
    assert "Primaries 1 and 2 lie within the outer bounds of bay" in two["mesh-side"].message
    assert "mesh-side" not in found(header(role="surface"), halved(bay((0.0, 200.0, -10.0))))
    assert "must run inside bay" in found(header(role="enclosure"), halved(bay()))["mesh-side"].message


def test_a_tube_that_sticks_out_of_the_box_of_half_a_shell_is_outside_but_for_holes() -> None:
    said = found(header(), halved(bay((0.0, 600.0, -10.0), (400.0, 1200.0, 400.0))))
    assert "mesh-side" not in said
    assert "mesh-open" not in said or "not on which side" in said["mesh-open"].message


def test_within_its_clearance_an_open_surface_is_an_error_and_no_doubt() -> None:
    said = found(header(clearance=300.0), halved(bay()))
    assert said["gap-chassis"].level == "error" and "mesh-side" not in said


def test_far_from_an_open_surface_nothing_is_said_of_sides() -> None:
    triangles = bay((0.0, 0.0, -2000.0)).triangles()
    half = build_index(triangles[triangles.mean(axis=1)[:, 2] < -1999.0])
    assert "mesh-open" not in found(header(), half)


def test_a_gap_held_by_less_than_the_doubt_is_a_warning() -> None:
    """A plate 38.2 mm off the centreline: a gap of 17 mm where 15 are required, placed to within 3 mm."""
    plate = index_of(box_mesh(Box(moved(WORLD, (0.0, 200.0, -88.2)), (300.0, 600.0, 100.0))))
    assert "gap-uncertain" not in found(header(), plate)
    spread = FitSpread((0.0, 200.0, -38.2), tuple(map(tuple, np.eye(3) * 1e12)), 4, 1.5**2, 10**6)  # type: ignore[arg-type]
    doubt = replace(FACTS, spread=spread, residuals=(PairResidual("hole", 3.0),) * 4, within=5.0)
    said = found(header(), plate, doubt)["gap-uncertain"]
    assert (said.level, said.value, said.limit) == ("warning", 17.0, 15.0)
    assert "its placement by points may be off by 2.2 mm there" in said.message  # 1.5/√4 · √χ²(3), 97 %: 2.99
    cloud = replace(FACTS, spacing=2.5)
    assert "points are up to 2.5 mm apart" in found(header(), plate, cloud)["gap-uncertain"].message
    assert "gap-uncertain" not in found(header(), plate, replace(cloud, spacing=1.9))


@pytest.mark.parametrize("name", ["mesh-units", "mesh-read", "mesh-points"])
def test_what_was_assumed_is_said(name: str) -> None:
    content = FileFacts(1000, left_out=3, points_only=True, assumed=("the commas in its numbers were read as points",))
    said = found(header(), bay((0.0, 200.0, -900.0)), replace(FACTS, content=content, units="in", units_from="size"))
    assert "bay.stl" in said[name].message and said[name].where == "bay"
