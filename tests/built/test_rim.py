"""The circle through points on a rim, against general least squares of another library in the plane of a third."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares
from trimesh.points import plane_fit

from headergen.built.rim import circle_of


@pytest.mark.parametrize("seed", range(40))
def test_the_circle_is_that_of_another_library(seed: int) -> None:
    rng = np.random.default_rng(seed)
    axes = np.linalg.qr(rng.normal(size=(3, 3)))[0]
    count, radius = int(rng.integers(3, 12)), float(rng.uniform(15, 40))
    turns = (np.arange(count) + rng.uniform(-0.3, 0.3, count)) * 2 * np.pi / count
    rim = radius * np.column_stack([np.cos(turns), np.sin(turns), 0 * turns]) + rng.normal(0, 0.1, (count, 3))
    points = rim @ axes.T + rng.uniform(-500, 500, 3)
    found = circle_of(points)
    origin, normal = plane_fit(points)
    assert abs(abs(found.normal @ normal) - 1) < 1e-9
    x = np.cross(normal, [1, 0, 0] if abs(normal[0]) < 0.9 else [0, 1, 0])
    x /= np.linalg.norm(x)
    flat = (points - origin) @ np.array([x, np.cross(normal, x)]).T
    first = [*flat.mean(axis=0), 20.0]
    *centre, far = least_squares(lambda v: np.hypot(*(flat - v[:2]).T) - v[2], first, xtol=1e-14, ftol=1e-14).x
    assert found.radius == pytest.approx(far, abs=1e-4)
    assert np.allclose(found.centre, origin + centre[0] * x + centre[1] * np.cross(normal, x), atol=1e-4)


def test_points_in_a_line_are_refused() -> None:
    with pytest.raises(ValueError, match="no circle"):
        circle_of(np.array([[0.0, 0, 0], [1, 1, 1], [2, 2, 2]]))
