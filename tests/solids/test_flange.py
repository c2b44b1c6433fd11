"""Flange plates as solids: sound whatever the ports are, and of exactly the metal that their outlines leave."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh

from headergen.geometry.frames import axes_matrix
from headergen.geometry.plate.flange import is_square, plate_of, webs
from headergen.geometry.plate.outline import area
from headergen.outputs.stl import write_stl
from headergen.solids.flange import flange_solid
from headergen.solids.inspect import measure
from headergen.solids.mesh import solid_mesh
from tests.random_parts import TUBE, random_flange

CHORD = 0.05


def refuse_unsound(seed: int, folder: Path) -> None:
    flange = random_flange(seed)
    plate = plate_of(flange, TUBE)
    assert not [each for each in webs(plate, 0.0) if each[2] < 0.0], "a random flange has its holes apart"
    solid = flange_solid(flange, TUBE, "flange")
    facts = measure(solid)
    assert (facts.valid, facts.closed, facts.shells) == (True, True, 1)
    expected = (area(plate.outline) - sum(area(hole.outline) for hole in plate.holes)) * flange.finished
    # the hole of a leaning port is taken as a polygon with sides of half a millimetre
    exact = all(is_square(flange, port) for port in flange.ports)
    assert facts.volume == pytest.approx(expected, rel=1e-9 if exact else 1e-4)
    mesh = solid_mesh(solid, CHORD, "flange")
    write_stl(folder / "flange.stl", mesh, "flange", CHORD)
    read = trimesh.load(folder / "flange.stl")
    assert isinstance(read, trimesh.Trimesh) and read.is_watertight and read.is_winding_consistent
    assert read.volume == pytest.approx(facts.volume, rel=2e-3)
    height = (mesh.vertices - np.array(flange.frame.origin)) @ axes_matrix(flange.frame).T[:, 2]
    assert (height.min(), height.max()) == pytest.approx((0.0, flange.finished), abs=1e-6), "on the face of the head"


@pytest.mark.parametrize("seed", range(12))
def test_random_flanges_are_sound(seed: int, tmp_path: Path) -> None:
    refuse_unsound(seed, tmp_path)


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize("seed", range(12, 200))
def test_more_random_flanges_are_sound(seed: int, tmp_path: Path) -> None:
    refuse_unsound(seed, tmp_path)


def test_facing_comes_off_the_plate() -> None:
    flange = replace(random_flange(1), facing=0.0)
    faced = replace(flange, facing=0.5)
    ratio = measure(flange_solid(faced, TUBE, "flange")).volume / measure(flange_solid(flange, TUBE, "flange")).volume
    assert ratio == pytest.approx((flange.thickness - 0.5) / flange.thickness, rel=1e-4)
