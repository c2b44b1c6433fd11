"""The gaps measured again, by a method that shares nothing with the exact one: a collision library between meshes.

The meshes of its tubes are within a known chordal deviation of the true tubes. So the two results may differ by at most
the chordal deviations of both meshes. It decides only whether they agree; the headline gap is always the exact one.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from itertools import pairwise

import numpy as np

from headergen.checks.collision import Facets, distance_between, facets_of
from headergen.geometry.curves.body import Body
from headergen.geometry.curves.centreline import cut_out
from headergen.geometry.curves.run import free_length, run_bodies
from headergen.geometry.curves.sides import measured_spans
from headergen.geometry.curves.stepped import tube_of_step
from headergen.geometry.distance.cones import cone_skin, parts_to_index
from headergen.geometry.frames import add, frame_from_normal, norm, scaled, subtract
from headergen.geometry.mesh.boxes import box_mesh
from headergen.geometry.mesh.index import TriangleIndex
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

MeshedBody = tuple[Facets, float]  # with the chordal deviation of its meshes, mm


def ask_second_opinion(
    header: Header, surfaces: Mapping[str, TriangleIndex], gaps: Sequence[Gap]
) -> Iterator[SecondOpinion]:
    """One SecondOpinion for each chassis gap and each pair of tubes (whole tubes: the smallest of a pair's gaps).

    A tube that folds over itself in a bend has no skin to compare; it has an error finding instead.
    """
    tubes = {run.name: (run, line) for run, line in header.tubes if not _folds(run, line)}
    on_sides = measured_spans(header.tubes, header.draft.limits.between_tubes)
    gaps = [gap for gap in gaps if gap.a in tubes and (gap.b in tubes or not gap.is_between_runs)]
    items = {item.name: item for item in header.draft.chassis}

    @cache
    def tube(name: str, low: float, high: float | None = None) -> MeshedBody:
        run, line = tubes[name]
        skins = [body_skin(line, body) for body in run_bodies(run, line, low, line.length if high is None else high)]
        return facets_of([skin.mesh for skin in skins]), max(skin.chord_error for skin in skins)

    @cache
    def solid(name: str) -> MeshedBody:
        skins = list(item_skins(items[name], surfaces))
        return facets_of([skin.mesh for skin in skins]), max(skin.chord_error for skin in skins)

    for gap in gaps:
        if not gap.is_between_runs:
            item = items[gap.b]
            if item.name in surfaces and len(surfaces[item.name]) > MOST_TRIANGLES:
                continue
            run, line = tubes[gap.a]
            free = free_length(run, item)
            one, other = tube(gap.a, free), solid(gap.b)
            value = gap.value
            if value < 0.0 and gap.runs_through and item.name in surfaces:  # a depth; the library compares skins
                value = parts_to_index(run_bodies(run, line, free, line.length), surfaces[item.name])[0].value
            yield _compare(gap.a, gap.b, value, one, other)
    for (first, second), value in _whole_pairs(gaps).items():
        spans = (on_sides.get(pair, (0.0, None)) for pair in ((first, second), (second, first)))
        one, other = (tube(name, *span) for name, span in zip((first, second), spans, strict=True))
        yield _compare(first, second, value, one, other)


def _folds(run: Run, line: Centreline) -> bool:
    return any(isinstance(part, Arc) and part.radius < tube_of_step(run, part.step).radius for part in line.segments)


def body_skin(line: Centreline, body: Body) -> Skin:
    """One body of a tube along its centreline, as a mesh with flat ends."""
    skin = outer_skin(cut_out(line, *body.span), body.radius, CHORD_ERROR)
    return skin if body.cone is None else cone_skin(skin, body)


def _whole_pairs(gaps: Sequence[Gap]) -> dict[tuple[str, str], float]:
    least: dict[tuple[str, str], float] = {}
    for gap in gaps:
        if gap.is_between_runs:
            pair = (gap.a, gap.b)
            least[pair] = min(gap.value if gap.smallest is None else gap.smallest, least.get(pair, math.inf))
    return least


def _compare(a: str, b: str, exact: float, one: MeshedBody, two: MeshedBody) -> SecondOpinion:
    distance = max(distance_between(one[0], two[0]), 0.0)
    allowed = one[1] + two[1] + LIBRARY_ERROR
    # a thing that is wholly inside is measured from within; its distance to the skin is at most its depth
    surface = min(distance, -exact) if exact < 0 else exact
    return SecondOpinion(a, b, surface, distance, allowed)


def item_skins(item: ChassisItem, surfaces: Mapping[str, TriangleIndex]) -> Iterator[Skin]:
    """A chassis item as meshes; `surfaces` holds the items that are measured as triangles."""
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
    axis = subtract(end, start)
    frame = frame_from_normal(start, axis)
    line = Line(1, start, scaled(axis, 1 / norm(axis)), frame.x, norm(axis))
    return outer_skin(Centreline("", (line,)), diameter / 2, CHORD_ERROR)


def _ball(centre: Vec, radius: float) -> Skin:
    """An inscribed ball; its chordal deviation is that of its widest facets, by half their turn in both directions."""
    rows = np.linspace(0.0, math.pi, ROUND_SIDES // 2 + 1)[1:-1, None]
    turns = np.linspace(0.0, 2 * math.pi, ROUND_SIDES, endpoint=False)
    rings = np.stack([np.sin(rows) * np.cos(turns), np.sin(rows) * np.sin(turns), np.cos(rows) + 0 * turns], axis=-1)
    directions = np.concatenate([rings.reshape(-1, 3), [(0.0, 0.0, 1.0), (0.0, 0.0, -1.0)]])
    above = np.arange(len(rows) * ROUND_SIDES).reshape(-1, ROUND_SIDES)
    beside, top, bottom = np.roll(above, -1, axis=1), len(directions) - 2, len(directions) - 1
    corners = [
        (above[:-1], above[1:], beside[1:]),
        (above[:-1], beside[1:], beside[:-1]),
        (np.full(ROUND_SIDES, top), above[0], beside[0]),
        (np.full(ROUND_SIDES, bottom), beside[-1], above[-1]),
    ]
    faces = np.concatenate([np.stack(each, axis=-1).reshape(-1, 3) for each in corners])
    error = radius * (1 - math.cos(math.pi / ROUND_SIDES) ** 2)
    return Skin(TriangleMesh(np.array(centre) + radius * directions, faces, closed=True), error)
