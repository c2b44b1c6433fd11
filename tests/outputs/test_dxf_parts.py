"""Flat patterns and rings as DXF, read back: audited, in millimetres, closed, of the areas that geometry says."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
from shapely.geometry import Point, Polygon, box

from headergen.geometry.curves.run import line_of
from headergen.geometry.transition.development import patterns
from headergen.geometry.transition.rulings import rounds
from headergen.model import Draft, Header, OutletRing, PortShape
from headergen.outputs.dxf import write_drawings
from headergen.outputs.dxf.document import CUT, MARK
from headergen.parts.table import parts_to_make
from tests.checks.small_header import draft as small
from tests.random_parts import TUBE, collector

D = PortShape("d", (38.0, 36.0, 5.0))
FREE = PortShape("free", (), ((20.0, 0.0), (5.0, 18.0), (-22.0, 3.0), (0.0, -15.0)))
RING = OutletRing(100.0, 9.0, math.radians(10), 3, 83.0, 8.5, math.radians(30))


def asked(*shapes: PortShape) -> Draft:
    """Ports of these shapes, each with a transition; a ring on the outlet."""
    made = small()
    first = made.flanges[0].ports[0]
    ports = tuple(replace(first, number=k, shape=shape, transition=40.0) for k, shape in enumerate(shapes, 1))
    merge = replace(collector(TUBE, 4, 10.0, 63.5), end=RING)
    runs = tuple(replace(made.runs[0], name=f"primary {port.number}", start=port) for port in ports)
    return replace(made, tube=TUBE, flanges=(replace(made.flanges[0], ports=ports),), collectors=(merge,), runs=runs)


def read(path: Path) -> tuple[list[Any], list[Any]]:
    """What is cut and what is marked."""
    document = ezdxf.readfile(path)
    auditor = document.audit()
    assert not auditor.errors and not auditor.fixes
    assert document.header["$INSUNITS"] == 4, "millimetres, by the DXF reference"
    space = document.modelspace()
    return [e for e in space if e.dxf.layer == CUT], [e for e in space if e.dxf.layer == MARK]


def polygon(contour: Any) -> Polygon:
    assert contour.closed
    return Polygon([(x, y) for x, y, *_ in contour.get_points()])


def drawings(folder: Path, made: Draft) -> dict[str, str]:
    lines = tuple(line_of(run) for run in made.runs)
    parts = [part for part in parts_to_make(Header(made, made.runs, lines)) if part.kind.role != "flange"]
    return write_drawings(folder, made, [(part, part.name.replace(" ", "_")) for part in parts])


def test_equal_transitions_share_a_pattern(tmp_path: Path) -> None:
    found = drawings(tmp_path, asked(D, replace(D, turn=0.5), FREE))
    assert [found[f"transition {k}"] for k in (1, 2, 3)] == ["transition_1.dxf", "transition_1.dxf", "transition_3.dxf"]
    _, marks = read(tmp_path / "transition_1.dxf")
    words = {mark.dxf.text for mark in marks if mark.dxftype() == "TEXT"}
    assert {"transition 1 2", "half, qty 4", "band 1, qty 2", "port below"} <= words


@pytest.mark.parametrize("shape", [D, FREE], ids=lambda shape: shape.kind)
def test_a_pattern_reads_back(shape: PortShape, tmp_path: Path) -> None:
    """Halves and band by an independent measure of area; the band is the plate's finished 9.7 less 2 mm of setback."""
    drawings(tmp_path, asked(shape))
    cut, marks = read(tmp_path / "transition_1.dxf")
    contours = [polygon(each) for each in cut]
    wanted = [half.area for half in patterns(shape, TUBE, 40.0)] + [rounds(shape, TUBE)[0] * 7.7]
    assert [each.area for each in contours] == pytest.approx(wanted)
    assert all(each.is_valid for each in contours)
    assert all(not a.intersects(b) for k, a in enumerate(contours) for b in contours[k + 1 :])
    for mark in marks:
        if mark.dxftype() == "LINE":
            ends = [Point(place.x, place.y) for place in (mark.dxf.start, mark.dxf.end)]
            (host,) = [each for each in contours if each.buffer(1e-6).contains(ends[0])]
            assert host.buffer(1e-6).contains(ends[1]) and ends[0].distance(ends[1]) == pytest.approx(4.0)
            assert ends[0].distance(host.exterior) < 1e-6
        else:
            corner = np.array(mark.dxf.insert)[:2]
            size = np.array([0.9 * mark.dxf.height * len(mark.dxf.text), mark.dxf.height])
            assert any(each.contains(box(*corner, *(corner + size))) for each in contours)


def test_a_ring_reads_back(tmp_path: Path) -> None:
    """Rim, bore round the outlet of 63.5, three holes on 83, the first 30 degrees from x."""
    assert drawings(tmp_path, asked(D))["outlet ring main"] == "outlet_ring_main.dxf"
    cut, marks = read(tmp_path / "outlet_ring_main.dxf")
    circles = [(e.dxf.center.x, e.dxf.center.y, e.dxf.radius) for e in cut]
    assert circles[:2] == [(0.0, 0.0, 50.0), (0.0, 0.0, pytest.approx(31.75))]
    holes = [(41.5 * math.cos(a), 41.5 * math.sin(a), 4.25) for a in np.radians([30.0, 150.0, 270.0])]
    assert [pytest.approx(hole) for hole in holes] == circles[2:]
    words = {mark.dxf.text for mark in marks}
    assert {"ring main", "304L", "9 mm", "turn 10 deg"} <= words
    for mark in marks:
        corner = np.array(mark.dxf.insert)[:2]
        size = np.array([0.9 * mark.dxf.height * len(mark.dxf.text), mark.dxf.height])
        around = box(*corner, *(corner + size))
        assert Point(0, 0).buffer(50.0).contains(around)
        assert not any(Point(x, y).buffer(r).intersects(around) for x, y, r in circles[1:])


def test_an_inch_job_has_inches_in_its_drawings(tmp_path: Path) -> None:
    """9 mm are 0.354 in, 1.5 mm are 0.059 in, and no thickness stands without its unit."""
    made = drawings(tmp_path, replace(asked(D), units="in"))
    marks = [mark for file in set(made.values()) for mark in read(tmp_path / file)[1]]
    words = [mark.dxf.text for mark in marks if mark.dxftype() == "TEXT"]
    assert {"0.354 in", "304L 0.059 in"} <= set(words)
    assert not [text for text in words if re.search(r"\d mm|\.\d+$|304L \d+$", text)]
