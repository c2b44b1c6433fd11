"""Plane outlines: closed, counter-clockwise, of the area and perimeter that formulas and polygons give them."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from scipy.spatial import ConvexHull

from headergen.geometry.plate.outline import (
    Outline,
    area,
    bounds,
    circle,
    grown,
    hull,
    is_circle,
    is_convex,
    moved,
    perimeter,
    points_on,
    polygon,
    port_outline,
)
from headergen.model import PortShape
from tests.lots import together


def ends_meet(outline: Outline) -> bool:
    return all(math.dist(a.end, b.start) < 1e-9 for a, b in zip(outline, (*outline[1:], outline[0]), strict=True))


# width w, height h, corner r; areas and perimeters from plane geometry
OVAL = (50.0 - 30.0) * 30.0 + math.pi * 15**2
RECTANGLE = 50.0 * 30.0 - (4 - math.pi) * 6**2
D = 40.0 * (36.0 - 20.0) - (4 - math.pi) / 2 * 5**2 + math.pi * 20**2 / 2
SHAPES = [
    (PortShape("round", (38.0,)), math.pi * 19**2, math.pi * 38),
    (PortShape("oval", (50.0, 30.0)), OVAL, 2 * 20 + math.pi * 30),
    (PortShape("oval", (30.0, 50.0)), OVAL, 2 * 20 + math.pi * 30),
    (PortShape("rectangle", (50.0, 30.0, 6.0)), RECTANGLE, 2 * (38 + 18) + 2 * math.pi * 6),
    (PortShape("rectangle", (50.0, 30.0, 0.0)), 1500.0, 160.0),
    (PortShape("rectangle", (30.0, 30.0, 15.0)), math.pi * 15**2, math.pi * 30),
    (PortShape("d", (40.0, 36.0, 5.0)), D, math.pi * 20 + 30 + 2 * (16 - 5) + math.pi * 5),
    (PortShape("d", (40.0, 20.0, 0.0)), math.pi * 20**2 / 2, math.pi * 20 + 40),
    (PortShape("free", (), ((-20.0, -10.0), (20.0, -10.0), (0.0, 25.0))), 40.0 * 35.0 / 2, 40 + 2 * math.hypot(20, 35)),
]


@pytest.mark.parametrize("turn", [0.0, 0.7])
@pytest.mark.parametrize(("shape", "wanted", "around"), SHAPES)
def test_port_shapes_by_plane_geometry(shape: PortShape, wanted: float, around: float, turn: float) -> None:
    outline = port_outline(PortShape(shape.kind, shape.size, shape.points, turn))
    assert ends_meet(outline) and is_convex(outline)
    assert area(outline) == pytest.approx(wanted, rel=1e-12)
    assert perimeter(outline) == pytest.approx(around, rel=1e-12)
    x, y = points_on(outline, 0.01).T
    assert np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) / 2 == pytest.approx(wanted, rel=1e-5)


def test_a_d_is_flat_below_and_round_above() -> None:
    low, high = bounds(port_outline(PortShape("d", (40.0, 36.0, 5.0))))
    assert (*low, *high) == pytest.approx((-20.0, -18.0, 20.0, 18.0))
    places = points_on(port_outline(PortShape("d", (40.0, 36.0, 5.0))), 0.5)
    assert np.ptp(places[np.isclose(places[:, 1], -18.0), 0]) == pytest.approx(30.0)
    assert np.ptp(places[np.isclose(places[:, 1], 18.0, atol=0.01), 0]) < 4.0


@together("seed", range(300))
def test_the_hull_of_circles_is_that_of_points_on_them(seed: int) -> None:
    """Against the convex hull of 720 points on each circle, which is smaller by about 4e-5 of a circle at most."""
    rng = random.Random(seed)
    circles = [
        (rng.uniform(-99, 99), rng.uniform(-99, 99), rng.choice([5.0, 12.0, 0.0, rng.uniform(0, 40)]))
        for _ in range(rng.randint(0, 11))
    ] + [(0.0, 0.0, 9.0)]
    if seed % 3 == 0:  # in rows, as on a flange
        circles = [(90.0 * k, 0.0, 33.4) for k in range(4)] + [(90.0 * k - 45, 30.0, 16.25) for k in range(5)]
    outline = hull(circles)
    assert ends_meet(outline) and (is_circle(outline) or is_convex(outline))
    angles = np.linspace(0, 2 * math.pi, 720)
    points = np.concatenate([np.column_stack([x + r * np.cos(angles), y + r * np.sin(angles)]) for x, y, r in circles])
    rough = ConvexHull(points)
    assert area(outline) == pytest.approx(rough.volume, rel=2e-4)
    assert perimeter(outline) == pytest.approx(rough.area, rel=2e-4)


@pytest.mark.parametrize(("shape", "wanted", "around"), SHAPES)
def test_growing_adds_perimeter_and_a_circle(shape: PortShape, wanted: float, around: float) -> None:
    """Steiner's formula for convex outlines: area + perimeter·d + π·d², perimeter + 2π·d."""
    outline = grown(port_outline(shape), 3.0)
    assert area(outline) == pytest.approx(wanted + 3 * around + 9 * math.pi, rel=1e-12)
    assert perimeter(outline) == pytest.approx(around + 6 * math.pi, rel=1e-12)
    assert ends_meet(outline) and is_convex(outline)


def test_clockwise_corners_are_turned_round_and_dents_are_seen() -> None:
    square = [(0.0, 0.0), (0.0, 10.0), (10.0, 10.0), (10.0, 0.0)]
    assert area(polygon(square)) == 100.0
    assert is_convex(polygon(square)) and not is_convex(polygon([*square[:3], (4.0, 6.0)]))


def test_bounds_take_in_arcs() -> None:
    low, high = bounds(moved(circle((3.0, 4.0), 5.0), (1.0, 1.0), 0.3))
    assert (high[0] - low[0], high[1] - low[1]) == pytest.approx((10.0, 10.0))
