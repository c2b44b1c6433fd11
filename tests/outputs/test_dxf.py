"""The flange as DXF, read back: audited, in millimetres, every contour closed, and of the plate's own area."""

from __future__ import annotations

import math
import os
import subprocess
import sys
from functools import cache
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
from ezdxf.path import make_path

from headergen.geometry.plate.flange import Plate, plate_of
from headergen.geometry.plate.outline import area, bounds, points_on
from headergen.outputs.dxf.document import CUT, MARK
from headergen.outputs.dxf.plate import drawing
from tests.random_parts import TUBE, random_flange


def read(text: str, folder: Path) -> Any:
    path = folder / "flange.dxf"
    path.write_text(text, encoding="utf-8", newline="\n")
    return ezdxf.readfile(path)


def polygon_of(contour: Any) -> np.ndarray:
    """The contour as the reading library flattens it: arcs as cubic curves, which are off by up to 3e-4 of a radius."""
    return np.array([(p.x, p.y) for p in make_path(contour).flattening(0.0005)])


def area_of(places: np.ndarray) -> float:
    x, y = places.T
    return abs(float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) / 2)


@cache
def drawn(seed: int) -> tuple[Plate, str]:
    flange = random_flange(seed)
    plate = plate_of(flange, TUBE)
    return plate, drawing(plate, "Bogbean A flange", {port.number: str(port.number) for port in flange.ports})


@pytest.mark.quick(1)
@pytest.mark.parametrize("seed", range(20))
def test_it_reads_back_as_the_same_plate(seed: int, tmp_path: Path) -> None:
    plate, text = drawn(seed)
    document = read(text, tmp_path)
    auditor = document.audit()
    assert not auditor.errors and not auditor.fixes
    assert document.header["$INSUNITS"] == 4, "millimetres, by the DXF reference"
    contours = [e for e in document.modelspace() if e.dxf.layer == CUT]
    wanted = [plate.outline, *(hole.outline for hole in plate.holes)]
    assert len(contours) == len(wanted)
    for contour, outline in zip(contours, wanted, strict=True):
        assert contour.dxftype() == "CIRCLE" or contour.closed
        places = polygon_of(contour)
        assert area_of(places) == pytest.approx(area(outline), rel=6e-4)
        low, high = bounds(outline)
        assert (*places.min(axis=0), *places.max(axis=0)) == pytest.approx((*low, *high), abs=0.015)


@pytest.mark.parametrize("seed", range(20))
def test_marks_stand_in_metal(seed: int, tmp_path: Path) -> None:
    """Letters are taken to be nine tenths of their height wide: no place of any edge is in the box round them."""
    plate, text = drawn(seed)
    marks = [e for e in read(text, tmp_path).modelspace() if e.dxf.layer == MARK]
    assert all(mark.dxftype() == "TEXT" and mark.dxf.height >= 2.5 for mark in marks)
    assert "Bogbean A flange" in {mark.dxf.text for mark in marks} or len(plate.ports) == 1
    edges = np.concatenate([points_on(o, 0.5) for o in (plate.outline, *(hole.outline for hole in plate.holes))])
    low, high = bounds(plate.outline)
    for mark in marks:
        corner = np.array(mark.dxf.insert)[:2]
        size = np.array([0.9 * mark.dxf.height * len(mark.dxf.text), mark.dxf.height])
        assert not ((edges > corner) & (edges < corner + size)).all(axis=1).any()
        assert (corner > low).all() and (corner + size < high).all()


def test_an_arc_keeps_its_bulge(tmp_path: Path) -> None:
    """DXF reference: the bulge of an arc is the tangent of a quarter of its angle."""
    plate, text = drawn(3)
    outer = next(e for e in read(text, tmp_path).modelspace() if e.dxftype() == "LWPOLYLINE")
    sweeps = [4 * math.atan(bulge) for *_, bulge in outer.get_points("xyb")]
    assert sum(sweeps) == pytest.approx(2 * math.pi), "a hull turns once round in its arcs"
    assert sweeps == pytest.approx([edge.sweep for edge in plate.outline])


@pytest.mark.slow
def test_the_same_bytes_in_any_process(tmp_path: Path) -> None:
    script = (
        "import sys; from pathlib import Path; import tests.outputs.test_dxf as t;"
        "Path(sys.argv[1]).write_text(t.drawn(5)[1], newline='\\n')"
    )
    root = Path(__file__).parents[2]
    written = [drawn(5)[1].encode()]  # of this process
    for seed in ("0", "7"):
        path = tmp_path / f"{seed}.dxf"
        environment = {**os.environ, "PYTHONHASHSEED": seed}
        subprocess.run([sys.executable, "-c", script, str(path)], check=True, env=environment, cwd=root)
        written.append(path.read_bytes())
    assert written[0] == written[1] == written[2]
