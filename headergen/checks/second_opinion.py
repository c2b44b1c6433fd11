"""The gaps once more, by a method that shares nothing with the exact one: a collision library between meshes.

Its tubes are meshes within a known chordal deviation of the true ones, so that the two answers may differ by the
chordal deviations of both meshes and no more. It decides nothing but whether they agree; the headline gap is always the
exact one.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np

from headergen.geometry.curves.body import tube_body
from headergen.geometry.curves.centreline import cut_out
from headergen.geometry.frames import add, frame_from_normal, norm, scaled, subtract
from headergen.geometry.mesh.boxes import box_mesh
from headergen.geometry.mesh.index import TriangleIndex, body_to_index
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.geometry.mesh.tube import Skin, outer_skin
from headergen.model import (
    Arc,
    Box,
    Centreline,
    ChassisItem,
    Cylinder,
    Frame,
    Gap,
    Header,
    HeaderRef,
    Line,
    Plane,
    Run,
    SecondOpinion,
    TubeRun,
    Vec,
)

CHORD_ERROR = 0.5  # mm; of the meshes compared here
LIBRARY_ERROR = 1e-3  # mm; the library works to about 1e-6 of the sizes it handles
HALF_SPACE = 6000.0  # mm; a plane is compared as a slab this wide
ROUND_SIDES = 48
MOST_TRIANGLES = 20_000  # the library loads a hundred thousand in a second; a scan is left to the exact method


def ask_second_opinion(
    header: Header, surfaces: Mapping[str, TriangleIndex], gaps: Sequence[Gap]
) -> Iterator[SecondOpinion]:
    """One SecondOpinion for each chassis gap and each pair of tubes (whole tubes: the least of a pair's gaps).

    A tube that folds in a bend has no skin to compare; it has an error finding instead.
    """
    tubes = {run.name: (run, line) for run, line in header.tubes if not _folds(run, line)}
    gaps = [gap for gap in gaps if gap.a in tubes and (gap.b in tubes or not gap.is_between_runs)]
    items = {item.name: item for item in header.draft.chassis}

    @cache
    def tube(name: str, free: float) -> tuple[Any, float]:
        run, line = tubes[name]
        skin = outer_skin(cut_out(line, free, line.length), run.tube.radius, CHORD_ERROR)
        return collision_manager([skin.mesh]), skin.chord_error

    @cache
    def solid(name: str) -> tuple[Any, float]:
        skins = list(item_skins(items[name], surfaces))
        return collision_manager([skin.mesh for skin in skins]), max(skin.chord_error for skin in skins)

    for gap in gaps:
        if not gap.is_between_runs:
            item = items[gap.b]
            if item.name in surfaces and len(surfaces[item.name]) > MOST_TRIANGLES:
                continue
            run, line = tubes[gap.a]
            free = item.free_from_flange if run.is_primary else 0.0
            one, other = tube(gap.a, free), solid(gap.b)
            value = gap.value
            if value < 0.0 and gap.runs_through and item.name in surfaces:  # a depth; what is compared is the skins
                left = cut_out(line, free, line.length)
                value = body_to_index(tube_body(left, run.tube.radius), surfaces[item.name]).value
            yield _compare(gap.a, gap.b, value, one, other)
    for (first, second), value in _whole_pairs(gaps).items():
        yield _compare(first, second, value, tube(first, 0.0), tube(second, 0.0))


def _folds(run: Run, line: Centreline) -> bool:
    return any(isinstance(part, Arc) and part.radius < run.tube.radius for part in line.segments)


def _whole_pairs(gaps: Sequence[Gap]) -> dict[tuple[str, str], float]:
    least: dict[tuple[str, str], float] = {}
    for gap in gaps:
        if gap.is_between_runs:
            pair = (gap.a, gap.b)
            least[pair] = min(gap.value, least.get(pair, math.inf))
    return least


def _compare(a: str, b: str, exact: float, one: tuple[Any, float], two: tuple[Any, float]) -> SecondOpinion:
    distance = max(float(one[0].min_distance_other(two[0])), 0.0)
    allowed = one[1] + two[1] + LIBRARY_ERROR
    # what is swallowed whole is measured from within, and is no farther from the skin than it is deep
    surface = min(distance, -exact) if exact < 0 else exact
    return SecondOpinion(a, b, surface, distance, allowed)


def collision_manager(meshes: Sequence[TriangleMesh], label: str = "") -> Any:
    """The meshes as one body of the collision library, its objects called LABEL0, LABEL1, …"""
    import trimesh
    from trimesh.collision import CollisionManager

    class Facets(trimesh.Trimesh):
        is_convex = False  # compared facet by facet; to find out costs more than the distance

    manager = CollisionManager()
    for index, mesh in enumerate(meshes):
        manager.add_object(f"{label}{index}", Facets(mesh.vertices, mesh.faces, process=False, validate=False))
    return manager


def item_skins(item: ChassisItem, surfaces: Mapping[str, TriangleIndex]) -> Iterator[Skin]:
    """A chassis item as meshes; `surfaces` holds those that are measured as triangles."""
    shape = item.shape
    if item.name in surfaces:
        yield Skin(surfaces[item.name].mesh(), 0.0)
    elif isinstance(shape, Plane):
        frame = frame_from_normal(shape.origin, shape.normal)
        centre = add(shape.origin, frame.z, -HALF_SPACE / 2)
        yield Skin(box_mesh(Box(Frame(centre, frame.x, frame.y, frame.z), (HALF_SPACE,) * 3)), 0.0)
    elif isinstance(shape, Cylinder):
        yield _round_skin(shape.start, shape.end, shape.diameter)
    elif isinstance(shape, HeaderRef):
        yield from (outer_skin(line, diameter / 2, CHORD_ERROR) for line, diameter in shape.tubes)
    else:
        assert isinstance(shape, TubeRun)
        for a, b in pairwise(shape.points):
            yield _round_skin(a, b, shape.diameter)
        for point in shape.points:
            yield _ball(point, shape.diameter / 2)


def _round_skin(start: Vec, end: Vec, diameter: float) -> Skin:
    from headergen.model import Centreline

    axis = subtract(end, start)
    frame = frame_from_normal(start, axis)
    line = Line(1, start, scaled(axis, 1 / norm(axis)), frame.x, norm(axis))
    return outer_skin(Centreline("", (line,)), diameter / 2, CHORD_ERROR)


def _ball(centre: Vec, radius: float) -> Skin:
    """An inscribed ball; its chordal deviation is that of its widest facets, by half their turn both ways."""
    import trimesh

    ball = trimesh.creation.uv_sphere(radius, count=[ROUND_SIDES // 2, ROUND_SIDES])
    error = radius * (1 - math.cos(math.pi / ROUND_SIDES) ** 2)
    faces = np.asarray(ball.faces, dtype=np.int64)
    return Skin(TriangleMesh(np.asarray(ball.vertices, dtype=float) + np.array(centre), faces, closed=True), error)
