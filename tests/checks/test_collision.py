"""Meshes as bodies of the collision library, against boxes and balls whose distances are known."""

from __future__ import annotations

import math

import numpy as np
import pytest

from headergen.checks.collision import distance_between, facets_of, first_contact, nearest_places
from headergen.checks.second_opinion import ROUND_SIDES, _ball
from headergen.geometry.frames import Frame
from headergen.geometry.mesh.boxes import box_mesh
from headergen.geometry.mesh.triangles import TriangleMesh, enclosed_volume
from headergen.model import Box, Vec
from headergen.solids.mesh import is_watertight


def box(at: Vec, size: float = 10.0) -> TriangleMesh:
    return box_mesh(Box(Frame(at, (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)), (size, size, size)))


@pytest.mark.parametrize("away", [25.0, -25.0])
def test_the_nearest_of_several_meshes_is_found_and_each_place_is_on_its_own_body(away: float) -> None:
    one, other = facets_of([box((0.0, 0.0, 0.0))]), facets_of([box((away, 0.0, 0.0)), box((0.0, 60.0, 0.0))])

    assert distance_between(one, other) == pytest.approx(15.0)
    distance, here, there = nearest_places(one, other)
    assert (distance, here[0], there[0]) == pytest.approx((15.0, math.copysign(5.0, away), away * 20 / 25))
    distance, there, here = nearest_places(other, one)
    assert (distance, here[0], there[0]) == pytest.approx((15.0, math.copysign(5.0, away), away * 20 / 25))
    assert first_contact(one, other) is None


def test_skins_that_meet_tell_a_place_of_those_that_do() -> None:
    one, other = facets_of([box((0.0, 0.0, 0.0))]), facets_of([box((8.0, 8.0, 8.0))])

    place = first_contact(one, other)

    assert distance_between(one, other) <= 0.0
    assert place is not None
    away = min(abs(max(abs(each - middle) for each in place) - 5.0) for middle in (0.0, 8.0))
    assert away == pytest.approx(0.0)  # on the skin of one of them


def test_a_ball_is_closed_and_lies_within_its_chordal_deviation() -> None:
    skin = _ball((10.0, 20.0, 30.0), 8.0)
    corners = skin.mesh.vertices - (10.0, 20.0, 30.0)
    middles = corners[skin.mesh.faces].mean(axis=1)

    assert is_watertight(skin.mesh.faces)
    assert np.linalg.norm(corners, axis=1) == pytest.approx(8.0)
    normals = np.cross(*(corners[skin.mesh.faces[:, k]] - corners[skin.mesh.faces[:, 0]] for k in (1, 2)))
    depths = np.einsum("nk,nk->n", normals, middles) / np.linalg.norm(normals, axis=1)  # of facets from the centre
    assert depths.min() >= 8.0 - skin.chord_error - 1e-12
    assert 0.99 * 4 / 3 * math.pi * 8**3 < enclosed_volume(skin.mesh.vertices, skin.mesh.faces)
    assert skin.chord_error < 8.0 * (math.pi / ROUND_SIDES) ** 2
