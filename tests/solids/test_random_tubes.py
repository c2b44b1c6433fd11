"""Random legal tubes: every solid sound, every written mesh closed and of the right volume."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh

from headergen.geometry.mesh.tube import tube_mesh
from headergen.outputs.stl import write_stl
from headergen.solids.inspect import measure
from headergen.solids.tube import tube_solid
from tests.tube_volumes import volume_bounds

CHORD_ERROR = 0.1  # mm
FACET = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attributes", "<u2")])


def assert_solid_sound(case: Any) -> None:
    facts = measure(tube_solid(case.centreline, case.outer, case.inner))
    assert (facts.valid, facts.shells, facts.closed) == (True, 1, True)
    expected = math.pi * (case.outer**2 - case.inner**2) * case.centreline.length
    # exact surfaces: the promise is 1e-6
    assert facts.volume == pytest.approx(expected, rel=1e-6)


def assert_mesh_sound(case: Any, path: Path) -> None:
    write_stl(path, tube_mesh(case.centreline, case.outer, case.inner, CHORD_ERROR), "primary 1")
    corners = np.frombuffer(path.read_bytes(), FACET, offset=84)["corners"]
    assert not leaks(corners)
    # a second opinion, by a reader that merges equal vertices its own way
    assert trimesh.load_mesh(path).is_watertight
    a, b, c = np.moveaxis(corners.astype(np.float64) - case.centreline.segments[0].start, 1, 0)
    volume = np.einsum("ij,ij->", a, np.cross(b, c)) / 6
    low, high = volume_bounds(case.centreline, case.outer, case.inner, CHORD_ERROR)
    # a vertex moves by at most half a unit in the last place of 2048 mm (1.2e-4 mm) and the skin is twice the
    # volume divided by the wall; as the moves have no common direction a tenth of that is already plenty
    slack = 0.1 * 1.2e-4 * 2 * high / (case.outer - case.inner)
    assert low - slack <= volume <= high + slack


def leaks(corners: np.ndarray) -> bool:
    """Whether some directed edge is not met by exactly one edge the other way (vertices joined where bits agree)."""
    _, index = np.unique(corners.reshape(-1, 3), axis=0, return_inverse=True)
    faces = index.reshape(-1, 3)
    tails, heads = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    there, back = np.sort(tails * len(index) + heads), np.sort(heads * len(index) + tails)
    return bool((tails == heads).any() or (np.diff(there) == 0).any() or (there != back).any())


def test_a_missing_triangle_is_a_leak(legal_tube: Callable[[int], Any]) -> None:
    case = legal_tube(0)
    corners = tube_mesh(case.centreline, case.outer, case.inner, CHORD_ERROR).triangles.astype("<f4")
    assert not leaks(corners)
    assert leaks(corners[1:])


@pytest.mark.parametrize("seed", range(15))
def test_a_legal_tube_is_sound(seed: int, legal_tube: Callable[[int], Any], tmp_path: Path) -> None:
    case = legal_tube(seed)
    assert_solid_sound(case)
    assert_mesh_sound(case, tmp_path / "tube.stl")


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize("first", range(15, 415, 50))
def test_four_hundred_more_are_sound(first: int, legal_tube: Callable[[int], Any], tmp_path: Path) -> None:
    for seed in range(first, first + 50):
        case = legal_tube(seed)
        assert_solid_sound(case)
        assert_mesh_sound(case, tmp_path / "tube.stl")
