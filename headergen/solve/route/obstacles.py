"""The chassis in the search: simple solids in closed form, meshes and other headers as distance grids.

A mesh is unsigned, so that open and closed scans work alike: a tube cannot jump over a surface, because its samples are
nearer together than the clearance. This model is only a guide; routes are judged by the checks.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np
from scipy.spatial import cKDTree

from headergen.checks.envelopes import envelopes
from headergen.checks.measure import Meshes
from headergen.geometry.arrays import Array
from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.frames import add, any_normal, cross, norm, point_in, scaled, subtract, unit
from headergen.geometry.mesh.boxes import plate_mesh
from headergen.geometry.mesh.index import near_point
from headergen.geometry.plate.flange import plate_of
from headergen.geometry.plate.outline import bounds
from headergen.model import (
    Box,
    Centreline,
    ChassisItem,
    Cylinder,
    Draft,
    Frame,
    HeaderRef,
    MeshRef,
    OtherPlate,
    Plane,
    TubeRun,
    Vec,
)

BOX, CYLINDER, HALF_SPACE, CAPSULE, CONE = range(5)
COLUMNS = 21
GRID_STEP = 8.0  # mm
MOST_NODES = 700_000
SAMPLE_STEP = 5.0  # mm between samples on triangles; 30 mm away the distance is at most 0.2 mm too large
REACH = 16.0  # mm beyond the clearance up to which a grid knows its distance
NOWHERE = 1e9
LEAVING = 30.0  # mm of a tube past its flange's plate over which it may bend and stay beside the plate


def solid_rows(draft: Draft, groups: Mapping[str, int]) -> Array:
    """(n, 21) rows for the kernels: solids of the chassis, bodies of collectors, and plates of several flanges."""
    rows = [row for item in draft.chassis for row in _item_rows(item)]
    rows += [*_collector_rows(draft, groups), *_plate_rows(draft)]
    return np.array(rows, dtype=float).reshape(-1, COLUMNS)


def _row(
    kind: int, frame: Frame, sizes: Sequence[float], item: tuple[float, float, float], own: tuple[int, float]
) -> list[float]:
    """`item`: clearance, sign, free length at the flange; `own`: a collector, and its tubes' free length before it."""
    clearance, sign, free = item
    return [kind, *frame.origin, *frame.x, *frame.y, *frame.z, *sizes, clearance, sign, free, *own]


def _item_rows(item: ChassisItem) -> Iterator[list[float]]:
    shape = item.shape
    sign = -1.0 if item.role == "enclosure" and isinstance(shape, Box) else 1.0
    of, own = (item.clearance, sign, item.free_from_flange), (-1, 0.0)
    if isinstance(shape, Box):
        yield _row(BOX, shape.frame, [size / 2 for size in shape.size], of, own)
    elif isinstance(shape, Cylinder):
        frame, half = _between(shape.start, shape.end)
        yield _row(CYLINDER, frame, (shape.diameter / 2, 0.0, half), of, own)
    elif isinstance(shape, Plane):
        frame, _ = _between(shape.origin, add(shape.origin, shape.normal))
        yield _row(HALF_SPACE, replace(frame, origin=shape.origin), (0.0, 0.0, 0.0), of, own)
    elif isinstance(shape, TubeRun):
        for start, end in zip(shape.points, shape.points[1:], strict=False):
            frame, half = _between(start, end)
            yield _row(CAPSULE, frame, (shape.diameter / 2, 0.0, half), of, own)


def _between(start: Vec, end: Vec) -> tuple[Frame, float]:
    """A frame at the midpoint of two points with z from one to the other, and half their distance."""
    z = unit(subtract(end, start))
    x = any_normal(z)
    return Frame(scaled(add(start, end), 0.5), x, cross(z, x), z), norm(subtract(end, start)) / 2


def _collector_rows(draft: Draft, groups: Mapping[str, int]) -> Iterator[list[float]]:
    """Merges and outlets against all tubes, except for their own tubes near them; sleeves against tubes of others."""
    for part in envelopes(draft):
        if part.shape is None:
            continue
        own = (groups[part.collector], NOWHERE if part.is_sleeve else max(draft.limits.together, 60.0))
        shape, half = part.shape, part.shape.length / 2
        frame = replace(shape.frame, origin=add(shape.frame.origin, shape.frame.z, half))
        of = (draft.limits.between_tubes, 1.0, 0.0)
        yield _row(CONE, frame, (shape.start, shape.end, half), of, own)


def _plate_rows(draft: Draft) -> Iterator[list[float]]:
    """If there are several flanges, each as the box round its plate; near its own flange every tube is free."""
    for flange in draft.flanges if len(draft.flanges) > 1 else ():
        plate = plate_of(flange, draft.tube)
        (left, low), (right, high) = bounds(plate.outline)
        middle = point_in(flange.frame, ((left + right) / 2, (low + high) / 2, plate.thickness / 2))
        sizes = ((right - left) / 2, (high - low) / 2, plate.thickness / 2)
        wide = max(draft.tube_at(port).radius for port in flange.ports)
        free = plate.thickness + wide + 2 * draft.limits.between_tubes
        of = (draft.limits.between_tubes, 1.0, free + LEAVING)
        yield _row(BOX, replace(flange.frame, origin=middle), sizes, of, (-1, 0.0))


def grids_of(draft: Draft, meshes: Meshes, low: Array, high: Array, radius: float) -> tuple[Array, float, Array]:
    """Grids (g, x, y, z) of distance minus clearance, their step, and their free lengths (g,), for one radius."""
    by_free: dict[float, Array] = {}
    step = max(GRID_STEP, float(np.prod(high - low) / MOST_NODES) ** (1 / 3))
    counts = np.ceil((high - low) / step).astype(int) + 1
    axes = [low[c] + step * np.arange(counts[c]) for c in range(3)]
    nodes = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    for item in draft.chassis:
        samples, less = _samples(item, meshes, low, high)
        if len(samples) == 0:
            continue
        reach = item.clearance + radius + less + REACH
        found = _nearest(samples, nodes, reach)
        free = found - less - item.clearance
        grid = free.reshape(counts)
        known = by_free.get(item.free_from_flange)
        by_free[item.free_from_flange] = grid if known is None else np.minimum(known, grid)
    if not by_free:
        return np.zeros((0, 2, 2, 2)), GRID_STEP, np.zeros(0)
    return np.stack(list(by_free.values())), step, np.array(list(by_free))


def _nearest(samples: Array, nodes: Array, reach: float) -> Array:
    """Distance of each node to the nearest sample, at most `reach`; only nodes in cells near a sample are computed."""
    cells = np.unique(np.floor(samples / reach).astype(np.int64), axis=0)
    around = np.stack(np.meshgrid(*[[-1, 0, 1]] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
    low = cells.min(axis=0) - 1
    taken = np.zeros(cells.max(axis=0) - low + 2, dtype=bool)
    for shift in around:
        taken[tuple((cells + shift - low).T)] = True
    at = np.floor(nodes / reach).astype(np.int64) - low
    within = ((at >= 0) & (at < taken.shape)).all(axis=1)
    rows = np.flatnonzero(within)[taken[tuple(at[within].T)]]
    out = np.full(len(nodes), reach)
    found, _ = cKDTree(samples).query(nodes[rows], distance_upper_bound=reach)
    out[rows] = np.minimum(found, reach)
    return out


def _samples(item: ChassisItem, meshes: Meshes, low: Array, high: Array) -> tuple[Array, float]:
    """Points on the surface of a mesh, or on the centrelines of another header with the radius of its widest tube.

    The extra room beside its thinner tubes is not used here; the checks use each tube's own radius.
    """
    if isinstance(item.shape, HeaderRef):
        points = [points_on_line(line, SAMPLE_STEP) for line, _ in item.shape.tubes]
        widest = max((diameter for _, diameter in item.shape.tubes), default=0.0)
        return np.concatenate([np.zeros((0, 3)), *points]), widest / 2
    if isinstance(item.shape, OtherPlate):
        return sampled_triangles(plate_mesh(item.shape).triangles, SAMPLE_STEP), 0.0
    if not isinstance(item.shape, MeshRef):
        return np.zeros((0, 3)), 0.0
    reach = float(np.linalg.norm(high - low)) / 2 + REACH + item.clearance + 40.0
    triangles = meshes[item.name].triangles(near_point(meshes[item.name], (low + high) / 2, reach))
    around = REACH + item.clearance + 40.0
    near = ((triangles.max(axis=1) > low - around) & (triangles.min(axis=1) < high + around)).all(axis=1)
    return sampled_triangles(triangles[near], SAMPLE_STEP), 0.0


def points_on_line(line: Centreline, step: float) -> Array:
    """Points along a centreline, at most `step` apart, ends included."""
    count = max(2, math.ceil(line.length / step) + 1)
    return np.array([frame_at(line, at)[0] for at in np.linspace(0.0, line.length, count)])


def sampled_triangles(triangles: Array, step: float) -> Array:
    """Points on triangles (n, 3, 3) in rows beside the longest edge, at most `step` apart in a row and between rows."""
    if len(triangles) == 0:
        return np.zeros((0, 3))
    edges = np.linalg.norm(np.roll(triangles, -1, axis=1) - triangles, axis=2)
    first = edges.argmax(axis=1)
    a, b, c = (triangles[np.arange(len(triangles)), (first + k) % 3] for k in range(3))
    longest = edges.max(axis=1)
    height = np.linalg.norm(np.cross(b - a, c - a), axis=1) / np.maximum(longest, 1e-9)
    parts = np.stack([np.ceil(longest / step), np.ceil(height / step)], axis=1).astype(int)
    out = []
    for along, across in np.unique(np.maximum(parts, 1), axis=0):
        rows = (np.maximum(parts, 1) == (along, across)).all(axis=1)
        u, v = np.meshgrid(np.linspace(0, 1, along + 1), np.linspace(0, 1, across + 1))
        weights = np.stack([(1 - u) * (1 - v), u * (1 - v), v], axis=-1).reshape(-1, 3)
        out.append(np.einsum("wk,nkc->nwc", weights, np.stack([a[rows], b[rows], c[rows]], axis=1)).reshape(-1, 3))
    return np.concatenate(out)
