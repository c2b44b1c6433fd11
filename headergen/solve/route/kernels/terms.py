"""Residuals of tubes and pairs of tubes, added to the common normal equations.

Residuals are hinges: 0 if a requirement is met, else the miss in millimetres (bends: 60 mm for a radian).
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from headergen.solve.route.kernels.distance import (
    centre_distance,
    grid_distance,
    left_at_bores,
    solid_distance,
    thinner,
)
from headergen.solve.route.kernels.shape import shape

PER_RADIAN = 60.0  # mm that count for a radian of bend
DELTA = 1e-3  # mm; half the width of the central differences
PER_STRAIGHT = 0.2  # mm that count for a millimetre of straight beside another tube
SPARE = 0.05  # mm of straight above its least, so that a value that converges from below still passes
LEAVING = 90.0  # mm from an outlet over which a tube is free of the collector that it comes from
UNJUDGED = 1e9  # margin of residuals that are penalties, not requirements
LENGTH, STRAIGHTS, BENDS, TUBES, CHASSIS, ITSELF = range(6)  # kinds of requirements
KINDS = 6


@njit(cache=True)
def add_row(system, at, v, m, r, missing, kind, margin):  # type: ignore[no-untyped-def]
    """Adds a residual with slopes v at unknowns `at` to [JᵀJ, Jᵀr], and records how far it exceeds a margin."""
    missing[kind] = max(missing[kind], r - margin)
    last = system.shape[1] - 1
    for i in range(m):
        a = at[i]
        system[a, last] += v[i] * r
        for j in range(m):
            system[a, at[j]] += v[i] * v[j]
    return 0.5 * r * r


@njit(cache=True)
def tube_terms(X, first, k, tubes, space, want, weights, system, slopes, points, last, missing):  # type: ignore[no-untyped-def]
    """Residuals of tube k, whose unknowns start at `first`.

    Fills its `points` and their `slopes`, and `last` with the straight before the bore and its slopes; a system without
    rows needs no slopes. Returns half the sum of squares and the sampled length.
    """
    n = tubes.bends[k]
    m = 3 * n - 4 if system.shape[0] > 0 else 0
    x = X[first : first + 3 * n - 4].copy()
    straights = np.empty(n + 1)
    turns = np.empty((n, 3))
    length, sampled = shape(tubes.ends[k], n, tubes.radii[k], x, points, straights, turns)
    d_length = np.zeros(m + 1)
    d_straights = np.zeros((n + 1, m + 1))
    d_turns = np.zeros((n, 3, m + 1))
    d_begins = np.zeros((n + 1, m + 1))
    if m > 0:
        _differentiate(tubes.ends[k], n, tubes.radii[k], x, d_length, d_straights, d_turns, slopes)
        _differentiate_begins(n, tubes.radii[k], turns, d_turns, d_straights, d_begins)
        d_length[m] = -1.0
    last[0] = straights[n]
    last[1 : m + 1] = d_straights[n, :m]
    at = np.arange(first, first + m + 1)
    common = X.shape[0] - 1
    if m > 0:
        at[m] = common
    off = length - tubes.extra[k] - X[common]
    f = add_row(system, at, d_length, m + 1 if m > 0 else 0, off, missing, LENGTH, 0.0)
    missing[LENGTH] = max(missing[LENGTH], abs(off))
    for i in range(n + 1):
        least = tubes.least_ends[k, 0] if i == 0 else (tubes.least_ends[k, 1] if i == n else want.least)
        if least + SPARE > straights[i]:
            r = least + SPARE - straights[i]
            f += add_row(system, at, -d_straights[i], m, r, missing, STRAIGHTS, SPARE)
    f += _bend_terms(n, (tubes.most[k], tubes.held[k]), want, weights[k], turns, d_turns, system, at, missing)
    shaped = straights, turns, d_straights, d_begins
    for g in range(tubes.grows.shape[1]):
        if tubes.grows[k, g, 3] > 0.0:
            needs = tubes.grows[k, g], tubes.least_ends[k]
            f += _growth_term(n, tubes.radii[k], needs, shaped, system, at, missing)
    step = sampled / points.shape[0]
    own = tubes.group[k], tubes.source[k], tubes.slim[k]
    f += _chassis_terms(points, slopes, step, m, own, space, want, system, at, missing)
    f += _own_terms(points, slopes, step, m, want, system, at, missing)
    return f, sampled


@njit(cache=True)
def _differentiate(end, n, radii, x, d_length, d_straights, d_turns, slopes):  # type: ignore[no-untyped-def]
    """Central differences of all results of shape()."""
    count = slopes.shape[0]
    more = np.empty((count, 3))
    less = np.empty((count, 3))
    s1 = np.empty(n + 1)
    s0 = np.empty(n + 1)
    t1 = np.empty((n, 3))
    t0 = np.empty((n, 3))
    for j in range(3 * n - 4):
        kept = x[j]
        x[j] = kept + DELTA
        high, _ = shape(end, n, radii, x, more, s1, t1)
        x[j] = kept - DELTA
        low, _ = shape(end, n, radii, x, less, s0, t0)
        x[j] = kept
        d_length[j] = (high - low) / (2.0 * DELTA)
        for i in range(n + 1):
            d_straights[i, j] = (s1[i] - s0[i]) / (2.0 * DELTA)
        for c in range(3):
            for i in range(n):
                d_turns[i, c, j] = (t1[i, c] - t0[i, c]) / (2.0 * DELTA)
            for i in range(count):
                slopes[i, c, j] = (more[i, c] - less[i, c]) / (2.0 * DELTA)


@njit(cache=True)
def _angle_of(turn):  # type: ignore[no-untyped-def]
    size = math.sqrt(turn[0] ** 2 + turn[1] ** 2 + turn[2] ** 2 + 1e-12)
    return 2.0 * math.asin(min(0.5 * size, 1.0)), size


@njit(cache=True)
def _differentiate_begins(n, radii, turns, d_turns, d_straights, d_begins):  # type: ignore[no-untyped-def]
    """Slopes of the lengths at which the straights begin: those of all straights and arcs before them."""
    for i in range(n):
        _, size = _angle_of(turns[i])
        per = 1.0 / (size * max(math.sqrt(max(1.0 - 0.25 * size * size, 0.0)), 0.1))
        for j in range(d_begins.shape[1]):
            d_angle = 0.0
            for c in range(3):
                d_angle += per * turns[i, c] * d_turns[i, c, j]
            d_begins[i + 1, j] = d_begins[i, j] + d_straights[i, j] + radii[i] * d_angle


@njit(cache=True)
def _growth_term(n, radii, needs, shaped, system, at, missing):  # type: ignore[no-untyped-def]
    """The tube must have a straight in which it can grow at a length within its limits: the nearest one counts.

    Straights and slopes are those of `shaped`; the miss is how far the straight is too short there, or away.
    """
    straights, turns, d_straights, d_begins = shaped
    need, least_ends = needs
    best, chosen, side = 1e9, 0, 0
    begins = 0.0
    for i in range(n + 1):
        ends = begins + straights[i]
        before = max(need[2], least_ends[0]) if i == 0 else need[2]
        after = need[3] + (max(need[4], least_ends[1]) if i == n else need[4])
        short = before + after - straights[i]
        late = begins + before - need[1]
        early = need[0] + after - ends
        worst = max(short, late, early)
        if worst < best:
            best, chosen = worst, i
            side = 0 if worst == short else (1 if worst == late else 2)
        if i < n:
            begins = ends + radii[i] * _angle_of(turns[i])[0]
    if best + SPARE <= 0.0:
        return 0.0
    m = at.shape[0] - 1
    v = np.zeros(m + 1)
    for j in range(m):
        if side == 0:
            v[j] = -d_straights[chosen, j]
        elif side == 1:
            v[j] = d_begins[chosen, j]
        else:
            v[j] = -d_begins[chosen, j] - d_straights[chosen, j]
    return add_row(system, at, v, m, best + SPARE, missing, STRAIGHTS, SPARE)


@njit(cache=True)
def _bend_terms(n, limits, want, weights, turns, d_turns, system, at, missing):  # type: ignore[no-untyped-def]
    """Bends must be neither too sharp nor too flat, or as held; as a penalty, the total bending should be small."""
    most, held = limits
    m = at.shape[0] - 1
    v = np.empty(m + 1)
    f = 0.0
    for i in range(n):
        size = math.sqrt(turns[i, 0] ** 2 + turns[i, 1] ** 2 + turns[i, 2] ** 2 + 1e-12)
        angle = 2.0 * math.asin(min(0.5 * size, 1.0))
        per = PER_RADIAN / (size * max(math.sqrt(max(1.0 - 0.25 * size * size, 0.0)), 0.1))
        for side in range(2):
            limit = held[i] if held[i] > 0.0 else (most[i] if side == 0 else want.flattest)
            r = (angle - limit if side == 0 else limit - angle) * PER_RADIAN
            if r > 0.0:
                for j in range(m):
                    v[j] = 0.0
                    for c in range(3):
                        v[j] += (per - 2 * per * side) * turns[i, c] * d_turns[i, c, j]
                f += add_row(system, at, v, m, r, missing, BENDS, 0.0)
        if want.weight > 0.0:
            w = want.weight * weights[i]
            for c in range(3):
                f += add_row(system, at, w * d_turns[i, c], m, w * turns[i, c], missing, BENDS, UNJUDGED)
    return f


@njit(cache=True)
def _chassis_terms(points, slopes, step, m, own, space, want, system, at, missing):  # type: ignore[no-untyped-def]
    """Every sample against every solid and grid, except in free lengths: near the flange, its outlet and its bore."""
    group, source, slim = own
    f = 0.0
    length = step * points.shape[0]
    slope = np.empty(3)
    v = np.empty(m + 1)
    solids = space.solids.shape[0]
    for q in range(solids + space.grids.shape[0]):
        free = space.solids[q, 18] if q < solids else space.free[q - solids]
        before = space.solids[q, 20] if q < solids and space.solids[q, 19] == group else 0.0
        if q < solids and source >= 0 and space.solids[q, 19] == source:
            free = max(free, LEAVING)
        i = 0
        while i < points.shape[0]:
            along = (i + 0.5) * step
            if along < free or length - along < before:
                i += 1
                continue
            if q < solids:
                r = space.solids[q, 16] - solid_distance(space.solids[q], points[i], slope)
            else:
                r = -grid_distance(space.grids[q - solids], space.corner, space.step, points[i], slope)
            r += want.radius + want.margin
            far = max(int(-r / step), 1) if q < solids else 1  # samples that cannot be nearer by more than they are on
            r -= thinner(slim, along)
            if r > 0.0:
                for j in range(m):
                    v[j] = 0.0
                    for c in range(3):
                        v[j] -= slope[c] * slopes[i, c, j]
                f += add_row(system, at, v, m, r, missing, CHASSIS, want.margin)
            i += far
    return f


@njit(cache=True)
def distance(a, i, b, j):  # type: ignore[no-untyped-def]
    return math.sqrt((a[i, 0] - b[j, 0]) ** 2 + (a[i, 1] - b[j, 1]) ** 2 + (a[i, 2] - b[j, 2]) ** 2 + 1e-9)


@njit(cache=True)
def _own_terms(points, slopes, step, m, want, system, at, missing):  # type: ignore[no-untyped-def]
    f = 0.0
    v = np.empty(m + 1)
    apart = 2.0 * want.radius + want.gap + want.margin
    for i in range(points.shape[0]):
        other = i + int(1.5 * apart / step) + 1
        while other < points.shape[0]:
            d = distance(points, i, points, other)
            if d < apart:
                for j in range(m):
                    v[j] = 0.0
                    for c in range(3):
                        v[j] -= (points[i, c] - points[other, c]) * (slopes[i, c, j] - slopes[other, c, j]) / d
                f += add_row(system, at, v, m, apart - d, missing, ITSELF, want.margin)
            other += max(int((d - apart) / step), 1)
    return f


@njit(cache=True)
def pair_terms(mine, his, together, at, my_unknowns, want, system, missing):  # type: ignore[no-untyped-def]
    """Residuals between two tubes, each (points, slopes, sampled length, slim); `at`: the unknowns of both."""
    a, da, length_a, slim_a = mine
    b, db, length_b, slim_b = his
    m = at.shape[0] if system.shape[0] > 0 else 0
    ma = min(my_unknowns, m)
    v = np.empty(at.shape[0] + 1)
    f = 0.0
    bores_apart = distance(a, a.shape[0] - 1, b, b.shape[0] - 1) + slim_a[2] + slim_b[2]
    left = left_at_bores(bores_apart, together, want)
    farthest = centre_distance(1e9, 1e9, left, want) - min(slim_a[1], slim_a[2]) - min(slim_b[1], slim_b[2])
    for i in range(a.shape[0]):
        along = (i + 0.5) * length_a / a.shape[0]
        before = length_a - along
        step = length_b / b.shape[0]
        k = 0
        while k < b.shape[0]:
            d = distance(a, i, b, k)
            if d < farthest:
                apart = centre_distance(before, length_b - (k + 0.5) * step, left, want)
                apart -= thinner(slim_a, along) + thinner(slim_b, (k + 0.5) * step)
                if d < apart:
                    for j in range(ma):
                        v[j] = 0.0
                        for c in range(3):
                            v[j] -= (a[i, c] - b[k, c]) * da[i, c, j] / d
                    for j in range(m - ma):
                        v[ma + j] = 0.0
                        for c in range(3):
                            v[ma + j] += (a[i, c] - b[k, c]) * db[k, c, j] / d
                    f += add_row(system, at, v, m, apart - d, missing, TUBES, want.margin)
            k += max(int((d - farthest) / step), 1)
    return f


@njit(cache=True)
def beside_terms(last, other_last, bores_apart, at, my_unknowns, want, system, missing):  # type: ignore[no-untyped-def]
    """A penalty on last straights of two tubes whose bores are nearer than the full gap.

    The shorter of them must end within the length over which less gap is required. Samples on parallel straights cannot
    show this, because they stay equally near when moved along. The samples themselves are judged.
    """
    left = left_at_bores(bores_apart, True, want)
    grows = want.gap + want.margin - left
    more = bores_apart - 2.0 * want.radius - left
    if more >= grows:
        return 0.0
    most = want.ramp_start + (want.ramp_end - want.ramp_start) * more / grows
    r = PER_STRAIGHT * (min(last[0], other_last[0]) - most)
    if r <= 0.0:
        return 0.0
    mine = last[0] <= other_last[0]
    m = my_unknowns if mine else at.shape[0] - my_unknowns
    row = at[:my_unknowns] if mine else at[my_unknowns:]
    slopes = PER_STRAIGHT * (last[1:] if mine else other_last[1:])
    return add_row(system, row, slopes, m if system.shape[0] > 0 else 0, r, missing, TUBES, UNJUDGED)
