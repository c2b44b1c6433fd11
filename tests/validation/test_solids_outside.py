"""Solids and their files against values from outside: theorems, weight tables, format specifications.

Base tube T: OD 41.275 mm (1 5/8 in), wall 1.651 mm (0.065 in, BWG 16).
"""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.BRepGProp import BRepGProp
from OCP.GProp import GProp_GProps
from OCP.TopAbs import TopAbs_FACE
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS
from steputils import p21

from headergen.geometry.curves.centreline import trace
from headergen.geometry.frames import WORLD
from headergen.geometry.mesh.triangles import enclosed_volume
from headergen.geometry.mesh.tube import outer_skin, tube_mesh
from headergen.model import Bend, Straight
from headergen.outputs.gltf import write_glb
from headergen.outputs.stl import write_stl
from headergen.solids.inspect import measure
from headergen.solids.step import BARE, write_part
from headergen.solids.tube import tube_solid

OD, WALL = 41.275, 1.651
OUTER, INNER = OD / 2, OD / 2 - WALL
CLR = 1.5 * OD
BEND = trace(WORLD, (Bend(math.pi / 2, CLR, 0.0),), 1)
STAINLESS = 7900.0  # kg/m³; EN 10088-1, 304L


def straight_mass(diameter: float, wall: float, length: float, density: float) -> float:
    """Mass in kg of a straight tube as the kernel measures it; millimetres and kg/m³."""
    path = trace(WORLD, (Straight(length),), 1)
    return measure(tube_solid(path, diameter / 2, diameter / 2 - wall)).volume * 1e-9 * density


def wall_area(solid: Any, minor_radius: float) -> float:
    explorer, area = TopExp_Explorer(solid, TopAbs_FACE), 0.0
    while explorer.More():
        face = TopoDS.Face_s(explorer.Current())
        surface = BRepAdaptor_Surface(face)
        if "Torus" in str(surface.GetType()) and abs(surface.Torus().MinorRadius() - minor_radius) < 1e-9:
            properties = GProp_GProps()
            BRepGProp.SurfaceProperties_s(face, properties)
            area += properties.Mass()
        explorer.Next()
    return area


def test_metal_in_a_bend_by_pappus() -> None:
    """Pappus–Guldinus: T at 1.5D through 90° holds 19 987.27 mm³, 157.90 g at 7900 kg/m³ (computed independently
    from first principles; fluids.geometry.V_hollow_cylinder over the arc agrees). Half of the last digit given."""
    volume = measure(tube_solid(BEND, OUTER, INNER)).volume
    assert volume == pytest.approx(19_987.27, abs=0.005)
    assert volume * 1e-9 * STAINLESS * 1000 == pytest.approx(157.90, abs=0.005)


def test_skin_of_a_bend_by_pappus() -> None:
    """The first theorem: the outer skin of the same bend is 12 610.58 mm². Half of the last digit given."""
    assert wall_area(tube_solid(BEND, OUTER, INNER), OUTER) == pytest.approx(12_610.58, abs=0.005)


def test_bore_of_a_bend_by_pappus() -> None:
    """The bore of the same bend holds 110 138.19 mm³; a mesh within 0.001 mm of it must hold all but a little.

    The tolerance is that millimetre fraction times the wall of the bore, π·37.973·97.2519 = 11 602 mm².
    """
    mesh = outer_skin(BEND, INNER, 0.001).mesh
    volume = enclosed_volume(mesh.vertices, mesh.faces)
    assert 110_138.19 - 0.001 * 11_602 < volume < 110_138.20


@pytest.mark.parametrize(
    ("diameter", "wall", "per_metre"),
    [(38.1, 1.5, 1.3625), (OD, WALL, 1.6236), (42.4, 1.6, 1.6202), (48.3, 1.6, 1.8544), (50.8, 1.651, 2.0139)],
)
def test_mass_of_stainless_tube(diameter: float, wall: float, per_metre: float) -> None:
    """π(OD − t)·t·ρ at 7900 kg/m³, computed independently. Half of the last digit given."""
    assert straight_mass(diameter, wall, 1000.0, STAINLESS) == pytest.approx(per_metre, abs=0.00005)


def test_mass_of_steel_tube_as_in_a_weight_table() -> None:
    """A weight table of steel tube, from memory: 75.0 × 1.0 mm at 7.85 g/cm³ is 1.825 kg/m; 3.5 × 0.036 in at
    0.284 lb/in³ is 1.335 lb/ft. Half of the last digit given, and a pound is 0.45359237 kg by definition."""
    assert straight_mass(75.0, 1.0, 1000.0, 7850.0) == pytest.approx(1.825, abs=0.0005)
    density = 0.284 * 0.45359237 / 0.0254**3  # lb/in³ to kg/m³
    pounds = straight_mass(3.5 * 25.4, 0.036 * 25.4, 304.8, density) / 0.45359237
    assert pounds == pytest.approx(1.335, abs=0.0005)


def test_step_file_is_laid_out_as_the_standard_says(tmp_path: Path) -> None:
    """ISO 10303-21 §8.2: FILE_DESCRIPTION, FILE_NAME and FILE_SCHEMA, in that order, between the opening and closing
    words of the exchange structure."""
    write_part(tmp_path / "primary_1.step", ("primary 1", tube_solid(BEND, OUTER, INNER), BARE), "2026-05-01")
    text = (tmp_path / "primary_1.step").read_text(encoding="ascii")
    assert text.startswith("ISO-10303-21;")
    assert text.rstrip().endswith("END-ISO-10303-21;")
    marks = ["HEADER;", "FILE_DESCRIPTION(", "FILE_NAME(", "FILE_SCHEMA(", "ENDSEC;", "DATA;", "ENDSEC;"]
    at = -1
    for mark in marks:
        at = text.index(mark, at + 1)
    # a parser of the format that is not the kernel's finds the same, and the tube's three radii by themselves
    file = p21.readfile(str(tmp_path / "primary_1.step"))
    assert list(file.header.entities) == ["FILE_DESCRIPTION", "FILE_NAME", "FILE_SCHEMA"]
    instances = [i.entity for i in file.data[0].instances.values() if getattr(i, "entity", None) is not None]
    tori = sorted(tuple(e.params[2:4]) for e in instances if e.name == "TOROIDAL_SURFACE")
    # written to 15 digits
    assert np.array(tori) == pytest.approx(np.array([(61.9125, 18.9865), (61.9125, 20.6375)]), rel=1e-12)


def test_stl_read_by_numpy_alone(tmp_path: Path) -> None:
    """80 bytes of text, a count, 50 bytes a triangle, corners counter-clockwise from outside: the tetrahedra to the
    origin add up to the volume of Pappus, less what the chords cut off.

    A chordal deviation e takes at most e times the outer skin (12 610.58 mm²) from the outside and may give the bore no
    more than as much of its own (11 602 mm²) back: e = 0.01 mm bounds the difference by 126.2 and 116.1 mm³.
    """
    write_stl(tmp_path / "t.stl", tube_mesh(BEND, OUTER, INNER, 0.01), "primary 1", 0.01)
    content = (tmp_path / "t.stl").read_bytes()
    (count,) = np.frombuffer(content, "<u4", 1, 80)
    assert len(content) == 84 + 50 * int(count)
    assert not content.lower().startswith(b"solid")
    records = np.frombuffer(content, np.uint8, offset=84).reshape(int(count), 50)
    numbers = records[:, :48].copy().view("<f4").reshape(-1, 4, 3).astype(float)
    normals, (a, b, c) = numbers[:, 0], np.moveaxis(numbers[:, 1:], 1, 0)
    volume = np.einsum("ij,ij->", a, np.cross(b, c)) / 6
    assert 19_987.27 - 126.2 < volume < 19_987.27 + 116.1
    facing = np.cross(b - a, c - a)
    assert (np.einsum("ij,ij->i", normals, facing) > 0).all()


def test_glb_is_in_metres_with_y_up(tmp_path: Path) -> None:
    """Khronos glTF 2.0 §3.4: metres, +Y up, right-handed. A tube that climbs 500 mm stands 0.5 high in y."""
    path = trace(WORLD, (Straight(500.0),), 1)
    write_glb(tmp_path / "t.glb", {"primary 1": tube_mesh(path, OUTER, INNER, 0.01)})
    content = (tmp_path / "t.glb").read_bytes()
    document = json.loads(content[20 : 20 + int.from_bytes(content[12:16], "little")])
    assert document["asset"]["version"] == "2.0"
    (primitive,) = document["meshes"][0]["primitives"]
    box = document["accessors"][primitive["attributes"]["POSITION"]]
    # x and z: the first vertex of a ring lies on +x; elsewhere chords may miss the quarter by the chordal deviation
    assert box["max"] == pytest.approx([OUTER / 1000, 0.5, OUTER / 1000], abs=1e-5)
    assert box["min"] == pytest.approx([-OUTER / 1000, 0.0, -OUTER / 1000], abs=1e-5)
