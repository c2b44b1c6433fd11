"""Rings and bells on the end of an outlet: metal by formula, where they stand, and the room for their bolts."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh

from headergen.checks.envelopes import envelopes
from headergen.geometry.merge.design import merge_of
from headergen.model import OutletBell, OutletRing
from headergen.outputs.stl import write_stl
from headergen.parts.outlet import end_frame
from headergen.parts.outlet_end import FLARE, ring_bolts
from headergen.parts.rooms import rooms
from headergen.solids.build import make_parts
from headergen.solids.inspect import measure
from headergen.solids.mesh import solid_mesh
from headergen.solids.outlet_end import end_solid
from headergen.solve.closing import close
from headergen.spec.reader import read_spec
from headergen.spec.writer import spec_text
from tests.random_parts import TUBE, collector

CHORD = 0.05
FOUR = collector(TUBE, 4, 10.0, 63.5)
MERGE = merge_of(TUBE, FOUR)
OUTER, INNER = MERGE.outlet_outer, MERGE.outlet_inner


def refuse_unsound(end: OutletRing | OutletBell, volume: float, folder: Path) -> None:
    """The solid has the volume of the formula, and its STL, read by another library, is closed and nearly as large."""
    solid = end_solid(end, MERGE, "an end")
    facts = measure(solid)
    assert (facts.valid, facts.closed, facts.shells) == (True, True, 1)
    assert facts.volume == pytest.approx(volume, rel=1e-9)
    write_stl(folder / "end.stl", solid_mesh(solid, CHORD, "an end"), "end", CHORD)
    read = trimesh.load(folder / "end.stl")
    assert isinstance(read, trimesh.Trimesh) and read.is_watertight
    assert read.volume == pytest.approx(volume, abs=2 * CHORD * read.area)


@pytest.mark.parametrize("bolts", [0, 2, 3, 4, 6])
def test_metal_of_a_bolted_ring(bolts: int, tmp_path: Path) -> None:
    """A washer less its holes: π·(R² − r²)·t − n·π·h²/4·t."""
    ring = OutletRing(120.0, 9.0, bolts=bolts, bolt_circle=95.0, hole=9.0, turn=0.3)
    volume = math.pi * (60.0**2 - OUTER**2) * 9.0 - bolts * math.pi * 4.5**2 * 9.0
    refuse_unsound(ring, volume, tmp_path)


@pytest.mark.parametrize("taper", [5.0, 20.0])
def test_metal_of_a_clamped_ring(taper: float, tmp_path: Path) -> None:
    """Shells of 2·π·ρ by the thickness t − (ρ − r)·tan τ, from r to R."""
    slope, wide = math.tan(math.radians(taper)), 42.0
    rho, weights = np.polynomial.legendre.leggauss(4)  # exact for a cubic
    rho = (wide + OUTER) / 2 + (wide - OUTER) / 2 * rho
    shells = 2 * math.pi * rho * (8.0 - (rho - OUTER) * slope)
    volume = float(weights @ shells) * (wide - OUTER) / 2
    refuse_unsound(OutletRing(2 * wide, 8.0, taper=math.radians(taper)), volume, tmp_path)


@pytest.mark.parametrize("inside", [64.5, 70.0])
def test_metal_of_a_bell(inside: float, tmp_path: Path) -> None:
    """Between two frustums of one height, π·h/3·(a² + a·b + b²) each, and then between two cylinders."""
    wall, wide, length = OUTER - INNER, inside / 2, 45.0
    height = (wide - INNER) / math.tan(FLARE)
    frustums = [math.pi * height / 3 * (a * a + a * b + b * b) for a, b in ((OUTER, wide + wall), (INNER, wide))]
    volume = frustums[0] - frustums[1] + math.pi * ((wide + wall) ** 2 - wide**2) * length
    refuse_unsound(OutletBell(inside, length), volume, tmp_path)


def test_bolts_stand_on_their_circle_behind_the_ring() -> None:
    made = replace(FOUR, end=OutletRing(120.0, 9.0, bolts=3, bolt_circle=95.0, hole=9.0, turn=math.radians(30)))
    middle, axis = np.array(end_frame(made, MERGE).origin), np.array(made.frame.z)
    bolts = np.array(ring_bolts(made, MERGE)) - middle
    assert bolts @ axis == pytest.approx(-9.0)
    assert np.linalg.norm(bolts - (bolts @ axis)[:, None] * axis, axis=1) == pytest.approx(47.5)
    assert float(bolts[0] @ np.array(made.frame.x)) == pytest.approx(47.5 * math.cos(math.radians(30)))


RING = "{ring: {outside_diameter: 110, thickness: 9, bolts: 3, bolt_circle: 92, hole: 9, turn: 15}}"


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize("end", [RING, "{bell: {inside_diameter: 64, length: 40}}"], ids=["ring", "bell"])
def test_it_goes_on_a_whole_header(end: str, tmp_path: Path) -> None:
    """Made, named, in nobody's metal, measured against the chassis, and written as it was read."""
    path = two_into_one(tmp_path, end)
    header = close(read_spec(path)[1])
    draft, kind = header.draft, end[1:].split(":")[0]
    parts, overlaps = make_parts(header, tmp_path, lambda *_: None)
    assert f"outlet {kind} main" in [part.name for part in parts] and not overlaps
    assert any("outlet end" in part.name for part in envelopes(draft))
    sockets = [room.what for room in rooms(header) if "outlet bolt" in room.what]
    assert len(sockets) == (3 if kind == "ring" else 0)
    again = tmp_path / "again.yaml"
    again.write_text(spec_text(header), encoding="utf-8")
    assert read_spec(again)[1].collectors[0].end == draft.collectors[0].end


def two_into_one(folder: Path, end: str) -> Path:
    text = (Path(__file__).parents[1] / "bad_specs" / "bell_too_narrow.yaml").read_text(encoding="utf-8")
    changed = [f"    end: {end}" if line.startswith("    end:") else line for line in text.split("\n")[1:]]
    path = folder / "job.yaml"
    path.write_text("\n".join(changed).replace("outlet: 50.8", "outlet: 63.5"), encoding="utf-8")
    return path
