"""A header moved with everything round it keeps every number."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from headergen.geometry.curves.centreline import trace
from headergen.geometry.frames import frame_from_normal, point_in
from headergen.geometry.mesh.boxes import box_mesh
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.model import (
    Bend,
    Box,
    Centreline,
    ChassisItem,
    Cylinder,
    Draft,
    Fit,
    Frame,
    HeaderRef,
    MeshRef,
    Plane,
    Straight,
    TubeRun,
    Vec,
)
from tests.checks.small_header import FACE, draft, measured, moved

WAVE = [Straight(100.0), Bend(0.4, 63.5, 0.3), Straight(80.0), Bend(0.4, 63.5, math.pi), Straight(165.0)]


def carried(frame: Frame, by: Frame) -> Frame:
    still = Frame((0.0, 0.0, 0.0), by.x, by.y, by.z)
    return Frame(point_in(by, frame.origin), *(point_in(still, axis) for axis in (frame.x, frame.y, frame.z)))


def carried_line(line: Centreline, by: Frame) -> Centreline:
    still = Frame((0.0, 0.0, 0.0), by.x, by.y, by.z)
    segments = (
        replace(
            each,
            start=point_in(by, each.start),
            tangent=point_in(still, each.tangent),
            normal=point_in(still, each.normal),
        )
        for each in line.segments
    )
    return replace(line, segments=tuple(segments))


def carried_item(item: ChassisItem, by: Frame) -> ChassisItem:
    def point(p: Vec) -> Vec:
        return point_in(by, p)

    shape = item.shape
    if isinstance(shape, Box):
        shape = Box(carried(shape.frame, by), shape.size)
    elif isinstance(shape, Cylinder):
        shape = Cylinder(point(shape.start), point(shape.end), shape.diameter)
    elif isinstance(shape, TubeRun):
        shape = TubeRun(tuple(point(p) for p in shape.points), shape.diameter)
    elif isinstance(shape, Plane):
        turned = Frame((0.0, 0.0, 0.0), by.x, by.y, by.z)
        shape = Plane(point(shape.origin), point_in(turned, shape.normal))
    elif isinstance(shape, HeaderRef):
        shape = replace(shape, tubes=tuple((carried_line(line, by), width) for line, width in shape.tubes))
    return replace(item, shape=shape)


def carried_draft(made: Draft, by: Frame) -> Draft:
    ports = tuple(replace(port, frame=carried(port.frame, by)) for port in made.flanges[0].ports)
    collectors = tuple(
        replace(
            each,
            frame=carried(each.frame, by),
            bores=tuple(replace(bore, frame=carried(bore.frame, by)) for bore in each.bores),
        )
        for each in made.collectors
    )
    bores = {bore.run: bore for each in collectors for bore in each.bores}
    primaries = tuple(
        replace(primary, start=port, end=bores[primary.name])
        for primary, port in zip(made.primaries, ports, strict=True)
    )
    return replace(
        made,
        flanges=(replace(made.flanges[0], frame=carried(made.flanges[0].frame, by), ports=ports),),
        collectors=collectors,
        runs=primaries,
        chassis=tuple(carried_item(item, by) for item in made.chassis),
    )


@pytest.mark.parametrize("seed", range(6))
def test_rigid_motion_changes_no_number(seed: int) -> None:
    """Gaps of tubes to 1e-9 mm, rounding over 1000 mm; ends, lengths and fitted values to 1e-7, where closing ends.

    A part's gap is searched for between two solids and ends within 1e-4.
    """
    rng = np.random.default_rng(seed)
    by = frame_from_normal(tuple(rng.uniform(-900, 900, 3)), tuple(rng.normal(size=3)), tuple(rng.normal(size=3)))
    solid = Box(moved(FACE, (200.0, 60.0, 150.0)), (60.0, 70.0, 80.0))
    mesh = box_mesh(solid)
    beside = trace(moved(FACE, (90.0, 0.0, 60.0)), WAVE)
    chassis = (
        ChassisItem("box", Box(moved(FACE, (-70.0, 180.0, 30.0)), (50.0, 60.0, 70.0)), 15.0),
        ChassisItem("rod", Cylinder((60.0, 100.0, -80.0), (90.0, 300.0, 90.0), 44.0), 15.0),
        ChassisItem("plane", Plane((0.0, 0.0, -70.0), (0.0, 0.6, 0.8)), 15.0),
        ChassisItem("line", TubeRun(((-80.0, 50.0, 20.0), (-60.0, 200.0, -40.0), (-70.0, 500.0, 0.0)), 8.0), 40.0),
        ChassisItem("other header", HeaderRef("other.yaml", "0", ((beside, 38.0),)), 15.0),
        ChassisItem("mesh", MeshRef("a.stl", "0", "mm", FACE), 15.0),
    )
    here = draft(WAVE, [Straight(400.0)], chassis=chassis)
    opened = replace(here.primaries[1], fits=(Fit(1, "length", 10.0, 1e6),))
    here = replace(
        here,
        runs=(here.primaries[0], opened),
        collectors=(replace(here.collectors[0], join="slip", slip=30.0, half_angle=0.2, outlet=50.0),),
    )
    turned = np.array([point_in(by, tuple(vertex)) for vertex in mesh.vertices.tolist()])
    one = measured(here, {"mesh": mesh})
    two = measured(carried_draft(here, by), {"mesh": TriangleMesh(turned, mesh.faces.copy(), closed=True)})
    assert two.lengths == pytest.approx(one.lengths, abs=1e-7)
    for a, b in zip(one.gaps, two.gaps, strict=True):
        assert b.value == pytest.approx(a.value, abs=1e-9), (a.place, a.b)
        assert (b.runs_through, b.on_boundary, len(b.near)) == (a.runs_through, a.on_boundary, len(a.near))
    assert len(one.part_gaps) > 2
    for c, d in zip(one.part_gaps, two.part_gaps, strict=True):
        assert (d.a, d.b) == (c.a, c.b) and d.value == pytest.approx(c.value, abs=1e-4)
    for e, f in zip(one.ends, two.ends, strict=True):
        assert (f.along, f.across, f.angle) == pytest.approx((e.along, e.across, e.angle), abs=1e-7)
