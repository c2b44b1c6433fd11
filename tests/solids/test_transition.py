"""Transitions from any port to the tube: sound, closed, with the areas that are reported and a wall to weld."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import trimesh
from OCP.BRepGProp import BRepGProp
from OCP.GProp import GProp_GProps
from scipy.spatial import cKDTree

from headergen.geometry.plate.outline import area, grown, perimeter, port_outline
from headergen.geometry.transition.development import patterns
from headergen.geometry.transition.rulings import largest_step, section_areas, stretch
from headergen.model import PortShape
from headergen.outputs.stl import write_stl
from headergen.solids.inspect import measure
from headergen.solids.mesh import solid_mesh
from headergen.solids.transition import _filled, transition_solid
from tests.random_parts import TUBE, random_flange

D = PortShape("d", (38.0, 36.0, 5.0))
SHAPES = [port.shape for seed in range(40) for port in random_flange(seed).ports]
LEAD, LENGTH = 7.7, 40.0


def refuse_unsound(shape: PortShape, folder: Path) -> None:
    solid = transition_solid(shape, TUBE, (LEAD, LENGTH), "transition")
    facts = measure(solid)
    assert (facts.valid, facts.closed, facts.shells) == (True, True, 1)
    mesh = solid_mesh(solid, 0.05, "transition")
    write_stl(folder / "t.stl", mesh, "transition", 0.05)
    read = trimesh.load(folder / "t.stl")
    assert isinstance(read, trimesh.Trimesh) and read.is_watertight and read.is_winding_consistent
    assert read.volume == pytest.approx(facts.volume, rel=0.01)
    assert mesh.vertices[:, 2].min() == pytest.approx(0.0, abs=1e-6)
    assert mesh.vertices[:, 2].max() == pytest.approx(LEAD + LENGTH, abs=1e-6)
    rim = np.hypot(*mesh.vertices[mesh.vertices[:, 2] > LEAD + LENGTH - 1e-3, :2].T)
    assert (rim.min(), rim.max()) == pytest.approx((19.7, 21.2), abs=1e-3), "the tube's own wall to weld to"


@pytest.mark.quick(1)
@pytest.mark.parametrize("shape", SHAPES[:10], ids=lambda shape: shape.kind)
def test_random_transitions_are_sound(shape: PortShape, tmp_path: Path) -> None:
    refuse_unsound(shape, tmp_path)


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize("first", range(10, 90, 10))
def test_more_random_transitions_are_sound(first: int, tmp_path: Path) -> None:
    for shape in SHAPES[first : first + 10]:
        refuse_unsound(shape, tmp_path)


@pytest.mark.parametrize("shape", [D, PortShape("rectangle", (40.0, 30.0, 6.0)), PortShape("oval", (46.0, 30.0))])
def test_the_areas_are_those_of_the_solid(shape: PortShape) -> None:
    """The gas along the whole way, by the volume that the kernel leaves in a block: Simpson's rule is exact for it.

    A section between two outlines on straight rulings has an area that is quadratic in the share of the way.
    """
    areas = section_areas(shape, TUBE)
    assert areas[0, 1] == area(port_outline(shape)) and areas[-1, 1] == math.pi * 19.7**2
    middle = areas[len(areas) // 2]
    assert middle[0] == pytest.approx(0.5)
    gas = LENGTH * (areas[0, 1] + 4 * middle[1] + areas[-1, 1]) / 6
    outside = measure(_outside(shape)).volume
    metal = measure(transition_solid(shape, TUBE, (0.0, LENGTH), "transition")).volume
    # sections by 24 straight sides an edge, and the kernel's own parameter of arcs
    assert outside - metal == pytest.approx(gas, rel=2e-3)


def _outside(shape: PortShape) -> object:
    return _filled(grown(port_outline(shape), TUBE.wall), TUBE.radius, (0.0, LENGTH))


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize("shape", [PortShape("oval", (46.0, 30.0)), D, PortShape("rectangle", (40.0, 30.0, 6.0))])
def test_the_wall_stays_near_its_nominal_thickness(shape: PortShape) -> None:
    """Nearest distance from the middle of each inner facet to the outer skin."""
    mesh = solid_mesh(transition_solid(shape, TUBE, (0.0, LENGTH), "transition"), 0.05, "transition")
    read = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    middles, normals = read.triangles_center, read.face_normals
    inward = np.einsum("ij,ij->i", middles[:, :2], normals[:, :2]) < 0
    upright = np.abs(normals[:, 2]) < 0.9
    own = (middles[:, 2] > 3) & (middles[:, 2] < LENGTH - 3)
    outer = read.submesh([np.flatnonzero(~inward & upright)], append=True)
    # places at most 0.3 mm apart make a wall of 1.5 look thicker by no more than 0.15²/3 = 0.01
    places, _ = trimesh.remesh.subdivide_to_size(outer.vertices, outer.faces, 0.3, max_iter=20)
    thickness, _ = cKDTree(places).query(middles[inward & upright & own])
    assert 0.9 * TUBE.wall < thickness.min() and thickness.max() < 1.15 * TUBE.wall


def test_stretch_compares_middle_lines() -> None:
    """Perimeter of a rectangle with round corners, grown by half a wall, against that of the tube (plane geometry)."""
    shape = PortShape("rectangle", (44.0, 34.0, 6.0))
    around = 2 * (32 + 22) + 2 * math.pi * (6 + 0.75)
    assert stretch(shape, TUBE) == pytest.approx(around / (math.pi * 40.9) - 1)
    assert stretch(PortShape("round", (39.4,)), TUBE) == pytest.approx(0.0)
    assert perimeter(port_outline(shape)) == pytest.approx(around - 2 * math.pi * 0.75)


def test_the_largest_step_is_where_the_port_is_farthest_from_the_bore() -> None:
    assert largest_step(PortShape("round", (38.0,)), TUBE) == pytest.approx(0.7)
    assert largest_step(PortShape("oval", (60.0, 36.0)), TUBE) == pytest.approx(30 - 19.7, abs=0.01)


@pytest.mark.parametrize("shape", [D, PortShape("rectangle", (40.0, 30.0, 6.0)), PortShape("oval", (46.0, 30.0))])
def test_the_flat_pattern_has_the_area_of_the_wall(shape: PortShape) -> None:
    """By the kernel's own measures of the ruled skin at mid-wall, and of metal over thickness.

    Rulings that follow each other are a little out of one plane. Triangles between them then have more area than the
    skin, however narrow they are (|a + b| ≤ |a| + |b| of the two edges seen from a ruling), but never less; what is
    more has to be coaxed away in bending, and one or two in a hundred are little for steel.
    """
    middle = _filled(grown(port_outline(shape), TUBE.wall / 2), TUBE.radius - TUBE.wall / 2, (0.0, LENGTH))
    skin = GProp_GProps()
    BRepGProp.SurfaceProperties_s(middle, skin)
    ends = area(grown(port_outline(shape), TUBE.wall / 2)) + math.pi * (TUBE.radius - TUBE.wall / 2) ** 2
    flat = sum(half.count * half.area for half in patterns(shape, TUBE, LENGTH))
    assert 1.0 - 1e-4 < flat / (skin.Mass() - ends) < 1.015
    metal = measure(transition_solid(shape, TUBE, (0.0, LENGTH), "transition")).volume
    assert flat == pytest.approx(metal / TUBE.wall, rel=0.015)
