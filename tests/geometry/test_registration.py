"""Placing by pairs of points: exact pairs come back exactly, noisy ones as well as least squares can."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from headergen.geometry.frames import axes_matrix, frame_from_normal
from headergen.geometry.registration import fit_rigid


def case(rng: np.random.Generator, count: int, noise: float = 0.0) -> tuple[np.ndarray, np.ndarray, object]:
    frame = frame_from_normal(tuple(rng.uniform(-900, 900, 3)), tuple(rng.normal(size=3)), tuple(rng.normal(size=3)))
    moved = rng.uniform(-600, 600, (count, 3))
    fixed = moved @ axes_matrix(frame) + np.array(frame.origin)
    return moved, fixed + rng.normal(0, noise, fixed.shape) if noise else fixed, frame


@pytest.mark.parametrize("count", [3, 4, 7])
def test_exact_pairs_give_the_frame_back(count: int) -> None:
    for seed in range(40):
        moved, fixed, frame = case(np.random.default_rng(seed), count)
        fit = fit_rigid(moved, fixed)
        assert np.allclose(axes_matrix(fit.frame), axes_matrix(frame), atol=1e-9)
        assert np.allclose(fit.frame.origin, frame.origin, atol=1e-6)
        assert np.linalg.det(axes_matrix(fit.frame)) == pytest.approx(1, abs=1e-12)
        assert max(fit.residuals) < 1e-6 and fit.scale == pytest.approx(1, abs=1e-9)
        assert fit.in_a_plane == (count == 3)


def test_noisy_pairs_fit_as_well_as_a_search_does() -> None:
    """Against scipy's least squares over rotation vector and shift, started at the answer's neighbourhood."""
    for seed in range(15):
        rng = np.random.default_rng(seed)
        moved, fixed, _ = case(rng, 6, noise=2.0)
        fit = fit_rigid(moved, fixed)
        start = np.r_[Rotation.from_matrix(axes_matrix(fit.frame).T).as_rotvec(), fit.frame.origin]

        def off(p: np.ndarray, moved=moved, fixed=fixed) -> np.ndarray:  # type: ignore[no-untyped-def]
            return (Rotation.from_rotvec(p[:3]).apply(moved) + p[3:] - fixed).ravel()

        searched = least_squares(off, start + rng.normal(0, 0.01, 6), x_scale=np.r_[1, 1, 1, 100, 100, 100]).fun
        assert fit.rms == pytest.approx(np.sqrt((searched**2).sum() / 6), rel=1e-6)


def test_mirrored_and_scaled_pairs_show() -> None:
    moved, fixed, _ = case(np.random.default_rng(0), 5)
    mirrored = fit_rigid(moved * (1, -1, 1), fixed)
    assert mirrored.rms > 50 and mirrored.mirrored_rms < 1e-6
    grown = fit_rigid(moved / 1.04, fixed)
    assert grown.scale == pytest.approx(1.04, abs=1e-9) and grown.scaled_rms < 1e-6 < grown.rms


def test_points_on_a_line_are_refused() -> None:
    line = np.outer(np.arange(5.0), (100.0, 20.0, -30.0))
    with pytest.raises(ValueError, match="off a line"):
        fit_rigid(line, line + 5)
    with pytest.raises(ValueError, match="off a line"):
        fit_rigid(np.eye(3)[:2], np.eye(3)[:2])
