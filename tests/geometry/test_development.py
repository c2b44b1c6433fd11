"""Flat patterns against shapes whose development is known in closed form, and against what bending must keep."""

from __future__ import annotations

import math

import numpy as np
import pytest

from headergen.geometry.transition.development import patterns
from headergen.geometry.transition.rulings import rounds
from headergen.model import PortShape, Tube

TUBE = Tube(42.4, 1.5, "304L")
MIDDLE = 20.45  # mm; radius of the middle of its wall
LENGTH = 40.0
SHAPES = [
    PortShape("d", (38.0, 36.0, 5.0)),
    PortShape("rectangle", (40.0, 30.0, 6.0)),
    PortShape("oval", (46.0, 30.0), turn=0.4),
    PortShape("free", (), ((20.0, 0.0), (5.0, 18.0), (-22.0, 3.0), (0.0, -15.0))),
]


def along(edge: np.ndarray) -> float:
    return float(np.linalg.norm(np.diff(edge, axis=0), axis=1).sum())


def test_a_cone_is_a_sector() -> None:
    """Plane geometry: a frustum of radii R, r and slant s rolls out to a ring sector, R·s/(R − r) out, of half π·R."""
    (half,) = patterns(PortShape("round", (60.0,)), TUBE, LENGTH)
    wide, narrow = 30.75, MIDDLE
    slant = math.hypot(LENGTH, wide - narrow)
    assert half.count == 2
    # chords of 2 degrees fall short of their arcs by 5e-5, and of the areas between by less
    assert half.area == pytest.approx(math.pi * (wide + narrow) * slant / 2, rel=1e-4)
    assert (along(half.port), along(half.tube)) == pytest.approx((math.pi * wide, math.pi * narrow), rel=1e-4)
    outer = wide * slant / (wide - narrow)
    seams = (half.tube - half.port)[[0, -1]]
    opening = math.acos(float(seams[0] @ seams[1]) / slant**2)
    assert opening == pytest.approx(math.pi * wide / outer, rel=1e-4)
    apex = half.port[len(half.port) // 2] + np.array([0.0, outer])
    assert np.linalg.norm(half.port - apex, axis=1) == pytest.approx(outer, rel=1e-4)


def test_a_port_as_round_as_the_tube_gives_a_rectangle() -> None:
    (half,) = patterns(PortShape("round", (39.4,)), TUBE, LENGTH)
    assert half.port[:, 1] == pytest.approx(0.0, abs=1e-9) and half.tube[:, 1] == pytest.approx(LENGTH)
    assert half.area == pytest.approx(math.pi * MIDDLE * LENGTH, rel=1e-4)


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.kind)
def test_bending_keeps_edges_and_rulings(shape: PortShape) -> None:
    """Both edges are as long as half the port and half the tube go round; no ruling is shorter than the piece."""
    halves = patterns(shape, TUBE, LENGTH)
    assert sum(half.count for half in halves) == 2
    wanted = rounds(shape, TUBE)[0]
    assert sum(half.count * along(half.port) for half in halves) == pytest.approx(wanted, rel=3e-4)
    assert sum(half.count * along(half.tube) for half in halves) == pytest.approx(2 * math.pi * MIDDLE, rel=1e-4)
    for half in halves:
        rulings = np.linalg.norm(half.tube - half.port, axis=1)
        assert rulings.min() >= LENGTH - 1e-9
        assert 0 not in half.bends and len(half.port) - 1 not in half.bends
        assert half.area > 0.0, "counter-clockwise, so it never turns over"


def test_both_halves_of_a_free_shape_that_is_a_rectangle() -> None:
    """The same opening, said by its corners: each half is that of the rectangle."""
    (whole,) = patterns(PortShape("rectangle", (40.0, 30.0, 0.0)), TUBE, LENGTH)
    corners = ((-20.0, -15.0), (20.0, -15.0), (20.0, 15.0), (-20.0, 15.0))
    for half in patterns(PortShape("free", (), corners), TUBE, LENGTH):
        assert half.count == 1
        assert half.area == pytest.approx(whole.area)
        assert np.linalg.norm(half.port[0] - half.port[-1]) == pytest.approx(
            float(np.linalg.norm(whole.port[0] - whole.port[-1]))
        )


def test_a_turned_port_has_the_same_pattern() -> None:
    straight, turned = (patterns(PortShape("d", (38.0, 36.0, 5.0), turn=t), TUBE, LENGTH)[0] for t in (0.0, 0.7))
    assert np.array_equal(straight.contour, turned.contour)
