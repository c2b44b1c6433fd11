"""The exact gap between triangles and a round body: closed form for lines, bracketed Newton for arcs.

The smallest distance between a triangle and a curve is at an end of the curve, where the curve crosses the triangle's
plane, where it runs parallel to that plane, or between the curve and an edge. Along an edge, the squared distance to a
circle is convex on at most two intervals, with at most one minimum in each.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from headergen.geometry.arrays import Array, Mask
from headergen.geometry.curves.body import (
    Body,
    Curve,
    Rows,
    distance_to_body,
    distance_to_curve,
    distance_to_disc,
    points_on,
    quick_distance,
    rim,
    surface_point,
)

THIN = 1e-24  # squared area (mm⁴) below which only a triangle's edges are measured
NEWTON_ROUNDS = 32  # bisection alone is then within 1e-6 mm on any edge, and the distance's error is the square of that
NEWTON_STEP = 1e-9
ROUNDING = 1e-9  # mm; a bound and the gap it bounds may be the same distance computed in two ways


@dataclass(frozen=True, eq=False)
class Nearest:
    """Where a tube and another body are nearest: signed value, place along the tube, point on the other, its triangle.

    `skin`: the point on the tube's skin. The two points are |value| apart, even where the bodies cross.
    """

    value: float
    at: float
    point: Array
    triangle: int
    skin: Array


def nearest_on_triangles(triangles: Array, points: Array) -> Array:
    """(n, 3) nearest points of triangles (n, 3, 3) to points (n, 3), row by row; degenerate ones count as edges."""
    best = np.full(len(triangles), np.inf)
    out = np.empty((len(triangles), 3))
    for k in range(3):
        a = triangles[:, k]
        edge = triangles[:, (k + 1) % 3] - a
        squared = _dots(edge, edge)
        along = np.clip(_dots(points - a, edge) / np.where(squared > 0, squared, 1.0), 0.0, 1.0)
        candidate = a + along[:, None] * edge
        distance = _dots(points - candidate, points - candidate)
        better = distance < best
        best[better], out[better] = distance[better], candidate[better]
    inside, foot = _foot_inside(triangles, points)
    out[inside] = foot[inside]
    return out


def _foot_inside(triangles: Array, points: Array) -> tuple[Mask, Array]:
    """Which points project into their triangle, and the feet of all points on its plane."""
    a = triangles[:, 0]
    ab, ac, ap = triangles[:, 1] - a, triangles[:, 2] - a, points - a
    normal = _cross(ab, ac)
    squared = _dots(normal, normal)
    safe = np.where(squared > THIN, squared, 1.0)
    w = _dots(_cross(ab, ap), normal) / safe
    v = _dots(_cross(ap, ac), normal) / safe
    inside = (squared > THIN) & (v >= 0) & (w >= 0) & (v + w <= 1)
    return inside, points - (_dots(ap, normal) / safe)[:, None] * normal


def triangles_to_curve(triangles: Array, curve: Curve) -> tuple[Array, Array, Array]:
    """Distances (n,), nearest points of the triangles (n, 3) and lengths (n,) into the curve; exact."""
    count = len(triangles)
    best = (np.full(count, np.inf), np.empty((count, 3)), np.zeros(count))
    for into, valid in _plane_candidates(triangles, curve):
        _offer(best, triangles, curve, into, valid)
    a, b = triangles.reshape(-1, 3), np.roll(triangles, -1, axis=1).reshape(-1, 3)
    for points, valid in _edge_candidates(a, b, curve):
        distance, into = distance_to_curve(curve, points)
        distance = np.where(valid, distance, np.inf)
        for k in range(3):
            _keep(best, distance[k::3], points[k::3], into[k::3])
    return best


def _offer(best: tuple[Array, Array, Array], triangles: Array, curve: Curve, into: Array, valid: Mask) -> None:
    rows = np.flatnonzero(valid)
    if not len(rows):
        return
    on_curve = points_on(curve, into[rows])
    on_triangle = nearest_on_triangles(triangles[rows], on_curve)
    distance = np.full(len(triangles), np.inf)
    distance[rows] = np.sqrt(_dots(on_curve - on_triangle, on_curve - on_triangle))
    points = np.empty_like(best[1])
    points[rows] = on_triangle
    _keep(best, distance, points, into)


def _keep(best: tuple[Array, Array, Array], distance: Array, points: Array, into: Array) -> None:
    better = distance < best[0]
    for kept, new in zip(best, (distance, points, into), strict=True):
        kept[better] = new[better]


def _plane_candidates(triangles: Array, curve: Curve) -> list[tuple[Array, Mask]]:
    """Lengths into the curve where it ends, crosses each triangle's plane, or runs parallel to it."""
    count = len(triangles)
    everywhere = np.ones(count, dtype=bool)
    found = [(np.zeros(count), everywhere), (np.full(count, curve.length), everywhere)]
    normal = _cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    size = np.sqrt(_dots(normal, normal))
    flat = size * size > THIN
    normal = normal / np.where(flat, size, 1.0)[:, None]
    height = _dots(normal, curve.origin - triangles[:, 0])
    with np.errstate(divide="ignore", invalid="ignore"):
        if curve.radius == 0.0:
            lengths = [-height / (normal @ curve.v)]
        else:
            p, q = curve.radius * (normal @ curve.u), curve.radius * (normal @ curve.v)
            top, half = np.arctan2(q, p), np.arccos(-height / np.hypot(p, q))
            turns = (top, top + math.pi, top + half, top - half)
            lengths = [(turn % (2 * math.pi)) * curve.radius for turn in turns]
        for into in lengths:
            valid = flat & np.isfinite(into) & (into >= 0.0) & (into <= curve.length)
            found.append((np.where(valid, into, 0.0), valid))
    return found


def _edge_candidates(a: Array, b: Array, curve: Curve) -> list[tuple[Array, Mask]]:
    """Points on the edges a–b (n, 3) where the distance to the curve has its minima, beside the curve's own ends."""
    edge = b - a
    length = np.sqrt(_dots(edge, edge))
    direction = edge / np.where(length > 0, length, 1.0)[:, None]
    everywhere = np.ones(len(a), dtype=bool)
    if curve.radius == 0.0:
        along = _nearest_to_line(a, direction, length, curve)
        return [(a + along[:, None] * direction, everywhere), (a, everywhere)]
    found = [(a, everywhere)]  # b is the a of the next edge
    for along, valid in circle_minima(a, direction, length, curve):
        found.append((a + along[:, None] * direction, valid))
    return found


def _nearest_to_line(a: Array, direction: Array, length: Array, curve: Curve) -> Array:
    """Lengths along the edges at which they are nearest to the line, clipped to the edge and the curve."""
    w = a - curve.origin
    b = direction @ curve.v
    c, f = w @ curve.v, _dots(w, direction)
    slant = 1.0 - b * b
    skew = slant > 1e-14
    into = np.where(skew, (c - b * f) / np.where(skew, slant, 1.0), 0.0)
    into = np.clip(into, 0.0, curve.length)
    along = np.clip(b * into - f, 0.0, length)
    # clipping to the edge may have moved the foot: one more exchange settles both on their ends
    into = np.clip(c + b * along, 0.0, curve.length)
    return np.clip(b * into - f, 0.0, length)


def circle_minima(a: Array, direction: Array, length: Array, curve: Curve) -> list[tuple[Array, Mask]]:
    """Minima of the distance from points a + t·direction, 0 ≤ t ≤ length, to the arc's whole circle.

    With ρ² = αt² + 2βt + γ the squared distance from the axis, half the derivative of the squared distance is g(t) = t
    + m − R(αt + β)/ρ, and g′ ≥ 0 outside |t + β/α| < w, where ρ³ = R(αγ − β²).
    """
    w = a - curve.origin
    a0, b0 = w @ curve.u, w @ curve.v
    a1, b1 = direction @ curve.u, direction @ curve.v
    alpha, beta, gamma = a1 * a1 + b1 * b1, a0 * a1 + b0 * b1, a0 * a0 + b0 * b0
    m = _dots(w, direction)
    bend = curve.radius * np.maximum(alpha * gamma - beta * beta, 0.0)
    safe = np.where(alpha > 1e-20, alpha, 1.0)
    middle = -beta / safe
    nearest = np.maximum(gamma - beta * beta / safe, 0.0)
    inner = bend ** (2 / 3) - nearest
    split = (alpha > 1e-20) & (inner >= 0)
    half = np.sqrt(np.maximum(inner, 0.0) / safe)

    def slope(t: Array, rows: Rows) -> tuple[Array, Array]:
        rho = np.sqrt(np.maximum((alpha[rows] * t + 2 * beta[rows]) * t + gamma[rows], 1e-300))
        with np.errstate(all="ignore"):  # on the axis, where every side is equally near
            pull = curve.radius * (alpha[rows] * t + beta[rows]) / rho
            return t + m[rows] - pull, 1.0 - bend[rows] / rho**3

    left_end = np.where(split, np.minimum(length, middle - half), length)
    right_start = np.maximum(0.0, middle + half)
    return [
        _roots_between(slope, np.zeros(len(a)), left_end, left_end >= 0),
        _roots_between(slope, right_start, length, split & (right_start <= length)),
    ]


Slope = Callable[[Array, Rows], tuple[Array, Array]]


def _roots_between(slope: Slope, low: Array, high: Array, valid: Mask) -> tuple[Array, Mask]:
    """For each valid row: the root of a rising `slope` between low and high, or the end where it would be nearest.

    Newton's method, kept in a bracket. Few rows have a root inside, and only those are iterated.
    """
    t = low.copy()
    rows = np.flatnonzero(valid)
    rows = rows[slope(low[rows], rows)[0] < 0]
    inside = slope(high[rows], rows)[0] > 0
    t[rows[~inside]] = high[rows[~inside]]
    rows = rows[inside]
    left, right = low[rows], high[rows]
    here = (left + right) / 2
    for _ in range(NEWTON_ROUNDS):
        if not len(rows):
            break
        value, rise = slope(here, rows)
        right = np.where(value > 0, here, right)
        left = np.where(value > 0, left, here)
        with np.errstate(divide="ignore", invalid="ignore"):
            there = here - value / rise
        there = np.where((there > left) & (there < right), there, (left + right) / 2)
        t[rows] = there
        moving = np.abs(there - here) > NEWTON_STEP * (1.0 + np.abs(there))
        rows, left, right, here = rows[moving], left[moving], right[moving], there[moving]
    return t, valid


def body_to_triangles(body: Body, triangles: Array) -> Nearest:
    """The exact smallest gap between a flat-ended body and triangles (n, 3, 3); ties go to the lowest triangle.

    Raises ValueError for no triangles.
    """
    if not len(triangles):
        raise ValueError("no triangles to measure to")
    round_ended, reach, bound = _balls(body, triangles)
    best = Nearest(math.inf, 0.0, np.zeros(3), -1, np.zeros(3))
    for index in np.argsort(round_ended.min(axis=1), kind="stable"):
        curve = body.curves[index]
        parent = np.flatnonzero(round_ended[index] - reach <= min(bound, best.value))
        if not len(parent):
            continue
        parent = parent[_lowest(curve, triangles[parent]) - body.radius <= min(bound, best.value)]
        part = triangles[parent]
        for edge in curve.edges if len(parent) else ():
            part, parent = keep_inside(part, parent, edge)
        if len(part):
            distance, points, into = triangles_to_curve(part, curve)
            best = _better(best, distance - body.radius, points, curve.start + into, parent)
    for end, place in zip(body.ends, body.span, strict=True):
        near = np.flatnonzero(((triangles - end[0]) @ end[1] > 0.0).any(axis=1))
        if not len(near):
            continue
        to_centre = nearest_on_triangles(triangles[near], np.broadcast_to(end[0], (len(near), 3))) - end[0]
        near = near[np.sqrt(_dots(to_centre, to_centre)) - body.radius <= min(bound, best.value)]
        if len(near):
            distance, points = _triangles_to_disc(triangles[near], end, body.radius)
            best = _better(best, distance, points, np.full(len(near), place), near)
    return replace(best, skin=surface_point(body, best.at, best.point, best.value))


def _lowest(curve: Curve, triangles: Array) -> Array:
    """(n,) a lower bound of the distance of triangles from a curve, by a ball round the curve: tight for large ones."""
    middle, end = points_on(curve, np.array([curve.length / 2, curve.length]))
    nearest = nearest_on_triangles(triangles, np.broadcast_to(middle, (len(triangles), 3)))
    return np.asarray(np.sqrt(_dots(nearest - middle, nearest - middle)) - float(np.linalg.norm(end - middle)))


def _better(best: Nearest, value: Array, points: Array, at: Array, parent: Rows) -> Nearest:
    row = int(np.lexsort((parent, value))[0])
    if (value[row], parent[row]) < (best.value, best.triangle):
        return Nearest(float(value[row]), float(at[row]), points[row], int(parent[row]), best.skin)
    return best


def _balls(body: Body, triangles: Array) -> tuple[Array, Array, float]:
    """Round-ended distance of each triangle's centre from each curve (k, n), the triangle's radius (n,), and a bound.

    No triangle whose ball is farther than `bound` can have the smallest gap.
    """
    centre = triangles.mean(axis=1)
    spread = triangles - centre[:, None]
    reach = np.sqrt(np.einsum("ijk,ijk->ij", spread, spread).max(axis=1))
    round_ended = np.array([quick_distance(curve, centre) for curve in body.curves]) - body.radius
    lowest = int(np.argmin(round_ended.min(axis=0) - reach))
    sample = np.concatenate([triangles[lowest], centre[np.argsort(round_ended.min(axis=0))[:64]]])
    return round_ended, reach, float(distance_to_body(body, sample)[0].min()) + ROUNDING


def _triangles_to_disc(triangles: Array, end: tuple[Array, Array], radius: float) -> tuple[Array, Array]:
    """Distances (n,) and nearest points (n, 3) from an end's disc to the part of each triangle beyond that end.

    A triangle through the disc itself also has a part inside the tube, which is measured elsewhere; here it may read
    too far.
    """
    distance = np.full(len(triangles), np.inf)
    points = np.zeros((len(triangles), 3))
    outside, parent = keep_inside(triangles, np.arange(len(triangles)), (end[0], -end[1]))
    if not len(outside):
        return distance, points
    candidates = [triangles_to_curve(outside, half)[:2] for half in rim(end, radius)]
    for k in range(3):
        corner = outside[:, k]
        candidates.append((distance_to_disc(end, radius, corner), corner))
    for value, where in candidates:
        order = np.lexsort((value, parent))
        first = order[np.r_[True, parent[order][1:] != parent[order][:-1]]]
        rows = first[value[first] < distance[parent[first]]]
        distance[parent[rows]], points[parent[rows]] = value[rows], where[rows]
    return distance, points


def keep_inside(triangles: Array, parent: Rows, end: tuple[Array, Array]) -> tuple[Array, Rows]:
    """The parts of triangles on the near side of a plane (against its direction), as triangles, and their parents."""
    height = (triangles - end[0]) @ end[1]
    inside = height <= 0.0
    count = inside.sum(axis=1)
    whole = count == 3
    parts, parents = [triangles[whole]], [parent[whole]]
    for corners in (1, 2):
        rows = np.flatnonzero(count == corners)
        if not len(rows):
            continue
        # corners turned so that the odd one is first
        odd = np.argmax(inside[rows] if corners == 1 else ~inside[rows], axis=1)
        turn = (odd[:, None] + np.arange(3)) % 3
        corner = np.take_along_axis(triangles[rows], turn[:, :, None], axis=1)
        level = np.take_along_axis(height[rows], turn, axis=1)
        a, b, c = corner[:, 0], corner[:, 1], corner[:, 2]
        ab = a + (level[:, 0] / (level[:, 0] - level[:, 1]))[:, None] * (b - a)
        ac = a + (level[:, 0] / (level[:, 0] - level[:, 2]))[:, None] * (c - a)
        if corners == 1:
            parts.append(np.stack([a, ab, ac], axis=1))
            parents.append(parent[rows])
        else:
            parts += [np.stack([ab, b, c], axis=1), np.stack([ab, c, ac], axis=1)]
            parents += [parent[rows], parent[rows]]
    return np.concatenate(parts), np.concatenate(parents)


def _dots(a: Array, b: Array) -> Array:
    return np.asarray(np.einsum("ij,ij->i", a, b))


def _cross(a: Array, b: Array) -> Array:
    """Row by row; numpy.cross spends more time on its arguments than on the product."""
    out = np.empty_like(a)
    for k in range(3):
        i, j = (k + 1) % 3, (k + 2) % 3
        out[:, k] = a[:, i] * b[:, j] - a[:, j] * b[:, i]
    return out
