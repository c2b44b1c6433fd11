"""Levenberg–Marquardt on all tubes together, on single tubes by the hundred, and overlaps between them."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from headergen.solve.route.kernels.distance import centre_distance, left_at_bores
from headergen.solve.route.kernels.shape import MOST_BENDS, UNKNOWNS, Demands, Tubes, shape
from headergen.solve.route.kernels.terms import KINDS, LENGTH, add_row, beside_terms, distance, pair_terms, tube_terms

FARTHEST = 80.0  # mm that an unknown may change in one step
PULL = 3.0  # mm that count for each millimetre of common length outside its range
HOPELESS = 60.0  # mm of miss, under the first penalty, above which a start is given up


@njit(cache=True)
def residuals(X, tubes, space, want, weights, count, system, missing):  # type: ignore[no-untyped-def]
    """Half the sum of squares of all residuals at X: each tube's unknowns, then the common length.

    Fills `system` with [JᵀJ, Jᵀr] (not if it has no rows) and `missing` with the worst of each kind.
    """
    K = tubes.bends.shape[0]
    system[:] = 0.0
    missing[:] = 0.0
    rows = system.shape[0] > 0
    points = np.empty((K, count, 3))
    slopes = np.empty((K, count if rows else 1, 3, UNKNOWNS))
    lasts = np.zeros((K, UNKNOWNS + 1))
    lengths = np.empty(K)
    first = np.zeros(K + 1, np.int64)
    for k in range(K):
        first[k + 1] = first[k] + 3 * tubes.bends[k] - 4
    f = 0.0
    for k in range(K):
        kept = slopes[k], points[k], lasts[k]
        g, lengths[k] = tube_terms(X, first[k], k, tubes, space, want, weights, system, *kept, missing)
        f += g
    nothing = np.empty((1, 3, UNKNOWNS))
    for k in range(K):
        mine = np.arange(first[k], first[k + 1])
        for o in range(k + 1, K + space.fixed.shape[0]):
            together = tubes.group[k] == tubes.group[o]
            one = (points[k], slopes[k], lengths[k], tubes.slim[k])
            if o < K:
                at = np.concatenate((mine, np.arange(first[o], first[o + 1])))
                two = (points[o], slopes[o], lengths[o], tubes.slim[o])
                f += pair_terms(one, two, together, at, len(mine), want, system, missing)
                if together:
                    apart = math.sqrt(((tubes.ends[k, 6:9] - tubes.ends[o, 6:9]) ** 2).sum())
                    apart += tubes.slim[k, 2] + tubes.slim[o, 2]
                    f += beside_terms(lasts[k], lasts[o], apart, at, len(mine), want, system, missing)
            else:
                other = (space.fixed[o - K], nothing, space.fixed_lengths[o - K], tubes.slim[o])
                f += pair_terms(one, other, together, mine, len(mine), want, system, missing)
    outside = max(want.shortest - X[-1], X[-1] - want.longest)
    if outside > 0.0:
        v = np.full(1, -PULL if X[-1] < want.shortest else PULL)
        f += add_row(system, np.full(1, len(X) - 1), v, 1 if rows else 0, PULL * outside, missing, LENGTH, 0.0)
    return f


@njit(cache=True)
def solve_step(system, damping, step):  # type: ignore[no-untyped-def]
    """Solves (JᵀJ + damping)·step = −Jᵀr by Cholesky; False if the matrix is not positive definite."""
    n = system.shape[0]
    A = np.empty((n, n))
    for j in range(n):
        s = system[j, j] + damping * (system[j, j] + 1e-3) + 1e-7
        for k in range(j):
            s -= A[j, k] * A[j, k]
        if s <= 1e-14:
            return False
        A[j, j] = math.sqrt(s)
        for i in range(j + 1, n):
            t = system[i, j]
            for k in range(j):
                t -= A[i, k] * A[j, k]
            A[i, j] = t / A[j, j]
    for i in range(n):
        t = -system[i, n]
        for k in range(i):
            t -= A[i, k] * step[k]
        step[i] = t / A[i, i]
    for i in range(n - 1, -1, -1):
        t = step[i]
        for k in range(i + 1, n):
            t -= A[k, i] * step[k]
        step[i] = t / A[i, i]
    return True


@njit(cache=True)
def _promised(system, step):  # type: ignore[no-untyped-def]
    """The decrease of half the sum of squares predicted by the linear model; the step is capped first."""
    n = system.shape[0]
    longest = 0.0
    for i in range(n):
        longest = max(longest, abs(step[i]))
    if longest > FARTHEST:
        for i in range(n):
            step[i] *= FARTHEST / longest
    falls = 0.0
    for i in range(n):
        falls -= step[i] * system[i, n]
        for j in range(n):
            falls -= 0.5 * step[i] * system[i, j] * step[j]
    return falls


@njit(cache=True)
def descend(X, tubes, space, want, weights, count, rounds, enough):  # type: ignore[no-untyped-def]
    """Changes X toward a smaller miss; returns the miss. Without a penalty it stops once no kind misses `enough`."""
    n = X.shape[0]
    missing = np.zeros(KINDS)
    tried = np.zeros(KINDS)
    system = np.zeros((n, n + 1))
    ahead = np.zeros((n, n + 1))
    none = np.zeros((0, 1))
    step = np.empty(n)
    damping = 1e-2
    f = residuals(X, tubes, space, want, weights, count, system, missing)
    slow = 0
    for _ in range(rounds):
        if want.weight == 0.0 and missing.max() < enough:
            break
        falls = False
        there = X
        first = True
        g = f
        for trial in range(8):
            if solve_step(system, damping, step):
                promised = _promised(system, step)
                there = X + step
                first = trial == 0  # most first steps are taken: their system is needed next
                g = residuals(there, tubes, space, want, weights, count, ahead if first else none, tried)
                ratio = (f - g) / (promised + 1e-15)
                if g < f and ratio > 1e-4:
                    falls = True
                    if ratio > 0.75:
                        damping = max(0.25 * damping, 1e-9)
                    elif ratio < 0.25:
                        damping *= 3.0
                    break
            damping = 5.0 * damping + 1e-9
            if damping > 1e8:
                break
        if not falls:
            break
        X[:] = there
        before = f
        if first:
            f = g
            system, ahead = ahead, system
            missing, tried = tried, missing
        else:
            f = residuals(X, tubes, space, want, weights, count, system, missing)
        slow = slow + 1 if before - f < 1e-5 * before + 1e-12 else 0
        if slow == 2:
            break
    return missing


@njit(cache=True)
def descend_alone(starts, tubes, space, want, wishes, length, count, rounds, enough):  # type: ignore[no-untyped-def]
    """Descends each row of `starts` (B, UNKNOWNS) as a tube without neighbours, at a given length.

    Changes the rows; returns the miss of each (B,).
    """
    B = starts.shape[0]
    out = np.empty(B)
    weights = np.ones((1, MOST_BENDS))
    for b in range(B):
        m = 3 * tubes.bends[b] - 4
        X = np.empty(m + 1)
        X[:m] = starts[b, :m]
        X[m] = length
        lone = Tubes(
            tubes.ends[b : b + 1],
            tubes.bends[b : b + 1],
            tubes.radii[b : b + 1],
            tubes.most[b : b + 1],
            tubes.held[b : b + 1],
            np.concatenate((tubes.group[b : b + 1], tubes.group[B:])),
            tubes.extra[b : b + 1],
            tubes.least_ends[b : b + 1],
            tubes.source[b : b + 1],
            np.concatenate((tubes.slim[b : b + 1], tubes.slim[B:])),
            tubes.grows[b : b + 1],
        )
        out[b] = 1e9
        for q in range(wishes.shape[0]):
            asked = Demands(
                want.radius,
                want.least,
                want.gap,
                want.may_miss,
                want.ramp_start,
                want.ramp_end,
                want.margin,
                want.flattest,
                length,
                length,
                wishes[q],
            )
            out[b] = descend(X, lone, space, asked, weights, count, rounds, enough).max()
            if out[b] > HOPELESS:
                break
        starts[b, :m] = X[:m]
    return out


@njit(cache=True)
def overlaps(one, other, lengths, other_lengths, together, want):  # type: ignore[no-untyped-def]
    """How much each tube of `one` (A, N, 3) is too near to each of `other` (B, M, 3): (A, B), 0 or more."""
    A, N = one.shape[0], one.shape[1]
    B, M = other.shape[0], other.shape[1]
    out = np.zeros((A, B))
    for a in range(A):
        for b in range(B):
            left = left_at_bores(distance(one[a], N - 1, other[b], M - 1), together, want)
            farthest = centre_distance(1e9, 1e9, left, want)
            step = other_lengths[b] / M
            for i in range(N):
                before = lengths[a] - (i + 0.5) * lengths[a] / N
                k = 0
                while k < M:
                    d = distance(one[a], i, other[b], k)
                    if d < farthest:
                        apart = centre_distance(before, other_lengths[b] - (k + 0.5) * step, left, want)
                        out[a, b] = max(out[a, b], apart - d)
                    k += max(int((d - farthest) / step), 1)
    return out


@njit(cache=True)
def outline(end, n, radii, x, count):  # type: ignore[no-untyped-def]
    """Points (count, 3), straights (n + 1,), angles (n,) and length of one tube."""
    points = np.empty((count, 3))
    straights = np.empty(n + 1)
    turns = np.empty((n, 3))
    length, _ = shape(end, n, radii, x, points, straights, turns)
    angles = np.empty(n)
    for i in range(n):
        size = math.sqrt(turns[i, 0] ** 2 + turns[i, 1] ** 2 + turns[i, 2] ** 2)
        angles[i] = 2.0 * math.asin(min(0.5 * size, 1.0))
    return points, straights, angles, length
