"""The two points that are shown of a gap stand on both skins and are the gap apart; its profile tells the same gap.

Of every kind of pair that a survey measures, apart and crossing. The skins are told by distances written here.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from headergen.checks.made_parts import made_gaps
from headergen.checks.measure import survey
from headergen.geometry.curves.centreline import frame_at, trace
from headergen.geometry.curves.run import line_of
from headergen.geometry.distance.distance_triangles import nearest_on_triangles
from headergen.geometry.frames import WORLD, frame_from_normal
from headergen.geometry.mesh.boxes import box_mesh
from headergen.geometry.mesh.index import index_of
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.geometry.mesh.tube import outer_skin
from headergen.model import (
    Bend,
    Box,
    Centreline,
    ChassisItem,
    Cylinder,
    Gap,
    Header,
    HeaderRef,
    MeshRef,
    Plane,
    Step,
    Straight,
    TubeRun,
    Vec,
)
from headergen.pipeline import settle
from tests.checks.small_header import LIMITS, draft
from tests.lots import SERIES
from tests.validation.test_gaps_outside import distance_to_swept_disc

KINDS = ("box", "enclosure", "surface", "mesh", "open mesh", "plane", "cylinder", "line", "header")
RADIUS, NEAR = 21.2, 40.0  # mm; NEAR: of clearance, so that most gaps have a profile
EXACT = 1e-6  # mm; of gaps of some tens, at places some hundred mm off


def random_header(seed: int) -> tuple[Header, dict[str, TriangleMesh]]:
    """Two tubes with bends side by side, and things of every kind about them; some they cross, some face an end."""
    rng = np.random.default_rng(seed)
    steps: list[list[Step]] = [
        [Straight(rng.uniform(20, 120)), Bend(rng.uniform(0.2, 2.0), 63.5, rng.uniform(-3, 3)), Straight(60.0)]
        for _ in range(2)
    ]
    limits = replace(LIMITS, between_tubes=NEAR, together=rng.choice([0.0, 110.0]))
    asked = draft(*steps, pitch=rng.uniform(35, 80), limits=limits)
    made = Header(asked, asked.runs, tuple(line_of(run) for run in asked.runs))
    items, meshes = [], {}
    for kind in KINDS:
        line = made.centrelines[rng.integers(2)]
        at = rng.choice([0.0, line.length, rng.uniform(0, line.length)], p=[0.2, 0.4, 0.4])
        place, along, _ = frame_at(line, float(at))
        end = {0.0: -1.0, line.length: 1.0}.get(float(at), 0.0)
        off = end * rng.uniform(-10, 60) * np.array(along) + rng.normal(size=3) * rng.choice([5.0, 30.0])
        item, mesh = _item(rng, kind, np.array(place) + off, np.array(along) * (end or 1.0))
        items.append(item)
        if mesh is not None:
            meshes[kind] = mesh
    return replace(made, draft=replace(made.draft, chassis=tuple(items))), meshes


def _item(
    rng: np.random.Generator, kind: str, place: np.ndarray, facing: np.ndarray
) -> tuple[ChassisItem, TriangleMesh | None]:
    way = _vec(facing + rng.choice([0.0, 0.5]) * rng.normal(size=3))  # square to a tube as often as not
    frame, free = frame_from_normal(_vec(place), way), float(rng.choice([0.0, 30.0]))
    box = Box(frame, tuple(rng.uniform(20, 200, 3)))
    out = np.array(frame.z)
    shapes = {
        "box": box,
        "enclosure": replace(box, size=tuple(rng.uniform(100, 900, 3))),
        "surface": box,
        "plane": Plane(_vec(place), _vec(-out)),
        "cylinder": Cylinder(_vec(place), _vec(place + 80 * out), rng.uniform(10, 90)),
        "line": TubeRun(tuple(_vec(place + rng.normal(size=3) * 60) for _ in range(3)), 12.0),
        "header": HeaderRef("b.yaml", "0", ((trace(frame, [Straight(40.0), Bend(1.0, 60.0, 0.0)]), 38.0),)),
    }
    role = kind if kind in ("enclosure", "surface") else "obstacle"
    shape = shapes.get(kind, MeshRef(f"{kind}.stl", "0", "mm", WORLD))
    item = ChassisItem(kind, shape, NEAR, role=role, free_from_flange=free)  # type: ignore[arg-type]
    if kind not in ("mesh", "open mesh"):
        return item, None
    whole = box_mesh(box)
    return item, whole if kind == "mesh" else TriangleMesh(whole.vertices, whole.faces[:4], closed=False)


def _vec(point: np.ndarray) -> Vec:
    x, y, z = (float(value) for value in point)
    return (x, y, z)


def off_tube(line: Centreline, radius: float, point: np.ndarray, free: float = 0.0) -> float:
    """How far a point is off the skin of a flat-ended tube, what is before `free` cut off."""
    discs = [frame_at(line, at)[:2] for at in (free, line.length)]
    heights = [abs(float((point - middle) @ np.array(way))) for middle, way in discs]
    beside = [float(np.linalg.norm(point - middle)) for middle, _ in discs]
    on_disc = [height for height, reach in zip(heights, beside, strict=True) if reach <= radius + EXACT]
    return min([abs(float(distance_to_swept_disc(line, radius, point[None])[0])), *on_disc])


def off_triangles(triangles: np.ndarray, point: np.ndarray) -> float:
    feet = nearest_on_triangles(triangles, np.broadcast_to(point, (len(triangles), 3)))
    return float(np.linalg.norm(feet - point, axis=1).min())


def off_item(item: ChassisItem, meshes: dict[str, TriangleMesh], point: np.ndarray) -> float:
    """How far a point is off the skin of an item."""
    shape = item.shape
    if isinstance(shape, Box):
        return off_triangles(box_mesh(shape).triangles, point)
    if isinstance(shape, MeshRef):
        return off_triangles(meshes[item.name].triangles, point)
    if isinstance(shape, Plane):
        return abs(float((point - np.array(shape.origin)) @ np.array(shape.normal)))
    if isinstance(shape, HeaderRef):
        return min(off_tube(line, diameter / 2, point) for line, diameter in shape.tubes)
    if isinstance(shape, Cylinder):
        axis = np.subtract(shape.end, shape.start)
        frame = frame_from_normal(shape.start, _vec(axis))
        return off_tube(trace(frame, [Straight(float(np.linalg.norm(axis)))]), shape.diameter / 2, point)
    assert isinstance(shape, TubeRun)
    legs = [(np.array(a), np.subtract(b, a)) for a, b in pairwise(shape.points)]
    shares = [np.clip((point - a) @ leg / (leg @ leg), 0, 1) for a, leg in legs]
    away = [float(np.linalg.norm(point - a - share * leg)) for (a, leg), share in zip(legs, shares, strict=True)]
    return abs(min(away) - shape.diameter / 2)


def refuse_apart(gap: Gap | Gap, seed: int) -> None:
    one, other = np.array(gap.points)
    assert np.linalg.norm(one - other) == pytest.approx(abs(gap.value), abs=EXACT), (seed, gap)


def refuse_contradiction(gap: Gap, seed: int) -> None:
    """The least of the profile's stretches is the smallest gap, where that is; and nothing in it is less."""
    if not gap.near:
        return
    assert min(stretch.smallest for stretch in gap.near) == pytest.approx(gap.value, abs=EXACT), (seed, gap)
    assert any(each.start - 0.02 <= gap.place.at <= each.end + 0.02 for each in gap.near), (seed, gap)
    for stretch in gap.near:
        assert min(value for _, value in stretch.profile) >= stretch.smallest - EXACT, (seed, gap)


def refuse_off_place(gap: Gap, lines: dict[str, Centreline], seed: int) -> None:
    """Where the requirement grows, the gap is that of a ball at one of the places to the other tube's skin."""
    points = [np.array(point) for point in gap.points]
    middles = [np.array(frame_at(lines[place.run], place.at)[0]) for place in gap.places]
    off_ball = [abs(float(np.linalg.norm(p - m)) - RADIUS) for p, m in zip(points, middles, strict=True)]
    off_skin = [off_tube(lines[place.run], RADIUS, p) for place, p in zip(gap.places, points, strict=True)]
    assert min(off_ball[0] + off_skin[1], off_ball[1] + off_skin[0]) < 2 * EXACT, (seed, gap)


def refuse_untrue(seed: int) -> Counter[tuple[str, bool]]:
    header, meshes = random_header(seed)
    lines = {line.run: line for line in header.centrelines}
    items = {item.name: item for item in header.draft.chassis}
    seen: Counter[tuple[str, bool]] = Counter()
    found = survey(header, {name: index_of(mesh) for name, mesh in meshes.items()}, twice=False)
    for part in (*found.part_gaps, *found.reaches):
        refuse_apart(part, seed)
        seen["part", part.value < 0] += 1
    for gap in found.gaps:
        mine, theirs = np.array(gap.points)
        refuse_apart(gap, seed)
        if gap.together and gap.value != gap.smallest:
            refuse_off_place(gap, lines, seed)
            continue
        if not gap.together:  # there the smallest gap of a stretch need not be the one with the least to spare
            refuse_contradiction(gap, seed)
        if gap.is_between_runs:
            assert off_tube(lines[gap.b], RADIUS, theirs) < EXACT, (seed, gap)
            assert off_tube(lines[gap.a], RADIUS, mine) < EXACT, (seed, gap)
            seen["tubes", gap.value < 0] += 1
            continue
        item = items[gap.b]
        assert off_item(item, meshes, theirs) < EXACT, (seed, gap)
        assert off_tube(lines[gap.a], RADIUS, mine, item.free_from_flange) < EXACT, (seed, gap)
        seen[item.name, gap.value < 0] += 1
    return seen


@pytest.mark.parametrize(
    ("seeds", "least"),
    [
        pytest.param(range(12), 2, id="12", marks=pytest.mark.slow),
        pytest.param((52, 91, 210), 0, id="through a cut, in a crook, at an end within a tube"),
        # at least 4 in each quarter of the hundred, so that there are 16 in all
        *(pytest.param(range(k, k + 25), 4, id=f"{k} on", marks=SERIES) for k in range(30, 130, 25)),
    ],
)
def test_points_of_tubes_stand_on_both_skins_and_are_the_gap_apart(seeds: Sequence[int], least: int) -> None:
    seen: Counter[tuple[str, bool]] = Counter()
    for seed in seeds:
        seen += refuse_untrue(seed)
    wanted = {(kind, crosses) for kind in (*KINDS, "tubes", "part") for crosses in (False, True)}
    assert min(seen[each] for each in wanted) >= least, f"every kind, apart and crossing: {seen}"


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize("seed", range(4))
def test_points_of_secondaries_and_of_made_parts_are_the_gap_apart(seed: int) -> None:
    """About the secondary of a header of two steps, whose own skin stands in for a made part."""
    rng = np.random.default_rng(seed)
    header = _two_steps()
    line = line_of(header.run("secondary inner"))
    items, meshes = [], {}
    for kind in KINDS:
        place, along, _ = frame_at(line, float(rng.uniform(0, line.length)))
        off = rng.normal(size=3) * rng.choice([5.0, 30.0])
        item, mesh = _item(rng, kind, np.array(place) + off, np.array(along))
        items.append(replace(item, free_from_flange=0.0))
        if mesh is not None:
            meshes[kind] = mesh
    header = replace(header, draft=replace(header.draft, chassis=tuple(items)))
    index = {name: index_of(mesh) for name, mesh in meshes.items()}
    found = survey(header, index, twice=False)
    gaps = (*found.gaps, *found.part_gaps)
    assert {gap.b for gap in gaps if gap.a == "secondary inner"} >= set(KINDS)
    skin = outer_skin(line, header.run("secondary inner").tube.radius, 0.5).mesh
    made = list(made_gaps(header, index, {"outlet": skin}))
    assert len(made) > len(KINDS) / 2
    for gap in (*gaps, *made):
        refuse_apart(gap, seed)


@cache
def _two_steps() -> Header:
    return settle(Path(__file__).parents[1] / "two_steps" / "bogbean_four_two_one.yaml")
