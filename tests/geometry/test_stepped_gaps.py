"""Exact gaps of stepped tubes against dense sampling of their skins, and a tube whose sizes are equal."""

from __future__ import annotations

import math
from itertools import product

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.spatial import cKDTree

from headergen.geometry.arrays import Array
from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.curves.run import line_of, run_bodies
from headergen.geometry.curves.stepped import growth_places, outside_spans
from headergen.geometry.distance.cones import exact_groups, parts_to_index, parts_to_plane
from headergen.geometry.distance.distance_triangles import nearest_on_triangles
from headergen.geometry.frames import cross, frame_from_normal
from headergen.geometry.mesh.index import index_of
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.model import Bend, Bore, Centreline, Growth, Outlet, Plane, Run, Step, Straight, Tube, Vec

SPACING = 2.5  # mm between samples; the best ones are then led to the nearest place of their own piece of skin
SEEN = 0.01  # mm by which the sampled gap may be larger: the search from the best samples stops that near


def stepped_run(rng: np.random.Generator, origin: Vec, towards: Vec) -> Run:
    """Two or three sizes, by slip or cone, with a bend before and after each step."""
    frame = frame_from_normal(origin, towards)
    steps: list[Step] = [Straight(float(rng.uniform(15, 50)))]
    outside, wall = 36.0, 1.5
    for _ in range(int(rng.integers(1, 3))):
        by_slip = bool(rng.integers(2))
        outside += 3.2 if by_slip else float(rng.uniform(2, 10))
        along = float(rng.uniform(12, 40))
        steps += [
            Bend(math.radians(float(rng.uniform(15, 70))), float(rng.uniform(55, 90)), float(rng.uniform(-3, 3))),
            Straight(float(rng.uniform(5, 40))),
            Straight(along, Growth(outside, wall, "slip" if by_slip else "cone")),
            Straight(float(rng.uniform(12, 60))),
        ]
    return Run("primary 1", Tube(36.0, wall, "304L"), Outlet("", frame), Bore("", 1, "", frame), tuple(steps))


Piece = tuple[Centreline, tuple[float, float], tuple[float, float]]  # from, to along the line; radii there


def pieces_of_skin(run: Run, line: Centreline) -> list[Piece]:
    """Walls, and discs as pieces without length, one radius of them 0."""
    found: list[Piece] = []
    for span in outside_spans(run):
        found.append((line, (span.start, span.end), span.radii))
        found += [
            (line, (at, at), (0.0, radius)) for at, radius in zip((span.start, span.end), span.radii, strict=True)
        ]
    return found


def on_skin(piece: Piece, share: float, turn: float) -> Array:
    line, (low, high), (first, last) = piece
    point, tangent, normal = frame_at(line, low + share * (high - low))
    radius = first + share * (last - first)
    across = np.array(cross(tangent, normal))
    return np.array(point) + radius * (math.cos(turn) * np.array(normal) + math.sin(turn) * across)


def sampled(piece: Piece) -> tuple[Array, Array]:
    """(n, 3) points and (n, 2) shares and turns."""
    _, (low, high), (first, last) = piece
    shares = np.linspace(0.0, 1.0, math.ceil(max(high - low, abs(last - first)) / SPACING) + 1)
    turns = np.linspace(0.0, 2 * math.pi, math.ceil(2 * math.pi * max(first, last) / SPACING), endpoint=False)
    places = np.array(list(product(shares, turns)))
    line = piece[0]
    frames = [frame_at(line, low + share * (high - low)) for share in shares]
    points = []
    for share, (point, tangent, normal) in zip(shares, frames, strict=True):
        radius, across = first + share * (last - first), np.array(cross(tangent, normal))
        ring = np.outer(np.cos(turns), normal) + np.outer(np.sin(turns), across)
        points.append(np.array(point) + radius * ring)
    return np.concatenate(points), places


def led(one: Piece, place: Array, distance: object) -> float:
    """The least distance near a sample."""
    found = minimize(
        lambda at: distance(on_skin(one, at[0], at[1])),  # type: ignore[operator]
        place,
        bounds=[(0.0, 1.0), (None, None)],
        method="L-BFGS-B",
        options={"ftol": 1e-15, "gtol": 1e-10},
    )
    return float(found.fun)


def to_triangles(run: Run, line: Centreline, triangles: Array) -> float:
    def away(points: Array) -> NDArray[np.float64]:
        best = np.full(len(points), np.inf)
        for triangle in triangles:
            onto = nearest_on_triangles(np.broadcast_to(triangle, (len(points), 3, 3)), points)
            best = np.minimum(best, np.linalg.norm(points - onto, axis=1))
        return best

    least = math.inf
    for piece in pieces_of_skin(run, line):
        points, places = sampled(piece)
        value = away(points)
        best = int(value.argmin())
        if value[best] < least + SPACING:
            least = min(least, led(piece, places[best], lambda at: float(away(at[None])[0])))
    return least


def to_tube(one: tuple[Run, Centreline], two: tuple[Run, Centreline]) -> float:
    """By samples of both skins; the best pair of each two pieces is led to where both are nearest."""
    left = [(piece, *sampled(piece)) for piece in pieces_of_skin(*one)]
    right = [(piece, *sampled(piece)) for piece in pieces_of_skin(*two)]
    trees = [cKDTree(points) for _, points, _ in right]
    least = math.inf
    rough = []
    for (piece, points, places), ((other, _, theirs), tree) in product(left, zip(right, trees, strict=True)):
        value, which = tree.query(points)
        best = int(value.argmin())
        rough.append((float(value[best]), piece, other, np.r_[places[best], theirs[which[best]]]))
    nearest = min(each[0] for each in rough)
    for value, piece, other, start in rough:
        if value < nearest + 2 * SPACING:
            found = minimize(
                lambda at, a=piece, b=other: float(np.linalg.norm(on_skin(a, at[0], at[1]) - on_skin(b, at[2], at[3]))),
                start,
                bounds=[(0.0, 1.0), (None, None)] * 2,
                method="L-BFGS-B",
                options={"ftol": 1e-15, "gtol": 1e-10},
            )
            least = min(least, float(found.fun))
    return least


def one_of_each(seed: int) -> list[tuple[str, float, float]]:
    """Measured and sampled gap of one stepped tube to triangles, to a half space and to another stepped tube."""
    rng = np.random.default_rng(seed)
    run = stepped_run(rng, (0.0, 0.0, 0.0), (0.0, 0.0, 1.0))
    line, bodies = line_of(run), run_bodies(run, line_of(run))
    place = growth_places(run)[-1]
    near = np.array(frame_at(line, (place.start + place.end) / 2)[0])  # most are nearest about a step
    away = rng.normal(size=3)
    away -= float(away @ np.array(frame_at(line, place.start)[1])) * np.array(frame_at(line, place.start)[1])
    way = away / np.linalg.norm(away)
    middle = near + rng.uniform(35, 55) * way + rng.normal(scale=8.0, size=3)
    corners = middle + rng.normal(scale=6.0, size=(3, 3, 3))
    found = []
    exact = parts_to_index(bodies, index_of(TriangleMesh(corners.reshape(-1, 3), np.arange(9).reshape(3, 3), False)))
    if exact[0].value > 0.5:
        found.append(("triangles", exact[0].value, to_triangles(run, line, corners)))
    normal: Vec = tuple((-way).tolist())
    plane = Plane(tuple((near + 70 * way).tolist()), normal)
    heights = [
        float(((sampled(piece)[0] - np.array(plane.origin)) @ np.array(normal)).min())
        for piece in pieces_of_skin(run, line)
    ]
    height = parts_to_plane(bodies, plane)[0].value
    found.append(("plane", height, min(heights)))
    other = stepped_run(rng, tuple((middle + 25 * way - 60 * np.array([0, 0, 1.0])).tolist()), (0.1, 0.0, 1.0))
    against = line_of(other)
    pairs = list(product(bodies, run_bodies(other, against)))
    gap = min(each.value for each, _ in exact_groups([pairs])[0])
    if gap > 0.5:
        found.append(("tube", gap, to_tube((run, line), (other, against))))
    return found


def check(seed: int) -> int:
    compared = one_of_each(seed)
    for what, exact, by_samples in compared:
        allowed = SPACING**2 / 20 if what == "plane" else SEEN  # a height's samples are not led anywhere
        assert -1e-6 <= by_samples - exact <= allowed, (seed, what, exact, by_samples)
    return len(compared)


@pytest.mark.quick(1)
@pytest.mark.parametrize("seed", range(4))
def test_gaps_of_stepped_tubes_are_those_of_their_sampled_skins(seed: int) -> None:
    assert check(seed) >= 2


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize("start", range(100, 240, 20))
def test_three_hundred_gaps_of_stepped_tubes(start: int) -> None:
    assert sum(check(seed) for seed in range(start, start + 20)) >= 45


def test_a_tube_with_one_size_is_measured_as_one_body() -> None:
    frame = frame_from_normal((0.0, 0.0, 0.0), (0.0, 0.0, 1.0))
    steps = (Straight(50.0), Bend(1.0, 60.0, 0.3), Straight(40.0))
    run = Run("primary 1", Tube(40.0, 1.5, "304L"), Outlet("", frame), Bore("", 1, "", frame), steps)
    (body,) = run_bodies(run, line_of(run))
    assert body.radius == 20.0 and len(body.curves) == 3 and body.cone is None
