"""Meshes for a page: what is packed comes out again, and thinning keeps near to what was there."""

from __future__ import annotations

import base64
import math

import numpy as np
import pytest
import trimesh

from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.show.meshes import ShownMesh, size_of, thinned


def ball(radius: float = 80.0, finer: int = 3, at: tuple[float, float, float] = (500.0, -200.0, 30.0)) -> TriangleMesh:
    made = trimesh.creation.icosphere(finer, radius)
    return TriangleMesh(np.asarray(made.vertices) + at, np.asarray(made.faces), closed=True)


def unpacked(data: dict[str, object]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """As the page's script reads it: places of 16 bits, normals of 8, corners of 16 or 32, each to four bytes."""
    content, n, m = base64.b64decode(str(data["data"])), int(str(data["vertices"])), int(str(data["faces"]))
    second = math.ceil(6 * n / 4) * 4
    third = second + math.ceil(3 * n / 4) * 4
    places = np.frombuffer(content, "<u2", 3 * n).reshape(-1, 3) / 65535 * data["span"] + np.array(data["at"])
    normals = np.frombuffer(content, "i1", 3 * n, second).reshape(-1, 3) / 127
    corners = np.frombuffer(content, "<u2" if n <= 65535 else "<u4", 3 * m, third).reshape(-1, 3)
    return places, normals, corners


@pytest.mark.parametrize("finer", [2, 6])
def test_a_packed_mesh_is_the_mesh_again(finer: int) -> None:
    mesh = ball(finer=finer)
    places, normals, corners = unpacked(dict(ShownMesh("ball", "header", mesh).packed))
    assert len(corners) == len(mesh.faces)
    step = 160.0 / 65535
    assert np.abs(places[corners] - mesh.vertices[mesh.faces]).max() <= 1.01 * step / 2 + 1e-4, "half a step, and at"
    outward = (places - (500.0, -200.0, 30.0)) / 80.0
    assert (np.einsum("ij,ij->i", outward, normals) > 0.98).all(), "normals of a ball point from its middle"


def test_thinning_keeps_to_the_number_and_to_the_surface() -> None:
    mesh = ball(finer=6)  # 81 920 triangles
    small = thinned(mesh, 5000)
    assert 1500 < len(small.faces) <= 5000
    away = np.abs(np.linalg.norm(small.vertices - (500.0, -200.0, 30.0), axis=1) - 80.0)
    assert away.max() < 160 / math.sqrt(5000) * 1.5, "the mean of a cell is not farther than the cell is wide"
    assert np.allclose(np.ptp(small.vertices, axis=0), 160.0, atol=5.0)


def test_a_small_mesh_is_left_as_it_is() -> None:
    mesh = ball(finer=1)
    assert thinned(mesh, 5000) is mesh


def test_a_soup_of_single_triangles_is_thinned_too() -> None:
    mesh = ball(finer=5)
    soup = TriangleMesh(mesh.vertices[mesh.faces].reshape(-1, 3), np.arange(3 * len(mesh.faces)).reshape(-1, 3), False)
    assert 100 < len(thinned(soup, 3000).faces) <= 3000


def test_the_size_is_that_of_the_header_alone() -> None:
    shown = (ShownMesh("a", "header", ball()), ShownMesh("floor", "chassis", ball(radius=900.0)))
    size = size_of(shown)
    assert size is not None and size == pytest.approx((160.0, 160.0, 160.0), abs=3.0)
    assert size_of(shown[1:]) is None
