"""Whole degrees: an answer moved to the nearest paths whose bends and rotations are whole, and closed again exactly.

Of the 2n − 1 bends and rotations between bends of a tube at most 2n − 2 can be whole, and with two bends only one
beside its exact length. Straights, the clocking at the flange and one rotation take up the rest. Where no neighbour
with whole rotations holds, a tube falls back to whole bends, and then to what it was.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import islice, product

import numpy as np

from headergen.geometry.body import Array
from headergen.model import Bend, Draft
from headergen.solve.route.answer import Answer, answer_of
from headergen.solve.route.kernels.descend import overlaps
from headergen.solve.route.kernels.shape import Space
from headergen.solve.route.kernels.terms import KINDS, tube_terms
from headergen.solve.route.layout import Layout, Run, seen, settled, tubes_of
from headergen.solve.route.problem import Problem

MARGINS = (1.6, 2.6, 4.0)  # mm kept beyond each demand before rounding, one after the other
EXTRA_STRAIGHT = 1.5  # mm of room for each straight, for each mm of margin
MOST = 120  # neighbours of a tube that are closed again
WAYS = 14  # of a tube that are tried beside the others
NEWTON = 12
CLOSED = 1e-8
FARTHEST = 50.0  # mm that a corner may move at once
WHOLE = 1e-6  # degrees
SAMPLES = 80
TRIALS = 3


def in_whole_degrees(problem: Problem, answer: Answer) -> Answer:
    """The answer with as many whole angles as hold; itself where none do."""
    best, most = answer, whole_angles(answer.draft, problem)[0]
    for margin in MARGINS:
        roomier = problem.want._replace(
            least=problem.want.least + EXTRA_STRAIGHT * margin,
            least_first=problem.want.least_first + EXTRA_STRAIGHT * margin,
            least_last=problem.want.least_last + EXTRA_STRAIGHT * margin,
        )
        wider = replace(problem, want=roomier)
        base, missing = settled(
            wider, answer.layout, (1.0, 0.3, 0.1, 0.02, 0.0), 40, flattest=problem.want.flattest, margin=margin
        )
        if missing > 1.5:
            base = answer.layout
        for layout in _rounded(problem, base):
            made = answer_of(problem, layout, answer.cost + 60.0)
            whole = 0 if made is None else whole_angles(made.draft, problem)[0]
            if made is not None and whole > most:
                best, most = replace(made, round=answer.round), whole
        if most >= whole_angles(best.draft, problem)[1]:
            break
    return best


def whole_angles(draft: Draft, problem: Problem) -> tuple[int, int]:
    """How many bends and rotations between bends of the found primaries are whole degrees, and how many can be."""
    numbers = {primary.number for primary in problem.wanted}
    whole = possible = 0
    for primary in draft.primaries:
        bends = [step for step in primary.steps if isinstance(step, Bend)]
        if primary.number in numbers and bends:
            angles = [math.degrees(b.angle) for b in bends] + [math.degrees(b.rotation) for b in bends[1:]]
            whole += min(sum(abs(a - round(a)) < WHOLE for a in angles), 2 * len(bends) - 2)
            possible += 2 * len(bends) - 2
    return whole, possible


def _rounded(problem: Problem, base: Layout) -> Iterator[Layout]:
    """Layouts whose tubes are whole and clear of each other in the sampled model, least change first."""
    ways = [_ways(problem, k, run, base.length) for k, run in enumerate(base.runs)]
    points = [np.array([seen(problem, k, run, SAMPLES)[0] for run in tube]) for k, tube in enumerate(ways)]
    lengths = [np.full(len(tube), base.length + problem.extra[k]) for k, tube in enumerate(ways)]
    want = problem.want._replace(margin=0.15, gap_at_bores=problem.want.gap_at_bores - 0.5)  # the checks judge there
    clear: dict[tuple[int, int], Array] = {}
    for a in range(problem.count):
        for b in range(a):
            together = bool(problem.group[a] == problem.group[b])
            clear[b, a] = overlaps(points[b], points[a], lengths[b], lengths[a], together, want) < 0.02
    for chosen in islice(_clear_sets(clear, [len(tube) for tube in ways]), TRIALS):
        yield Layout(tuple(tube[k] for tube, k in zip(ways, chosen, strict=True)), base.length)


def _clear_sets(clear: dict[tuple[int, int], Array], counts: Sequence[int]) -> Iterator[list[int]]:
    """Depth first through the ways of each tube, a bounded number of nodes."""
    left = [100_000]

    def deeper(chosen: list[int]) -> Iterator[list[int]]:
        if len(chosen) == len(counts):
            yield list(chosen)
            return
        for way in range(counts[len(chosen)]):
            left[0] -= 1
            if left[0] < 0:
                return
            if all(clear[b, len(chosen)][other, way] for b, other in enumerate(chosen)):
                yield from deeper([*chosen, way])

    yield from deeper([])


def _ways(problem: Problem, tube: int, run: Run, length: float) -> list[Run]:
    """Whole neighbours of a run that keep off the chassis, nearest first; then with whole bends only; then itself."""
    found: list[Run] = []
    for free in _what_stays_free(run.bends):
        whole = [index for index in range(2 * run.bends - 1) if index not in free]
        closed = _closed_again(problem, tube, run, whole, length)
        moved = [float(np.abs(made.x - run.x).max()) for made in closed]
        kept = [closed[k] for k in np.argsort(moved, kind="stable") if _holds(problem, tube, closed[k], length)]
        found += kept[: WAYS if len(free) == 1 or run.bends == 2 else 8]
    return [*found, run]


def _what_stays_free(bends: int) -> list[tuple[int, ...]]:
    """Which of the angles (bends first, then rotations) are left as they come, best first."""
    if bends == 2:
        return [(1, 2), (0, 2)]
    rotations = tuple(range(bends, 2 * bends - 1))
    return [*((k,) for k in reversed(rotations)), rotations]


def _angles(problem: Problem, tube: int, run: Run, X: Array) -> tuple[Array, Array]:
    """Degrees (S, 2n − 1) of bends, then of rotations between them, and lengths (S,), for unknowns (S, 3n − 4)."""
    end, n = problem.ends(tube, run.bore), run.bends
    S = len(X)
    corners = np.empty((S, n + 2, 3))
    corners[:, 0], corners[:, -1] = end[:3], end[6:9]
    corners[:, 1] = end[:3] + X[:, :1] * end[3:6]
    corners[:, n] = end[6:9] - X[:, 1:2] * end[9:]
    corners[:, 2:n] = X[:, 2:].reshape(S, n - 2, 3)
    legs = np.diff(corners, axis=1)
    sizes = np.linalg.norm(legs, axis=2)
    along = legs / np.maximum(sizes, 1e-9)[..., None]
    along[:, 0], along[:, -1] = end[3:6], end[9:]
    sizes[:, 0], sizes[:, -1] = X[:, 0], X[:, 1]
    less = np.linalg.norm(along[:, 1:] - along[:, :-1], axis=2)
    more = np.linalg.norm(along[:, 1:] + along[:, :-1], axis=2)
    bends = 2 * np.arctan2(less, more)
    normals = np.cross(along[:, :-1], along[:, 1:])
    normals /= np.maximum(np.linalg.norm(normals, axis=2), 1e-12)[..., None]
    turned = (np.cross(normals[:, :-1], normals[:, 1:]) * along[:, 1:-1]).sum(axis=2)
    rotations = np.arctan2(turned, (normals[:, :-1] * normals[:, 1:]).sum(axis=2))
    radii = np.array(run.radii)
    length = sizes.sum(axis=1) + (radii * (bends - 2 * np.tan(bends / 2))).sum(axis=1)
    return np.degrees(np.concatenate([bends, rotations], axis=1)), length


def _closed_again(problem: Problem, tube: int, run: Run, whole: Sequence[int], length: float) -> list[Run]:
    """Newton, on all neighbours at once: whole angles at the given places, and the exact length."""
    now = _angles(problem, tube, run, run.x[None])[0][0][list(whole)]
    steps = (-1, 0, 1) if run.bends <= 3 else (0, 1)
    below = [round(a) if run.bends <= 3 else math.floor(a) for a in now]
    near = np.array(list(product(*([a + step for step in steps] for a in below))), dtype=float)
    near = near[np.argsort(np.abs(near - now).sum(axis=1), kind="stable")][:MOST]
    target = np.concatenate([near, np.full((len(near), 1), length + problem.extra[tube])], axis=1)
    X = np.repeat(run.x[None], len(target), axis=0)
    alive = np.ones(len(target), dtype=bool)
    for _ in range(NEWTON):
        off = _off(problem, tube, run, X, whole, target)
        if np.abs(off[alive]).max(initial=0.0) < CLOSED:
            break
        slopes = np.empty((*off.shape, X.shape[1]))
        for j in range(X.shape[1]):
            more, less = X.copy(), X.copy()
            more[:, j] += 1e-4
            less[:, j] -= 1e-4
            higher, lower = (_off(problem, tube, run, each, whole, target) for each in (more, less))
            slopes[:, :, j] = (lower - higher) / 2e-4
        step = (np.linalg.pinv(slopes, rcond=1e-9) @ off[..., None])[..., 0]
        alive &= np.isfinite(step).all(axis=1) & (np.abs(step).max(axis=1) < FARTHEST)
        X[alive] += step[alive]
    off = _off(problem, tube, run, X, whole, target)
    good = alive & (np.abs(off).max(axis=1) < 1e-6)
    return [Run(run.bore, run.radii, x.copy()) for x in X[good]]


def _off(problem: Problem, tube: int, run: Run, X: Array, whole: Sequence[int], target: Array) -> Array:
    angles, length = _angles(problem, tube, run, X)
    off: Array = target - np.concatenate([angles[:, list(whole)], length[:, None]], axis=1)
    off[:, :-1] = (off[:, :-1] + 180.0) % 360.0 - 180.0
    return off


def _holds(problem: Problem, tube: int, run: Run, length: float) -> bool:
    """Whether a run alone keeps straights, bends and chassis in the sampled model."""
    straights = seen(problem, tube, run, 2)[1]
    want = problem.want._replace(margin=0.15, flattest=0.98 * problem.want.flattest)
    if (straights < [want.least_first, *[want.least] * (run.bends - 1), want.least_last]).any():
        return False
    tubes = tubes_of(problem, [run], [tube])
    X, missing = np.append(run.x, length), np.zeros(KINDS)
    points, none = np.empty((SAMPLES, 3)), np.zeros((0, 1))
    space: Space = problem.space
    slopes, last = np.empty((1, 3, 11)), np.empty(12)
    tube_terms(X, 0, 0, tubes, space, want, np.ones((1, 5)), none, slopes, points, last, missing)
    missing[1] = 0.0  # straights have been seen to
    return bool(missing.max() < 0.05)
