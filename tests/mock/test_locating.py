"""Locating plates: where they stand, what goes through them, how far a tube can lean, feet, and the DXF."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from assembly import home, manifold
from shapely import Point, Polygon, box

from headergen.geometry.curves.centreline import frame_on
from headergen.geometry.frames import point_in
from headergen.geometry.mesh.triangles import Points
from headergen.geometry.mesh.tube import outer_skin
from headergen.mock.build import Mock
from headergen.mock.locating import last_straight, plate_pairs, plate_part, possible_lean, unreached, without_plates
from headergen.model import Centreline, Datum, Frame, Header, Line, MockSettings, Plane
from headergen.outputs.dxf import write_plate_dxf
from headergen.pipeline import settle

Demo = Callable[[str], tuple[Header, Mock]]


def longer(line: Centreline, by: float) -> Centreline:
    last = line.segments[-1]
    point, tangent, toward = frame_on(last, last.length)
    return Centreline(line.run, (*line.segments, Line(last.step, point, tangent, toward, by)))


def test_lean_by_the_reference() -> None:
    """references.md: a tube with 0.3 mm a side in two plates 60 mm apart may lean 0.6°; in one of 6 mm, 5.7°."""
    assert math.degrees(possible_lean(0.3, 60.0)) == pytest.approx(0.6, abs=0.05)
    assert math.degrees(possible_lean(0.3, 6.0)) == pytest.approx(5.7, abs=0.05)


@cache
def crossover() -> Header:
    return settle(Path(__file__).parents[2] / "specs" / "guide_crossover.yaml")


@pytest.mark.slow
def test_the_tubes_of_a_y_go_through_slots() -> None:
    """Solid against solid: no leaning tube touches a plate, and in any direction it moves half a millimetre at most."""
    header = crossover()
    pairs = plate_pairs(header, MockSettings(), header.tubes)
    pair = next(pair for pair in pairs if pair.plates[0].collector == "y")
    collector = next(each for each in header.draft.collectors if each.name == "y")
    axis, origin = np.array(collector.frame.z), np.array(collector.frame.origin)
    assert math.degrees(pair.leaning) == pytest.approx(15.0) and pair.apart >= 1.5 * 45.0
    for plate in pair.plates:
        made = plate_part(plate, collector)
        solid = manifold(made.mesh, home(made))
        for bore in collector.bores:
            way = np.array(bore.frame.z)
            lines = [line for line in header.centrelines if line.run == bore.run]
            tube = manifold(outer_skin(longer(lines[0], pair.add), 45.0 / 2, 0.001).mesh)
            assert (solid ^ tube).volume() < 1e-3, plate.name
            for turn in np.linspace(0, 2 * math.pi, 12, endpoint=False):
                out = np.cross(way, axis) / np.linalg.norm(np.cross(way, axis))
                aside = 0.5 * (math.cos(turn) * out + math.sin(turn) * np.cross(way, out))
                assert (solid ^ tube.translate(tuple(aside))).volume() > 0.0, (plate.name, turn)
            end = np.array(bore.frame.origin) + pair.add * way - origin
            shortest = float(end @ axis) - 45.0 / 2 * math.sin(math.radians(15))
            assert shortest == pytest.approx(pair.plates[1].downstream, abs=1e-6)


def test_plates_that_would_stand_where_the_tubes_of_a_y_cross_are_refused() -> None:
    """Straights of 20 mm: both plates would reach past the plane, where the tubes of the guide are too near."""
    header = crossover()
    collectors = tuple(
        replace(each, bores=tuple(replace(bore, frame=_nearer(bore.frame)) for bore in each.bores))
        if each.name == "y"
        else each
        for each in header.draft.collectors
    )
    runs = {bore.run for each in collectors if each.name == "y" for bore in each.bores}
    short = [
        (run, Centreline(run.name, (Line(1, (0.0, 0.0, 0.0), (0.0, 1.0, 0.0), (1.0, 0.0, 0.0), 20.0),)))
        for run in header.runs
        if run.name in runs
    ]
    near = replace(header, draft=replace(header.draft, collectors=collectors))
    assert plate_pairs(near, MockSettings(), short) == ()
    [note] = without_plates(near, MockSettings(), short)
    assert note.startswith("The last straights of collector y are too short for its locating plates: they would reach")
    [inches] = without_plates(near, MockSettings(units="in"), short)
    of_metric, of_inches = (re.findall(r"[\d.]+(?= (?:mm|in) )", each) for each in (note, inches))
    assert len(of_metric) == 2 and " mm" not in inches
    assert [float(each) * 25.4 for each in of_inches] == pytest.approx([float(each) for each in of_metric], abs=0.7)


def _nearer(frame: Frame) -> Frame:
    """19 mm nearer to the axis, which is along x at y = 0."""
    x, y, z = frame.origin
    return replace(frame, origin=(x, y - math.copysign(19.0, y), z))


def test_tubes_made_longer_by_what_is_said_go_through_both_plates(name: str, demo: Demo) -> None:
    """Solid against solid: no tube touches a plate, half a millimetre more would, and ends come flush."""
    header, mock = demo(name)
    radius = header.draft.tube.radius
    assert len(mock.locating) == 2 * len(mock.pairs) == 2 * len(header.draft.collectors)
    by_name = {part.name: part for part in mock.locating}
    for pair, collector in zip(mock.pairs, header.draft.collectors, strict=True):
        assert pair.apart >= 1.5 * header.draft.tube.outside_diameter - 1e-9
        axis, origin = np.array(collector.frame.z), np.array(collector.frame.origin)
        numbers = [bore.run for bore in collector.bores]
        lines = [longer(line, pair.add + 1e-6) for line in header.centrelines if line.run in numbers]
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
            # on the straights: the first plate's near face is past the last bend of each tube that goes through it
            mine = [last_straight(line) for line in header.centrelines if line.run in numbers]
            assert plate.downstream - plate.thickness > -min(mine)


def test_the_print_goes_through_both_plates(name: str, demo: Demo) -> None:
    """The plastic itself: flush with the far face of the second plate, in no plate's way, and grooved where the steel
    ends."""
    header, mock = demo(name)
    radius = header.draft.tube.radius
    plates = {part.name: manifold(part.mesh, home(part)) for part in mock.locating}
    for pair, collector in zip(mock.pairs, header.draft.collectors, strict=True):
        frame = collector.frame
        axes = np.array([frame.x, frame.y, frame.z])
        for bore in collector.bores:
            part = [part for part in mock.parts if part.runs == (bore.run,)][-1]
            rotation, shift = home(part)
            along = (part.mesh.vertices @ rotation.T + shift - np.array(frame.origin)) @ axes[2]
            assert along.max() == pytest.approx(pair.plates[1].downstream, abs=0.02)
            for plate in pair.plates:
                assert (plates[plate.name] ^ manifold(part.mesh, home(part))).volume() < 1e-6
            seen = manifold(part.mesh, home(part)).transform(
                np.column_stack([axes, -axes @ np.array(bore.frame.origin)])
            )
            at, past = seen.slice(0.0), seen.slice(3.0)
            assert max(np.linalg.norm(each, axis=1).max() for each in at.to_polygons()) < radius - 0.5
            assert max(np.linalg.norm(each, axis=1).max() for each in past.to_polygons()) > radius - 0.05


@pytest.mark.slow
def test_a_part_through_both_plates_gives_way_to_a_printed_collector(whole_demo: Demo) -> None:
    """With a collector to print each end is a part of its own: taken off, the collector's spigot has its socket."""
    header, mock = whole_demo("bogbean")
    [pair] = mock.pairs
    assert len(pair.stand_in) == 4
    frame = header.draft.collectors[0].frame
    axis, origin = np.array(frame.z), np.array(frame.origin)
    by_name = {part.name: part for part in mock.parts}
    collector = mock.collectors[0]
    for name in pair.stand_in:
        part = by_name.pop(name)
        along = (part.mesh.vertices @ home(part)[0].T + home(part)[1] - origin) @ axis
        assert along.max() == pytest.approx(pair.plates[1].downstream, abs=0.02)
        assert part.pieces == ()
    solid = manifold(collector.mesh, home(collector))
    # a spec of rounded digits leaves 0.01 mm over the end of a tube
    assert all((solid ^ manifold(part.mesh, home(part))).volume() < 5.0 for part in by_name.values())


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
    """A table under the Bogbean's collector, level and tilted: each plate is over it, an edge on it."""
    header, _ = demo("bogbean")
    normal = (math.sin(math.radians(lean)), 0.0, math.cos(math.radians(lean)))
    heights = table_heights(header, Plane((-470.0, 0.0, -480.0), normal))
    assert all(high.min() > -0.01 for high in heights)
    for high in heights:
        assert high.min() == pytest.approx(0.0, abs=0.01)
        assert (high < 0.05).sum() >= 2  # the resting edge is long: two corners of it are on the table
    table = Plane((-470.0, 0.0, -480.0), normal)
    [pair] = plate_pairs(header, MockSettings(table=table))
    along = 1 / math.hypot(1.0, 0.05)  # the part of the collector's axis, [-1, 0.05, 0], that the table is tilted about
    assert math.sin(pair.tilt) == pytest.approx(abs(math.sin(math.radians(lean))) * along)


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
    middles = {hole.run: hole.at for hole in plate.holes if hole.run}
    assert math.dist(middles["primary 1"], middles["primary 3"]) == pytest.approx(46) and math.dist(
        middles["primary 3"], middles["primary 4"]
    ) == pytest.approx(46)
    assert math.dist(middles["primary 1"], middles["primary 4"]) == pytest.approx(46 * math.sqrt(2))
    [outline] = drawing.modelspace().query("LWPOLYLINE")
    assert outline.closed and len(outline) == len(plate.outline)


def boxes_of(drawing: ezdxf.document.Drawing) -> list[tuple[str, Polygon]]:
    """Every mark with the box round it: letters nine tenths of their height wide."""
    found = []
    for mark in drawing.modelspace().query("TEXT"):
        x, y, _ = mark.dxf.insert
        found.append((mark.dxf.text, box(x, y, x + 0.9 * mark.dxf.height * len(mark.dxf.text), y + mark.dxf.height)))
    return found


def test_marks_stand_in_the_metal_of_the_plate(name: str, demo: Demo, tmp_path: Path) -> None:
    """Within the outline, off every hole and off each other; what finds no room is left out, the numbers never are."""
    _, mock = demo(name)
    for plate in (plate for pair in mock.pairs for plate in pair.plates):
        write_plate_dxf(tmp_path / "plate.dxf", plate, "A title that may be as long as the shop likes")
        marks = boxes_of(ezdxf.readfile(tmp_path / "plate.dxf"))
        metal = Polygon(plate.outline)
        for hole in plate.holes:
            metal = metal.difference(Point(hole.at).buffer(hole.diameter / 2))
        for k, (words, mark) in enumerate(marks):
            assert metal.contains(mark), (plate.name, words)
            assert not any(mark.intersects(other) for _, other in marks[:k])
        wanted = {hole.mark for hole in plate.holes if hole.run is not None}
        assert wanted | {plate.name} <= {words for words, _ in marks}


def test_letters_on_the_print_leave_its_edges_whole(name: str, demo: Demo) -> None:
    """At the letters' depth the plate has the same outline and holes as below, and the letters beside them."""
    _, mock = demo(name)
    for part in mock.locating:
        solid = manifold(part.mesh)
        below, above = solid.slice(2.0), solid.slice(part.size[2] - 0.1)
        sizes = [sorted(abs(Polygon(p).area) for p in section.to_polygons()) for section in (below, above)]
        for area in sizes[0]:
            assert min(abs(area - other) for other in sizes[1]) < 1e-3, part.name
        assert len(sizes[1]) > len(sizes[0])


def test_reference_points_have_their_holes(demo: Demo) -> None:
    """One past the plates, one between them, one within a plate; one in a tube's hole and one far off have none."""
    header, _ = demo("bogbean")
    frame = header.draft.collectors[0].frame
    bare = plate_pairs(header, MockSettings())[0]
    upper, lower = bare.plates

    def datum(name: str, x: float, y: float, z: float) -> Datum:
        return Datum(name, point_in(frame, (x, y, z)), 10.0)

    spots = [hole.at for hole in upper.holes if hole.run is not None]
    settings = MockSettings(
        datums=(
            datum("tab", 90.0, 80.0, lower.downstream + 12.5),
            datum("rail", -100.0, 60.0, upper.downstream + 4.0),
            datum("bracket", -60.0, -95.0, upper.downstream - 2.0),
            datum("in a tube", spots[0][0], -spots[0][1], 0.0),
            datum("far", 400.0, 0.0, 0.0),
        )
    )
    [pair] = plate_pairs(header, settings)
    assert [(d.name, d.plate, d.is_past) for d in pair.datums] == [
        ("tab", lower.name, True),
        ("rail", upper.name, True),
        ("bracket", upper.name, False),
    ]
    assert [d.spacer for d in pair.datums] == pytest.approx([12.5, 4.0, 0.0])
    assert [note.split(":")[0] for note in unreached([pair], settings)] == [
        "Reference point in a tube",
        "Reference point far",
    ]
    for plate in pair.plates:
        part = plate_part(plate, header.draft.collectors[0])
        solid = manifold(part.mesh, home(part))
        axis = np.array(frame.z)
        for name, (x, y) in {"tab": (90.0, 80.0), "rail": (-100.0, 60.0), "bracket": (-60.0, -95.0)}.items():
            middle = np.array(point_in(frame, (x, y, plate.downstream))) - 20 * axis
            rod = Centreline("", (Line(1, tuple(middle), frame.z, frame.x, 40.0),))
            assert (solid ^ manifold(outer_skin(rod, 4.95, 0.01).mesh)).volume() < 1e-6, name
            assert (solid ^ manifold(outer_skin(rod, 10.0, 0.01).mesh)).volume() == pytest.approx(
                math.pi * (10.0**2 - 5.0**2) * plate.thickness, rel=0.01
            )
