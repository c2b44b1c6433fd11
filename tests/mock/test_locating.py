"""Locating plates: where they stand, what goes through them, how far a tube can lean, feet, and the DXF."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from assembly import home, manifold

from headergen.geometry.centreline import frame_on
from headergen.geometry.mesh import Points
from headergen.geometry.tube_mesh import outer_skin
from headergen.mock.build import Mock
from headergen.mock.locating import last_straight, plate_pairs, plate_part, possible_lean
from headergen.model import Centreline, Header, Line, MockSettings, Plane
from headergen.outputs.dxf import write_plate_dxf

Demo = Callable[[str], tuple[Header, Mock]]


def longer(line: Centreline, by: float) -> Centreline:
    last = line.segments[-1]
    point, tangent, toward = frame_on(last, last.length)
    return Centreline(line.primary, (*line.segments, Line(last.step, point, tangent, toward, by)))


def test_lean_by_the_reference() -> None:
    """references.md: a tube with 0.3 mm a side in two plates 60 mm apart may lean 0.6°; in one of 6 mm, 5.7°."""
    assert math.degrees(possible_lean(0.3, 60.0)) == pytest.approx(0.6, abs=0.05)
    assert math.degrees(possible_lean(0.3, 6.0)) == pytest.approx(5.7, abs=0.05)


def test_tubes_made_longer_by_what_is_said_go_through_both_plates(name: str, demo: Demo) -> None:
    """Solid against solid: no tube touches a plate, half a millimetre more would, and ends come flush."""
    header, mock = demo(name)
    radius = header.draft.tube.radius
    assert len(mock.locating) == 2 * len(mock.pairs) == 2 * len(header.draft.collectors)
    by_name = {part.name: part for part in mock.locating}
    for pair, collector in zip(mock.pairs, header.draft.collectors, strict=True):
        assert pair.apart >= 1.5 * header.draft.tube.outside_diameter - 1e-9
        axis, origin = np.array(collector.frame.z), np.array(collector.frame.origin)
        numbers = [bore.primary for bore in collector.bores]
        lines = [longer(line, pair.add + 1e-6) for line in header.centrelines if line.primary in numbers]
        for line in lines:
            point = frame_on(line.segments[-1], line.segments[-1].length)[0]
            assert (np.array(point) - origin) @ axis == pytest.approx(pair.plates[1].downstream, abs=0.01)
        for plate in pair.plates:
            part = by_name[plate.name]
            solid = manifold(part.mesh, home(part))
            along = (part.mesh.vertices @ home(part)[0].T + home(part)[1] - origin) @ axis
            assert along.max() == pytest.approx(plate.downstream, abs=1e-3)
            assert np.ptp(along) == pytest.approx(plate.thickness, abs=1e-3)
            for line in lines:
                assert (solid ^ manifold(outer_skin(line, radius, 0.01).mesh)).volume() < 1e-6
                assert (solid ^ manifold(outer_skin(line, radius + 0.5, 0.01).mesh)).volume() > 50
            # on the straights: the first plate's near face is past the last bend
            assert plate.downstream - plate.thickness > -min(last_straight(line) for line in header.centrelines)


def test_long_straights_need_nothing_added(demo: Demo) -> None:
    header, _ = demo("bogbean")
    tube = header.draft.tube
    lines = tuple(longer(line, 100.0) for line in header.centrelines)
    [pair] = plate_pairs(replace(header, centrelines=lines), MockSettings())
    assert pair.add == 0.0 and pair.plates[1].downstream == 0.0
    [pair] = plate_pairs(header, MockSettings())
    room = min(last_straight(line) for line in header.centrelines)
    assert pair.add == pytest.approx(1.5 * tube.outside_diameter + 2 * 6.0 - (room - 5.0))


def table_heights(header: Header, table: Plane) -> list[Points]:
    """How high each vertex of each plate stands over the table."""
    found = []
    for pair in plate_pairs(header, MockSettings(table=table)):
        assert pair.has_feet
        for plate, collector in zip(pair.plates, header.draft.collectors * 2, strict=False):
            part = plate_part(plate, collector)
            points = part.mesh.vertices @ home(part)[0].T + home(part)[1]
            found.append((points - np.array(table.origin)) @ np.array(table.normal))
    return found


@pytest.mark.parametrize("lean", [0.0, 5.0, -8.0])
def test_feet_reach_the_table_and_no_further(demo: Demo, lean: float) -> None:
    """A table under the Bogbean's collector, level and tilted: every plate stays over it, one edge rests on it."""
    header, _ = demo("bogbean")
    normal = (math.sin(math.radians(lean)), 0.0, math.cos(math.radians(lean)))
    heights = table_heights(header, Plane((-470.0, 0.0, -480.0), normal))
    assert all(high.min() > -0.01 for high in heights)
    assert min(high.min() for high in heights) == pytest.approx(0.0, abs=0.01)
    # the resting edge is long: two corners of it are on the table
    lowest = min(heights, key=lambda high: float(high.min()))
    assert (lowest < 0.05).sum() >= 2


def test_a_table_out_of_reach_gives_no_feet(demo: Demo) -> None:
    header, _ = demo("bogbean")
    [pair] = plate_pairs(header, MockSettings(table=Plane((-600.0, 0.0, 0.0), (1.0, 0.0, 0.0))))
    assert not pair.has_feet


def test_the_dxf_reads_back_in_millimetres(demo: Demo, tmp_path: Path) -> None:
    header, mock = demo("bogbean")
    plate = mock.pairs[0].plates[0]
    for name in ("a.dxf", "b.dxf"):
        write_plate_dxf(tmp_path / name, plate, "Bogbean A")
    assert (tmp_path / "a.dxf").read_bytes() == (tmp_path / "b.dxf").read_bytes()
    drawing = ezdxf.readfile(tmp_path / "a.dxf")
    assert drawing.header["$INSUNITS"] == 4 and not drawing.audit().errors
    circles = drawing.modelspace().query("CIRCLE")
    wide = [circle for circle in circles if circle.dxf.radius > 10]
    tube = header.draft.tube
    assert [2 * circle.dxf.radius for circle in wide] == pytest.approx([tube.outside_diameter + 0.4] * 4)
    # a square of 46 mm pitch, firing order round it: neighbours a pitch apart, the others a diagonal
    middles = {hole.primary: hole.at for hole in plate.holes if hole.primary}
    assert math.dist(middles[1], middles[3]) == pytest.approx(46) and math.dist(
        middles[3], middles[4]
    ) == pytest.approx(46)
    assert math.dist(middles[1], middles[4]) == pytest.approx(46 * math.sqrt(2))
    [outline] = drawing.modelspace().query("LWPOLYLINE")
    assert outline.closed and len(outline) == len(plate.outline)
