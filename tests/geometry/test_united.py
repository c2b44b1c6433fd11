"""Openings of holes that run into each other, against a polygon library's closing of the same circles."""

from __future__ import annotations

import math
import random

import pytest
from shapely import Point, Polygon, unary_union

from headergen.geometry.plate.outline import area, points_on
from headergen.geometry.plate.united import Round, openings

RADIUS, WEB = 21.4, 1.2


def closed(holes: list[Round], web: float) -> list[Polygon]:
    """The circles grown by half the web and drawn back, islands filled; by polygons of 400 sides a quarter."""
    discs = unary_union([Point(x, y).buffer(r, quad_segs=400) for x, y, r in holes])
    made = discs.buffer(web / 2, quad_segs=200).buffer(-web / 2, quad_segs=200)
    return [Polygon(each.exterior) for each in getattr(made, "geoms", [made])]


def drawn(seed: int) -> list[Round]:
    """Five holes, each beside an earlier one: running into it, or with more metal between than is united."""
    rng = random.Random(seed)
    holes: list[Round] = [(0.0, 0.0, RADIUS)]
    while len(holes) < 5:
        x, y, _ = rng.choice(holes)
        turn, apart = rng.uniform(0, 2 * math.pi), 2 * RADIUS + rng.choice([-0.4, -0.2, 0.5, 1.5, 3.0])
        hole = (x + apart * math.cos(turn), y + apart * math.sin(turn), RADIUS)
        webs = [math.dist(hole[:2], other[:2]) - 2 * RADIUS for other in holes]
        if all(web > WEB + 0.05 or -0.401 < web < 0.9 for web in webs):
            holes.append(hole)
    return holes


@pytest.mark.parametrize("seed", range(12))
def test_openings_are_the_closing_of_the_holes(seed: int) -> None:
    holes = drawn(seed)
    found = openings(holes, WEB)
    reference = closed(holes, WEB)
    assert len(found) == len(reference)
    assert sorted(k for each in found for k in each.holes) == list(range(5))
    for opening in found:
        mine = Polygon(points_on(opening.outline, 0.05))
        theirs = max(reference, key=lambda each: each.intersection(mine).area)
        assert mine.is_valid
        assert mine.symmetric_difference(theirs).area < 0.05
        assert area(opening.outline) == pytest.approx(theirs.area, abs=0.05)


def test_holes_of_a_ring_are_one_opening_without_an_island() -> None:
    """Six round a seventh: outside by the circles and the rounds between them, nothing left within."""
    ring = [(42.4 * math.cos(k * math.pi / 3), 42.4 * math.sin(k * math.pi / 3), RADIUS) for k in range(6)]
    [opening] = openings([*ring, (0.0, 0.0, RADIUS)], WEB)
    assert opening.holes == tuple(range(7))
    assert {round(edge.radius, 6) for edge in opening.outline} == {RADIUS, WEB / 2}
    assert sum(edge.sweep for edge in opening.outline) == pytest.approx(2 * math.pi)


def test_holes_of_two_radii_stay_apart() -> None:
    assert len(openings([(0.0, 0.0, 20.0), (25.0, 0.0, 5.0)], WEB)) == 2
