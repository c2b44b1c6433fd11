"""Extruded outlines: signed distances against another library's polygons, their slopes and farthest points."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from shapely import distance
from shapely import points as shapely_points
from shapely.geometry import Polygon

from headergen.geometry.distance.convex import Convex
from headergen.geometry.distance.extruded import extruded_solid
from headergen.geometry.frames import WORLD, axes_matrix, frame_from_normal
from headergen.geometry.plate.outline import Outline, circle, hull, points_on, polygon
from headergen.model import Box, Frame
from tests.geometry.box_solid import box_solid

SPACING = 0.02  # mm between the corners of the polygon compared with
SAGITTA = SPACING**2 / 8 / 1.5  # of the smallest arc that is drawn


def random_outline(rng: random.Random, seed: int) -> Outline:
    """Round corners of several sizes, sharp ones, needles, one circle and two."""
    if seed % 5 == 0:
        return circle((rng.uniform(-50, 50), rng.uniform(-50, 50)), rng.uniform(5, 40))
    if seed % 5 == 1:
        return polygon(
            [(0.0, 0.0), (rng.uniform(40, 90), rng.uniform(-1, 1)), (rng.uniform(-9, 9), rng.uniform(4, 90))]
        )
    rounds = [rng.choice([0.0, rng.uniform(1.5, 25)]) for _ in range(seed % 5)]
    return hull([(rng.uniform(-150, 150), rng.uniform(-60, 60), radius) for radius in (*rounds, 8.0)])


def random_solid(seed: int) -> tuple[Outline, Frame, float, Convex]:
    rng = random.Random(seed)
    outline, height = random_outline(rng, seed), rng.uniform(5, 40)
    frame = frame_from_normal(
        (rng.uniform(-50, 50), 7.0, 0.0), (rng.gauss(0, 1), rng.gauss(0, 1), 0.4), (0.3, 0.5, 9.0)
    )
    return outline, frame, height, extruded_solid(outline, frame, height)


def plain_distance(outline: Outline, frame: Frame, height: float, places: np.ndarray) -> np.ndarray:
    """Outside by the nearest place of the solid, inside by the nearest face; each from its definition."""
    local = (places - np.array(frame.origin)) @ axes_matrix(frame).T
    region = Polygon(points_on(outline, SPACING))
    spots = shapely_points(local[:, :2])
    aside = np.where(distance(region, spots) > 0, 1.0, -1.0) * distance(region.exterior, spots)
    over = np.maximum(-local[:, 2], local[:, 2] - height)
    outside = np.hypot(np.maximum(aside, 0), np.maximum(over, 0))
    return np.where(np.maximum(aside, over) > 0, outside, np.maximum(aside, over))


@pytest.mark.quick(10)
@pytest.mark.parametrize("seed", range(30))
def test_distance_and_slope_everywhere(seed: int) -> None:
    """As of boxes and frusta: against the definition; a step back along the slope ends on the skin; and the slope
    bounds the distance everywhere from below, since it is convex."""
    outline, frame, height, solid = random_solid(seed)
    rng = np.random.default_rng(seed)
    places = solid.middle + rng.normal(size=(300, 3)) * rng.choice([10.0, 80.0, 200.0], (300, 1))
    value, slope = solid.skin(places)
    assert value == pytest.approx(plain_distance(outline, frame, height, places), abs=2 * SAGITTA)
    assert np.linalg.norm(slope, axis=1) == pytest.approx(1.0, abs=1e-9)
    assert solid.skin(places - value[:, None] * slope)[0] == pytest.approx(0.0, abs=1e-9)
    bound = value[:, None] + np.einsum("ij,ikj->ik", slope, places[None] - places[:, None])
    assert (bound <= value[None] + 1e-9).all()


@pytest.mark.parametrize("seed", range(30))
def test_the_farthest_point_is_on_the_solid_and_none_is_farther(seed: int) -> None:
    outline, frame, height, solid = random_solid(seed)
    ways = np.random.default_rng(seed).normal(size=(50, 3))
    found = solid.farthest(ways)
    assert solid.skin(found)[0] == pytest.approx(0.0, abs=1e-9)
    flat = [(*place, at) for place in points_on(outline, 1.0) for at in (0.0, height)]
    skin = np.array(flat) @ axes_matrix(frame) + np.array(frame.origin)
    assert (np.einsum("ij,ij->i", found, ways) >= (skin @ ways.T).max(axis=0) - 1e-9).all()
    assert (np.linalg.norm(skin - solid.middle, axis=1) <= solid.reach + 1e-9).all()


def test_a_rectangle_is_a_box() -> None:
    outline = polygon([(-20.0, -30.0), (20.0, -30.0), (20.0, 30.0), (-20.0, 30.0)])
    plate, box = extruded_solid(outline, WORLD, 10.0), box_solid(Box(Frame((0, 0, 5.0), *axes()), (40.0, 60.0, 10.0)))
    places = np.random.default_rng(1).normal(size=(500, 3)) * 30
    assert plate.skin(places)[0] == pytest.approx(box.skin(places)[0], abs=1e-12)
    assert plate.farthest(places) == pytest.approx(box.farthest(places), abs=1e-12)


def test_beside_a_round_plate_on_the_line_through_its_seam() -> None:
    """A circle is drawn as two halves, which meet on its x axis."""
    solid = extruded_solid(circle((0.0, 0.0), 30.0), WORLD, 10.0)
    places = np.array([[34.0, 0.0, 5.0], [-37.0, 0.0, 5.0], [29.0, 0.0, 5.0], [0.0, 0.0, 5.0], [0.0, 33.0, 14.0]])
    assert solid.skin(places)[0] == pytest.approx([4.0, 7.0, -1.0, -5.0, 5.0], abs=1e-12)


def axes() -> tuple[tuple[float, float, float], ...]:
    return WORLD.x, WORLD.y, WORLD.z


def test_what_no_convex_solid_can_be_made_of() -> None:
    dented = polygon([(0.0, 0.0), (40.0, 0.0), (10.0, 10.0), (0.0, 40.0)])
    for outline, height in ((dented, 10.0), (circle((0.0, 0.0), 5.0), 0.0)):
        with pytest.raises(ValueError, match="convex outline and a height"):
            extruded_solid(outline, WORLD, height)
    assert math.isclose(extruded_solid(circle((0.0, 0.0), 3.0), WORLD, 8.0).reach, math.hypot(3 * math.sqrt(2), 4))
