"""Whether triangles close once: every kind of body, whole and spoilt, small and of a scan's size."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from headergen.geometry.mesh.index import build_index
from headergen.geometry.mesh.seams import closes_once, edges_cancel

CUBE = np.asarray(trimesh.creation.box((100.0, 100.0, 100.0)).triangles)
DICE = np.random.default_rng(5)


def ball(fine: int) -> np.ndarray:
    made = trimesh.creation.icosphere(fine, 500.0)
    return np.asarray(made.vertices)[made.faces]


def flipped(triangles: np.ndarray, share: float) -> np.ndarray:
    out, some = triangles.copy(), DICE.random(len(triangles)) < share
    out[some] = out[some][:, ::-1]
    return out


def quads_from_both_sides() -> np.ndarray:
    """A cube whose squares are cut along one diagonal seen from outside and along the other from inside."""
    squares = []
    for axis in range(3):
        for side in (-50.0, 50.0):
            p, q = np.eye(3)[(axis + 1) % 3] * 50, np.eye(3)[(axis + 2) % 3] * 50
            corners = np.eye(3)[axis] * side + np.array([-p - q, p - q, p + q, q - p])
            squares.append(corners if side > 0 else corners[::-1])
    out = [[(a, b, c), (a, c, d), (d, c, b), (d, b, a)] for a, b, c, d in squares]
    return np.array(out).reshape(-1, 3, 3)


CLOSED = {
    "ball": lambda fine: ball(fine),
    "inside out": lambda fine: ball(fine)[:, ::-1],
    "with a hollow": lambda fine: np.r_[ball(fine), ball(fine)[:, ::-1] / 2],
    "two that touch along an edge": lambda fine: np.r_[ball(fine), CUBE + 900, CUBE + np.array([1000, 1000, 900])],
    "two that touch at a corner": lambda fine: np.r_[ball(fine), CUBE + 900, CUBE + 1000],
    "with triangles without area": lambda fine: np.r_[ball(fine), ball(fine)[:9, [0, 0, 1]], CUBE[:5, [0, 0, 0]]],
}
NOT_CLOSED = {
    "one triangle missing": lambda fine: ball(fine)[1:],
    "a corner moved": lambda fine: np.r_[ball(fine)[:1] + np.diag([1e-3, 0, 0]), ball(fine)[1:]],
    "one triangle flipped": lambda fine: np.r_[ball(fine)[:1, ::-1], ball(fine)[1:]],
    "every other one flipped": lambda fine: flipped(ball(fine), 0.5),
    "there twice": lambda fine: np.r_[ball(fine), ball(fine)],
    "there both ways": lambda fine: np.r_[ball(fine), ball(fine)[:, ::-1]],
    "a small part there both ways": lambda fine: np.r_[ball(fine), CUBE + 900, CUBE[:, ::-1] + 900],
    "a small part there twice": lambda fine: np.r_[ball(fine), CUBE + 900, CUBE + 900],
    "both ways, cut otherwise": lambda fine: quads_from_both_sides(),
    "a part both ways, cut otherwise": lambda fine: np.r_[ball(fine), quads_from_both_sides() + 900],
}


@pytest.mark.parametrize("fine", [3, 6])  # 1280 triangles and 81920
@pytest.mark.parametrize("kind", [np.float32, np.float64])
@pytest.mark.parametrize("name", CLOSED)
def test_closed_bodies_close_once(name: str, kind: type, fine: int) -> None:
    assert closes_once(build_index(CLOSED[name](fine).astype(kind)))


@pytest.mark.parametrize("fine", [3, 6])
@pytest.mark.parametrize("kind", [np.float32, np.float64])
@pytest.mark.parametrize("name", NOT_CLOSED)
def test_spoilt_ones_do_not(name: str, kind: type, fine: int) -> None:
    assert not closes_once(build_index(NOT_CLOSED[name](fine).astype(kind)))


def test_zero_with_a_sign_is_zero() -> None:
    made = CUBE + 50.0
    signed = np.where(made == 0, -0.0, made)
    mixed = np.where((np.arange(12) % 2 == 0)[:, None, None], signed, made)
    assert closes_once(build_index(mixed)) and closes_once(build_index(mixed.astype(np.float32)))


def test_edges_cancel_as_a_count_of_them_says() -> None:
    """Against a dictionary of directed edges, over random handfuls of a tetrahedron's and a cube's triangles."""
    pool = np.r_[CUBE, CUBE[:, ::-1], np.asarray(trimesh.creation.icosahedron().triangles)]
    closed = 0
    for seed in range(300):
        dice = np.random.default_rng(seed)
        picked = pool[dice.permutation(24)[: dice.integers(1, 25)]] if seed % 3 else pool[12 * (seed % 2) : 44]
        directed: dict[tuple[bytes, bytes], int] = {}
        for corners in picked:
            for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
                one, other = start.tobytes(), end.tobytes()
                directed[one, other] = directed.get((one, other), 0) + 1
                directed[other, one] = directed.get((other, one), 0) - 1
        assert edges_cancel(picked) == (not any(directed.values()))
        closed += not any(directed.values())
    assert 0 < closed < 300
