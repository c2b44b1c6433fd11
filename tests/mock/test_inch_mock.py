"""What cannot be printed is said in the unit of the job; the figures are given here in both, 1 in = 25.4 mm."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.mock.joint import JointFit, fit_at
from headergen.mock.packing import has_room, pack
from headergen.mock.seated import middle_cut
from headergen.mock.sizes import Outside, OutsideSpan, refuse_growth_in_stub
from headergen.mock.solid import MockError
from headergen.mock.steel_adapter import adapter_part
from headergen.mock.strength import Neck, said_of
from headergen.mock.tubes import Span, tube_part
from headergen.model import Centreline, Line, MockSettings, Tube
from headergen.pipeline import settle

SPECS = Path(__file__).resolve().parents[2] / "specs"
METRIC = MockSettings()
BED = (220.0, 220.0, 250.0)
SLIM = Tube(8.0, 1.0, "304L")
LINE = Centreline("primary 1", (Line(1, (0.0, 0.0, 0.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0), 200.0),))
FIT = JointFit(4.0, 3.0, 3.2, 14.0, 0.2, None)


def box(x: float, y: float, z: float) -> TriangleMesh:
    corners = np.array([[a, b, c] for a in (0.0, x) for b in (0.0, y) for c in (0.0, z)])
    return TriangleMesh(corners, np.array([[0, 1, 2]]), closed=False)


def grown_in_stub(units: str) -> None:
    run = settle(SPECS / "guide_steps.yaml").run("primary 1")
    refuse_growth_in_stub(run, 254.0, units)


REFUSALS: dict[str, tuple[Callable[[str], object], str, str]] = {
    "bed": (
        lambda units: pack([("P1-1", box(304.8, 50.8, 25.4))], BED, units),
        "part P1-1 is 305 × 51 × 25 mm: the bed has no room for it",
        "part P1-1 is 12.0 × 2.0 × 1.0 in: the bed has no room for it",
    ),
    "spigot": (
        lambda units: fit_at(LINE, 50.8, SLIM, replace(METRIC, units=units), None),
        "primary 1: a spigot at 50.8 mm from the flange would be too slim",
        "primary 1: a spigot at 2.000 in from the flange would be too slim",
    ),
    "adapter": (
        lambda units: adapter_part("S1", LINE, (50.8, FIT), SLIM, replace(METRIC, units=units)),
        "primary 1: a steel adapter at 50.8 mm from the flange would be too slim",
        "primary 1: a steel adapter at 2.000 in from the flange would be too slim",
    ),
    "between fishmouths": (
        lambda units: middle_cut((10.0, 35.4), replace(METRIC, units=units)),
        "25 mm between its ends are too short for two parts",
        "1.00 in between its ends are too short for two parts",
    ),
}


@pytest.mark.parametrize("what", REFUSALS)
def test_a_refusal_is_in_the_unit_of_the_job(what: str) -> None:
    refused, *texts = REFUSALS[what]
    for units, text in zip(("mm", "in"), texts, strict=True):
        with pytest.raises(MockError, match=f"^{re.escape(text)}$"):
            refused(units)


def test_a_step_within_the_stub_is_said_in_the_unit_of_the_job() -> None:
    with pytest.raises(MockError, match=r"grows (\d+\.\d) mm from its port, within the 254\.0 mm that") as metric:
        grown_in_stub("mm")
    with pytest.raises(MockError, match=r"grows (\d+\.\d{3}) in from its port, within the 10\.000 in that") as inches:
        grown_in_stub("in")
    millimetres, inch = (float(re.findall(r"grows ([\d.]+)", str(each.value))[0]) for each in (metric, inches))
    assert inch * 25.4 == pytest.approx(millimetres, abs=0.07)
    assert "mm" not in str(inches.value)


def test_room_on_the_bed() -> None:
    assert has_room(box(200.0, 200.0, 250.0), BED)
    assert not has_room(box(200.0, 200.0, 251.0), BED)
    assert not has_room(box(320.0, 20.0, 20.0), BED)


def test_a_thin_neck_is_said_in_the_unit_of_the_job() -> None:
    neck = Neck(area=64.516, mass=300.0, lever=127.0, stress=99.0)  # 0.1 in², 5 in
    [metric], [inches] = said_of(neck, "mm"), said_of(neck, "in")
    assert metric.startswith("thin neck: 65 mm² bear 300 g, 127 mm off, with 99.0 MPa")
    assert inches.startswith("thin neck: 0.100 in² bear 300 g, 5.00 in off, with 99.0 MPa")


def test_an_overhang_is_said_in_the_unit_of_the_job() -> None:
    """A bore that closes at 45° under a spigot, for a printer that manages 30°."""
    tube, areas = Tube(42.4, 1.5, "304L"), list[float]()
    for units, of_one in (("mm", 1.0), ("in", 25.4**2)):
        settings = replace(METRIC, lean=math.radians(30.0), units=units)
        span = Span(0.0, 200.0, fit_at(LINE, 60.0, tube, settings, None), None)
        size = Outside((OutsideSpan(0.0, math.inf, (tube.radius, tube.radius)),))
        [note] = tube_part(LINE, span, size, settings, (1,), "P1-1").notes
        found = re.search(rf"([\d.]+) {units}² overhang by more than 30°", note)
        assert found is not None, note
        areas.append(float(found[1]) * of_one)
    assert areas[0] == pytest.approx(areas[1], abs=0.5 + 0.33)  # whole mm², thousandths of in²
