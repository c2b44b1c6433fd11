"""Tabs of slip joints: as far apart as their spring is long, fitted to tube and sleeve, of the metal of their sheet."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest
from OCP.BRepExtrema import BRepExtrema_DistShapeShape
from scipy.integrate import quad
from shapely.geometry import MultiPoint, Point

from headergen.checks.judge import judge
from headergen.geometry.frames import dot, point_in, subtract
from headergen.model import Box, ChassisItem, Header, Straight, Tabs
from headergen.parts.tabs import TabSeat, tab_seats, tab_sheet
from headergen.pipeline import settle
from headergen.solids.build import make_parts
from headergen.solids.inspect import measure
from headergen.solids.shapes import common
from headergen.solids.sheet import sheet_solid
from headergen.solids.tube import tube_solid
from headergen.solve.closing import close
from tests.checks.small_header import LENGTH, draft, findings, measured, moved
from tests.random_parts import TUBE, collector

SPECS = Path(__file__).parents[2] / "specs"
TABS = Tabs(60.0)


def bundle(tabs: Tabs = TABS, **changes: object) -> Header:
    """Three straight tubes into a merge whose bores stand where the tubes end."""
    made = draft(*[[Straight(LENGTH)]] * 3, **changes)
    ring = replace(collector(TUBE, 3, 10.0, 57.0, pitch=60.0, frame=made.collectors[0].frame), tabs=tabs)
    ports = tuple(
        replace(port, frame=moved(port.frame, point_in(bore.frame, (0.0, 0.0, -LENGTH))))
        for port, bore in zip(made.flanges[0].ports, ring.bores, strict=True)
    )
    primaries = tuple(
        replace(primary, start=port, end=bore)
        for primary, port, bore in zip(made.primaries, ports, ring.bores, strict=True)
    )
    flange = replace(made.flanges[0], ports=ports)
    return close(replace(made, collectors=(ring,), runs=primaries, flanges=(flange,)))


def seats(header: Header) -> list[TabSeat]:
    return [seat for each in header.draft.collectors for seat in tab_seats(header, each)]


def hole(seat: TabSeat) -> tuple[float, float, float]:
    return point_in(seat.frame, (0.0, seat.reach, 0.0))


def metal(seat: TabSeat) -> float:
    """∫ over the sheet of what of its outline stands over the tube's skin there, √(r² − z²), less the hole.

    The outline by another library: the hull of the foot's corners and a circle 3 mm wider than the hole.
    """
    tabs, r = seat.tabs, seat.radius
    corners = [(x, r) for x in (-tabs.length / 2, tabs.length / 2)]
    rim = Point(0.0, seat.reach).buffer(tabs.hole / 2 + 3.0, quad_segs=512)
    above = MultiPoint([*corners, *rim.exterior.coords]).convex_hull.area - math.pi * tabs.hole**2 / 4
    below = quad(lambda z: tabs.length * (r - math.sqrt(r**2 - z**2)), -tabs.thickness / 2, tabs.thickness / 2)[0]
    return float(above * tabs.thickness + below)


def test_a_pair_stands_on_each_joint() -> None:
    header = bundle()
    found = seats(header)
    assert [seat.name for seat in found] == [
        name for k in (1, 2, 3) for name in (f"tab on bore {k} of main", f"tab on primary {k}")
    ]
    axis = header.draft.collectors[0].frame
    for on_sleeve, on_tube in zip(found[::2], found[1::2], strict=True):
        assert math.dist(hole(on_sleeve), hole(on_tube)) == pytest.approx(60.0, abs=1e-9)
        # slip 40, 4 mm of sleeve for the bead, half a foot of 14: 29 mm before the plane, the other 89
        heights = [dot(subtract(seat.frame.origin, axis.origin), axis.z) for seat in (on_sleeve, on_tube)]
        assert heights == pytest.approx([-29.0, -89.0])
        off = subtract(hole(on_tube), axis.origin)
        assert dot(on_tube.frame.y, off) > 0, "away from the axis"


def test_the_metal_of_its_sheet() -> None:
    for seat in seats(bundle(replace(TABS, length=16.0, hole=6.0, thickness=4.0)))[:2]:
        facts = measure(sheet_solid(tab_sheet(seat), seat.name))
        assert (facts.valid, facts.closed, facts.shells) == (True, True, 1)
        assert facts.volume == pytest.approx(metal(seat), rel=1e-5)


def test_on_bends_it_is_fitted_to_the_tube() -> None:
    """The Bogbean's stand on bends and on their ends: no common metal, no gap, the spring as long as asked."""
    header = settle(SPECS / "bogbean.yaml")
    found = seats(header)
    for on_sleeve, on_tube in zip(found[::2], found[1::2], strict=True):
        assert math.dist(hole(on_sleeve), hole(on_tube)) == pytest.approx(62.0, abs=1e-6)
        line = next(each for each in header.centrelines if each.run == on_tube.host)
        tube, tab = tube_solid(line, 21.2, 19.7), sheet_solid(tab_sheet(on_tube), on_tube.name)
        assert measure(common(tube, tab)).volume == pytest.approx(0.0, abs=0.01)
        assert BRepExtrema_DistShapeShape(tube, tab).Value() < 1e-4


@pytest.mark.slow
def test_they_are_parts_of_the_header(tmp_path: Path) -> None:
    parts, overlaps = make_parts(bundle(), tmp_path, lambda *_: None)
    assert overlaps == (), "welded parts touch, and share nothing"
    tabs = [part for part in parts if part.role == "tab"]
    assert len(tabs) == 6 and all(part.mesh is not None and part.mesh.closed for part in tabs)
    assert (tmp_path / "tab_on_primary_1.step").exists()


def test_they_keep_off_the_chassis() -> None:
    """A wall 5 mm over the first tab's rim, where 15 are required; the tubes are clear of it."""
    header = bundle()
    seat = seats(header)[1]
    top = seat.reach + 2.5 + 3.0
    wall = Box(replace(seat.frame, origin=point_in(seat.frame, (0.0, top + 15.0, 0.0))), (10.0, 20.0, 30.0))
    said = [
        (f.where, f.value)
        for f in judge(measured(replace(header.draft, chassis=(ChassisItem("wall", wall, 15.0),))))
        if f.rule == "part-clear"
    ]
    assert said == [("tab on primary 1", 5.0)]


def test_tabs_that_reach_a_neighbour_are_told() -> None:
    """Turned toward the middle of the bundle they run into the other tubes; none does where it stands by itself."""
    near = [f for f in findings(bundle(replace(TABS, height=25.0, turn=math.radians(150))).draft) if "tab" in f.where]
    assert near and all(f.rule == "part-clear" and f.limit == 0.0 for f in near)
    assert not [f for f in findings(bundle().draft) if "tab" in f.where]


def test_a_spring_too_long_for_its_tube() -> None:
    said = [f for f in findings(bundle(replace(TABS, apart=500.0)).draft) if f.rule == "tab-place"]
    assert len(said) == 3 and (said[0].value, said[0].limit) == (360.0, 500.0)
