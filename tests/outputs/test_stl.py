"""Binary STL, read back by numpy from the format's own description."""

from __future__ import annotations

import math
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from headergen.geometry.curves.centreline import trace
from headergen.geometry.frames import WORLD, frame_from_normal
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.geometry.mesh.tube import tube_mesh
from headergen.model import Bend, Straight
from headergen.outputs.stl import write_stl
from tests.tube_volumes import volume_bounds

# 80 bytes of text, a 32-bit count, then 50 bytes a triangle: normal, three corners, two bytes of attributes
FACET = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attributes", "<u2")])
PATH = trace(WORLD, (Straight(40.0), Bend(math.radians(75), 63.6, 0.4), Straight(25.0)), 3)
CORNER = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]])
TETRAHEDRON = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]])


def facets(path: Path) -> np.ndarray:
    content = path.read_bytes()
    count = int.from_bytes(content[80:84], "little")
    assert len(content) == 84 + 50 * count
    return np.frombuffer(content, FACET, offset=84)


def test_triangles_and_normals_come_back(tmp_path: Path) -> None:
    write_stl(tmp_path / "t.stl", TriangleMesh(CORNER.copy(), TETRAHEDRON.copy(), True), "corner")
    read = facets(tmp_path / "t.stl")
    assert (read["corners"] == CORNER[TETRAHEDRON]).all()
    third = 1 / math.sqrt(3)
    # 1e-7: 32-bit numbers
    np.testing.assert_allclose(read["normal"], [[0, 0, -1], [0, -1, 0], [third] * 3, [-1, 0, 0]], atol=1e-7)
    assert (read["attributes"] == 0).all()


def test_the_header_states_unit_and_chord_error_and_is_not_taken_for_text(tmp_path: Path) -> None:
    mesh = TriangleMesh(CORNER.copy(), TETRAHEDRON.copy(), True)
    for name, error, words in (
        ("primary 1", 0.05, b"headergen, unit mm, chordal deviation 0.05 mm: primary 1"),
        ("primary 1", None, b"headergen, unit mm: primary 1"),
        ("Bögbean", None, b"headergen, unit mm: B?gbean"),
        ("solid " * 40, 0.1, b"headergen, unit mm, chordal deviation 0.1 mm: solid solid"),
    ):
        write_stl(tmp_path / "t.stl", mesh, name, error)
        header = (tmp_path / "t.stl").read_bytes()[:80]
        assert header.startswith(words)
        assert len(facets(tmp_path / "t.stl")) == 4


def test_the_same_mesh_gives_the_same_bytes_in_any_process(tmp_path: Path) -> None:
    script = (
        "import sys, pathlib, test_stl as t;"
        "t.write_stl(pathlib.Path(sys.argv[1]), t.tube_mesh(t.PATH, 21.2, 19.7, 0.1), 'primary 3', 0.1)"
    )
    written = []
    for seed in ("0", "1"):
        file = tmp_path / f"{seed}.stl"
        path = os.pathsep.join([str(Path(__file__).parent), *sys.path])
        environment = {**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": path}
        subprocess.run([sys.executable, "-c", script, str(file)], check=True, env=environment)
        written.append(file.read_bytes())
    assert written[0] == written[1]


def test_triangles_that_rounding_has_emptied_are_left_out_and_nothing_leaks(tmp_path: Path) -> None:
    # a straight of 0.1 µm, a metre from the origin: 32-bit millimetres there are 61 µm apart
    start = frame_from_normal((1000.0, 1000.0, 1000.0), (0.3, 0.5, 0.8))
    far = trace(start, (Straight(50.0), Straight(1e-4), Bend(0.5, 63.6, 0.0)), 1)
    mesh = tube_mesh(far, 21.2, 19.7, 0.1)
    write_stl(tmp_path / "t.stl", mesh, "primary 1")
    corners = facets(tmp_path / "t.stl")["corners"]
    assert len(corners) < len(mesh.faces)
    _, index = np.unique(corners.reshape(-1, 3), axis=0, return_inverse=True)
    faces = index.reshape(-1, 3)
    there = sorted(zip(faces.ravel(), np.roll(faces, -1, axis=1).ravel(), strict=True))
    assert len(set(there)) == len(there)
    assert there == sorted((b, a) for a, b in there)


def test_the_volume_reported_is_the_one_in_the_file(tmp_path: Path) -> None:
    reported = write_stl(tmp_path / "primary_3.stl", tube_mesh(PATH, 21.2, 19.7, 0.1), "primary 3", 0.1)
    a, b, c = np.moveaxis(facets(tmp_path / "primary_3.stl")["corners"].astype(float), 1, 0)
    # the same sum over the same 32-bit vertices, added in another order
    assert reported == pytest.approx(np.einsum("ij,ij->", np.cross(a, b), c) / 6, rel=1e-9)
    low, high = volume_bounds(PATH, 21.2, 19.7, 0.1)
    assert low < reported < high
    assert b"primary 3" in (tmp_path / "primary_3.stl").read_bytes()[:80]


@pytest.mark.parametrize("bad", [math.nan, math.inf, 1e39])
def test_a_vertex_that_is_no_number_is_refused(bad: float, tmp_path: Path) -> None:
    vertices = CORNER.copy()
    vertices[2, 1] = bad
    with pytest.raises(ValueError, match=r"primary 1: .* not a number"):
        write_stl(tmp_path / "t.stl", TriangleMesh(vertices, TETRAHEDRON.copy(), True), "primary 1")
    assert not (tmp_path / "t.stl").exists()
