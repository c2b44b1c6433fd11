"""Printed collectors that are not of revolution: a row, a Y, and outlets of two sizes into one that tapers.

Their outsides are compared with ellipses written out here, and with the steel that goes in.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from assembly import home, manifold
from layers import as_trimesh, starts_in_mid_air
from manifold3d import CrossSection, FillRule, Manifold
from shapely.affinity import rotate, scale, translate
from shapely.geometry import Point
from shapely.ops import unary_union

from headergen.geometry.curves.centreline import cut_out
from headergen.geometry.merge.design import merge_of
from headergen.geometry.merge.uneven import UnevenMerge
from headergen.geometry.mesh.tube import tube_mesh
from headergen.mock.build import Mock, make_mock
from headergen.mock.collected import plan_collectors
from headergen.mock.part import MockPart, overhang
from headergen.model import Collector, Header, MockSettings
from headergen.pipeline import settle

GUIDE = Path(__file__).resolve().parents[2] / "specs" / "guide_merges.yaml"
MISSED = 5.0  # mm³: a hundredth of a millimetre over the end of a tube, by which a spec's digits may miss the plane
SETTINGS = MockSettings(bed=(220.0, 220.0, 250.0), collector=True, plates=False, flange=False)
TALL = replace(SETTINGS, bed=(220.0, 220.0, 400.0))
WIDENS, LONG = (35.0, 44.45), 120.0  # mm: radii of the last collector's outlet, and its length


@cache
def printed() -> tuple[Header, Mock]:
    header = settle(GUIDE)
    return header, make_mock(header, SETTINGS)


def of_collector(header: Header, name: str) -> tuple[Collector, UnevenMerge]:
    collector = next(each for each in header.draft.collectors if each.name == name)
    merge = merge_of(header.draft.tube, collector)
    assert isinstance(merge, UnevenMerge)
    return collector, merge


def parts_by_collector() -> dict[str, list[MockPart]]:
    header, mock = printed()
    return {
        each.name: [part for part in mock.collectors if set(part.runs) & {bore.run for bore in each.bores}]
        for each in header.draft.collectors
    }


def in_axes(collector: Collector, part: MockPart) -> Manifold:
    frame = collector.frame
    turn = np.array([frame.x, frame.y, frame.z])
    return manifold(part.mesh, home(part)).transform(np.column_stack([turn, -turn @ np.array(frame.origin)]))


def filled(section: CrossSection) -> float:
    """Area within the outer outlines."""
    return float(sum(CrossSection([polygon], FillRule.Positive).area() for polygon in section.to_polygons()))


def ellipses(merge: UnevenMerge, at: float) -> float:
    """Area of the union of the sections of tubes that run straight from their turn to the apex."""
    found = []
    for tube in merge.tubes:
        (x, y), off = tube.place, math.hypot(*tube.place)
        lean = math.atan2(off, merge.apex - merge.mitre)
        left = (merge.apex - at) / (merge.apex - merge.mitre)
        round_one = scale(Point(0, 0).buffer(tube.outer, 64), 1 / math.cos(lean), 1.0)
        found.append(translate(rotate(round_one, math.atan2(y, x), (0, 0), use_radians=True), x * left, y * left))
    return float(unary_union(found).area)


@pytest.mark.quick(1)
@pytest.mark.parametrize("which", ["row", "wye", "last"])
def test_its_outside_is_that_of_its_tubes(which: str) -> None:
    header, _ = printed()
    collector, merge = of_collector(header, which)
    solid = in_axes(collector, parts_by_collector()[which][0])
    first = 20.0 + max(tube.outer * math.sin(tube.lean) for tube in merge.tubes)
    for at in np.linspace(first, merge.cut - 1.0, 4).tolist():
        section = solid.slice(at)
        assert filled(section) == pytest.approx(ellipses(merge, at), rel=0.01), (which, at)


def test_a_tapered_outlet_is_printed_in_two_parts_of_its_own_shape() -> None:
    header, _ = printed()
    collector, merge = of_collector(header, "last")
    parts = parts_by_collector()["last"]
    assert [part.name for part in parts] == ["C3.1", "C3.2"]
    solids = [in_axes(collector, part) for part in parts]
    assert (solids[0] ^ solids[1]).volume() < 0.5
    for share in (0.1, 0.35, 0.6, 0.9):
        at = merge.cone_end + share * LONG
        radius = WIDENS[0] + share * (WIDENS[1] - WIDENS[0])
        assert max(filled(solid.slice(at)) for solid in solids) == pytest.approx(math.pi * radius**2, rel=0.005)
    assert solids[1].bounding_box()[5] == pytest.approx(merge.end, abs=1e-3)


@pytest.mark.parametrize("which", ["row", "wye", "last"])
def test_the_printed_tubes_stop_on_it_and_share_no_room_with_it(which: str) -> None:
    header, mock = printed()
    last = {part.runs[0]: manifold(part.mesh, home(part)) for part in mock.parts}
    collector, _ = of_collector(header, which)
    for part in parts_by_collector()[which]:
        solid = manifold(part.mesh, home(part))
        for run, tube in last.items():
            assert (solid ^ tube).volume() < MISSED, (part.name, run)
    first = manifold(parts_by_collector()[which][0].mesh, home(parts_by_collector()[which][0]))
    for bore in collector.bores:
        back = tuple(-0.3 * value for value in bore.frame.z)
        assert (first.translate(back) ^ last[bore.run]).volume() > 50.0, bore.run


@pytest.mark.parametrize("which", ["row", "wye", "last"])
def test_its_spigots_go_into_the_steel(which: str) -> None:
    header, _ = printed()
    tubes = {run.name: (run.tubes[-1], line) for run, line in header.tubes}
    collector, _ = of_collector(header, which)
    solid = manifold(parts_by_collector()[which][0].mesh, home(parts_by_collector()[which][0]))
    for bore in collector.bores:
        tube, line = tubes[bore.run]
        end = cut_out(line, line.length - 12.0, line.length)
        tight = tube_mesh(end, tube.radius, tube.radius - tube.wall - 0.1, 0.01)
        assert (solid ^ manifold(tight)).volume() < MISSED, bore.run


@pytest.mark.slow
def test_it_prints_without_support() -> None:
    _, mock = printed()
    assert [part.name for part in mock.collectors] == ["C1", "C2", "C3.1", "C3.2"]
    for part in mock.collectors:
        seen = as_trimesh(part.mesh)
        assert seen.is_watertight and seen.is_winding_consistent and seen.body_count == 1, part.name
        assert seen.volume == pytest.approx(part.volume, rel=1e-9) and part.volume > 0
        assert all(a <= b for a, b in zip(part.size, SETTINGS.bed, strict=True))
        assert overhang(part.mesh, SETTINGS.lean) < 0.02, part.name
        assert starts_in_mid_air(part.mesh) == [], part.name


def test_no_wall_between_passages_is_thinner_than_asked() -> None:
    """Just before the cut: air within the outline, and between two parts of it twice the inset of a plane."""
    header, _ = printed()
    for name in ("row", "wye", "last"):
        collector, merge = of_collector(header, name)
        solid = in_axes(collector, parts_by_collector()[name][0])
        holes = [
            p for p in solid.slice(merge.cut - 1.0).to_polygons() if CrossSection([p], FillRule.Positive).area() == 0
        ]
        assert len(holes) == merge.count
        for k, one in enumerate(holes):
            for other in holes[:k]:
                near = np.linalg.norm(np.array(one)[:, None] - np.array(other)[None], axis=2).min()
                assert near >= SETTINGS.wall - 0.02, name


def test_a_row_that_is_longer_than_the_bed_is_said() -> None:
    header, _ = printed()
    _, notes = plan_collectors(header, replace(SETTINGS, bed=(130.0, 130.0, 400.0)))
    assert any("Collector row is not printed" in note and "too large for the bed" in note for note in notes)
    plans, _ = plan_collectors(header, replace(SETTINGS, bed=(170.0, 90.0, 400.0)))
    assert "row" in [plan.collector.name for plan in plans]


def test_a_tall_bed_keeps_the_tapered_outlet_whole() -> None:
    header, _ = printed()
    plans, _ = plan_collectors(header, TALL)
    assert [plan.begins for plan in plans if plan.collector.name == "last"] == [()]
