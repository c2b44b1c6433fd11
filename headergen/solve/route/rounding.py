"""Whole degrees: the nearest paths to an answer with whole bends and rotations, closed again exactly.

A tube of n bends has 2n − 1 bends and rotations between bends; at most 2n − 2 of these can be whole. Straights, the
clocking at the flange and one rotation take up the rest. A tube of two bends then has no freedom left for its length.
So neighbours whose length happens to be nearly right are taken, or else only one angle is whole. If no neighbour with
whole rotations passes, a tube keeps only whole bends, and failing that, its original angles.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import combinations, islice, product

import numpy as np

from headergen.geometry.arrays import Array
from headergen.model import Bend, Draft
from headergen.model.finding import Finding
from headergen.solve.route.answer import LENGTH_DIGITS, Answer, answer_of
from headergen.solve.route.kernels.descend import overlaps
from headergen.solve.route.kernels.shape import Demands, Space
from headergen.solve.route.kernels.terms import KINDS, tube_terms
from headergen.solve.route.layout import Descent, Layout, LayoutTube, seen, settled, tubes_of
from headergen.solve.route.parts import repeated
from headergen.solve.route.problem import Numbers, RouteProblem, target_of

MARGINS = (0.8, 1.6, 2.6, 4.0)  # mm added to each requirement before rounding, one after the other
EXTRA_STRAIGHT = 1.5  # mm of room in each straight for each mm of margin
WORTH = 0.01  # of the cost that whole degrees may cost
WIDER = (-3, -2, -1, 0, 1, 2, 3)  # degrees tried if none of the nearest pass
LENGTHS = 2  # common lengths tried besides the present one
MOST = 120  # neighbours of a tube that are closed again
WAYS = 14  # candidates of a tube that are combined with the others
NEWTON = 12
CLOSED = 1e-8
FARTHEST = 50.0  # mm that a corner may move in one step
PAIRS = ((0, 1), (0, 2), (1, 2))  # indices of the angles of a tube of two bends
WHOLE = 1e-6  # degrees
SAMPLES = 80
TRIALS = 4
NEAR_AS = 0.15, 0.0  # mm beyond the required gaps between tubes in the sampled model
BEAM = 3000
OFF_LENGTH = 0.24  # mm by which a tube of two bends may miss the common length, at most an eighth of the tolerance
AROUND = 6  # degrees to either side that are tried for such a tube


def in_whole_degrees(problem: RouteProblem, answer: Answer, is_over: Callable[[], bool] = lambda: False) -> Answer:
    """The answer with as many whole angles as pass for 1 % more cost, or itself.

    `is_over` is asked before each next piece of work. Tubes that may be images of others stay so where that passes.
    """
    best, most = answer, whole_angles(answer.draft, problem)[0]
    dearest = answer.cost + WORTH * max(answer.cost, answer.degrees)
    judged: set[bytes] = set()  # other margins may lead to the same whole degrees
    first, *_ = wants = _wants(problem, answer)
    for want, margin in product(wants, MARGINS):
        if is_over() or (want is not first and best is not answer):
            break
        more = EXTRA_STRAIGHT * margin
        roomier = want._replace(least=want.least + more)
        wider = replace(problem, want=roomier, least_ends=problem.least_ends + more)
        how = Descent(40, flattest=problem.want.flattest, margin=margin)
        base, missing = settled(wider, answer.layout, (1.0, 0.3, 0.1, 0.02, 0.0), how)
        if missing > 1.5:
            base = answer.layout
        for length in _lengths(problem, base):
            for layout, whole in _rounded(problem, replace(base, length=length), is_over):
                if whole <= most:
                    continue
                made = _first_to_pass(problem, (*repeated(problem, layout), layout), dearest, judged, is_over)
                if made is not None:
                    best, most = replace(made, round=answer.round), whole
                elif is_over():
                    return best
        if most >= whole_angles(best.draft, problem)[1]:
            break
    return best


def _wants(problem: RouteProblem, answer: Answer) -> tuple[Demands, ...]:
    """The demands with the length at its target, to which the answer was brought; then as they are, if that fails.

    Left free, the descents take the length to the edge of its tolerance.
    """
    if target_of(problem) is None:
        return (problem.want,)
    length = answer.layout.length
    return problem.want._replace(shortest=length, longest=length), problem.want


def say_whole(problem: RouteProblem, answers: Sequence[Answer]) -> Iterator[Finding]:
    """For each answer, how many angles are whole degrees, and which runs have others."""
    for number, answer in enumerate(answers, 1):
        each = whole_of_each(answer.draft, problem)
        whole, able = (sum(found) for found in zip(*each.values(), strict=True)) if each else (0, 0)
        short = [f"in {name} {some} of {most}" for name, (some, most) in each.items() if some < most]
        of = "" if len(answers) == 1 else f" in alternative {number}"
        message = f"Whole degrees{of}: {whole} of {able} angles{'; ' if short else ''}{', '.join(short)}."
        yield Finding("route-whole-angles", "info", "route", float(whole), float(able), "angles", message)


def _first_to_pass(
    problem: RouteProblem, ways: Sequence[Layout], dearest: float, judged: set[bytes], is_over: Callable[[], bool]
) -> Answer | None:
    """The first of these layouts that costs less than `dearest` and passes the checks; `judged` are known already."""
    for layout in ways:
        key = b"".join((np.round(run.x, LENGTH_DIGITS) + 0.0).tobytes() for run in layout.runs)
        if key in judged:
            continue
        if is_over():
            return None
        judged.add(key)
        made = answer_of(problem, layout, dearest)
        if made is not None:
            return made
    return None


def whole_angles(draft: Draft, problem: RouteProblem) -> tuple[int, int]:
    """How many bends and rotations between bends of the found runs are whole degrees, and how many could be."""
    found = whole_of_each(draft, problem).values()
    return sum(whole for whole, _ in found), sum(possible for _, possible in found)


def whole_of_each(draft: Draft, problem: RouteProblem) -> dict[str, tuple[int, int]]:
    """The same for each found run, by its name."""
    names, found = {run.name for run in problem.runs}, {}
    for run in draft.runs:
        bends = [step for step in run.steps if isinstance(step, Bend)]
        if run.name in names and bends:
            angles = [math.degrees(b.angle) for b in bends] + [math.degrees(b.rotation) for b in bends[1:]]
            most = 2 * len(bends) - 2
            found[run.name] = min(sum(abs(a - round(a)) < WHOLE for a in angles), most), most
    return found


def _lengths(problem: RouteProblem, base: Layout) -> list[float]:
    """Common lengths worth trying: those that suit the most tubes of two bends, and the present one."""
    want, found = problem.want, []
    for tube, run in enumerate(base.runs):
        if run.bends == 2:
            near = [_near_lengths(problem, tube, run, whole, base.length, np.inf) for whole in PAIRS]
            own = [(seen(problem, tube, each, 2)[3] - problem.extra[tube], each) for part in near for each in part]
            fit = [(length, each) for length, each in own if want.shortest <= length <= want.longest]
            found.append(np.array([length for length, each in fit if _holds(problem, tube, each)]))
    choices = np.concatenate([np.zeros(0), *found])
    if not len(choices):
        return [base.length]
    allowed = _allowed(problem)
    suited = sum((np.abs(choices[:, None] - own).min(axis=1, initial=np.inf) <= allowed) for own in found)
    lengths: list[float] = []
    for best in np.lexsort((np.abs(choices - base.length), -np.asarray(suited))):
        if all(abs(choices[best] - length) > allowed for length in lengths):
            lengths.append(float(choices[best]))
        if len(lengths) == LENGTHS:
            break
    return [*lengths, base.length]


def _allowed(problem: RouteProblem) -> float:
    return min(OFF_LENGTH, problem.draft.length.tolerance / 8.0)


def _rounded(problem: RouteProblem, base: Layout, is_over: Callable[[], bool]) -> Iterator[tuple[Layout, int]]:
    """Layouts whose tubes are clear of each other in the sampled model, and the number of their whole angles.

    The gap is required with a little margin first, then as the checks require it.
    """
    ways = []
    for k, run in enumerate(base.runs):
        if is_over():
            return
        ways.append(_ways(problem, k, run, base.length, is_over))
    whole = [np.array([_whole(problem, k, run) for run in tube], dtype=np.int64) for k, tube in enumerate(ways)]
    points = [np.array([seen(problem, k, run, SAMPLES)[0] for run in tube]) for k, tube in enumerate(ways)]
    lengths = [np.full(len(tube), base.length + problem.extra[k]) for k, tube in enumerate(ways)]
    for want in (problem.want._replace(margin=margin) for margin in NEAR_AS):
        clear: dict[tuple[int, int], Array] = {}
        for b, a in combinations(range(problem.count), 2):
            same = bool(problem.group[a] == problem.group[b])
            clear[b, a] = overlaps(points[b], points[a], lengths[b], lengths[a], same, want) < 0.02
        for chosen in _clear_sets(clear, whole)[:TRIALS]:
            runs = tuple(tube[k] for tube, k in zip(ways, chosen, strict=True))
            yield Layout(runs, base.length), sum(int(w[k]) for w, k in zip(whole, chosen, strict=True))


def _whole(problem: RouteProblem, tube: int, run: LayoutTube) -> int:
    angles = _angles(problem, tube, run, run.x[None])[0]
    return min(int((np.abs(angles - np.round(angles)) < WHOLE).sum()), 2 * run.bends - 2)


def _clear_sets(clear: dict[tuple[int, int], Array], whole: Sequence[Numbers]) -> list[list[int]]:
    """Candidates, one for each tube, clear of each other: most whole angles first, then least change; a beam."""
    states, score, change = np.zeros((1, 0), dtype=np.int64), np.zeros(1, dtype=np.int64), np.zeros(1, dtype=np.int64)
    for tube, count in enumerate(whole):
        goes = np.ones((len(states), len(count)), dtype=bool)
        for before in range(tube):
            goes &= clear[before, tube][states[:, before]]
        state, way = np.nonzero(goes)
        score, change = score[state] + count[way], change[state] + way
        kept = np.lexsort((change, -score))[:BEAM]
        states = np.column_stack([states[state[kept]], way[kept]])
        score, change = score[kept], change[kept]
    return [[int(way) for way in row] for row in states]


def _ways(
    problem: RouteProblem, tube: int, run: LayoutTube, length: float, is_over: Callable[[], bool]
) -> list[LayoutTube]:
    """Whole-degree neighbours of a run clear of the chassis, nearest first; then with whole bends; then itself."""
    found: list[LayoutTube] = []
    held = [index for index, angle in enumerate(run.held) if angle > 0.0]
    for free in _what_stays_free(run.bends):
        if set(free) & set(held):
            continue
        if is_over():
            break
        whole = [index for index in range(2 * run.bends - 1) if index not in free]
        if run.bends == 2 and len(free) == 1:
            closed = _near_lengths(problem, tube, run, whole, length, _allowed(problem))
        else:
            closed = _closed_again(problem, tube, run, whole, length)
        kept = _nearest_that_hold(problem, tube, run, closed)
        if not kept and run.bends == 3 and len(free) == 1:
            kept = _nearest_that_hold(problem, tube, run, _closed_again(problem, tube, run, whole, length, WIDER))
        found += kept[: WAYS if len(free) == 1 else 8]
    return [*found, *_closed_again(problem, tube, run, held, length)]


def _nearest_that_hold(
    problem: RouteProblem, tube: int, run: LayoutTube, closed: Sequence[LayoutTube]
) -> list[LayoutTube]:
    moved = [float(np.abs(made.x - run.x).max()) for made in closed]
    nearest = (closed[k] for k in np.argsort(moved, kind="stable"))
    return list(islice((made for made in nearest if _holds(problem, tube, made)), WAYS))


def _what_stays_free(bends: int) -> list[tuple[int, ...]]:
    """Which of the angles (bends first, then rotations) need not be whole, best choice first."""
    if bends == 2:
        return [(2,), (1,), (0,), (1, 2), (0, 2)]
    rotations = tuple(range(bends, 2 * bends - 1))
    return [*((k,) for k in reversed(rotations)), rotations]


def _angles(problem: RouteProblem, tube: int, run: LayoutTube, X: Array) -> tuple[Array, Array]:
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


def _closed_again(
    problem: RouteProblem, tube: int, run: LayoutTube, whole: Sequence[int], length: float, steps: Sequence[int] = ()
) -> list[LayoutTube]:
    """Neighbours with whole angles at the given indices and the exact length; `steps`: degrees from the nearest."""
    near = _whole_near(problem, tube, run, whole, steps or ((-1, 0, 1) if run.bends <= 3 else (0, 1)))
    near = near[: MOST if not steps else None]
    target = np.concatenate([near, np.full((len(near), 1), length + problem.extra[tube])], axis=1)
    return [replace(run, x=x.copy()) for x in solved(problem, tube, run, whole, target)]


def _near_lengths(
    problem: RouteProblem, tube: int, run: LayoutTube, whole: Sequence[int], length: float, allowed: float
) -> list[LayoutTube]:
    """Neighbours of two bends, with two whole angles, whose length is within what is allowed."""
    near = _whole_near(problem, tube, run, whole, range(-AROUND, AROUND + 1))
    X = solved(problem, tube, run, whole, near)
    off = np.abs(_angles(problem, tube, run, X)[1] - length - problem.extra[tube])
    return [replace(run, x=x.copy()) for x in X[off <= allowed]]


def _whole_near(problem: RouteProblem, tube: int, run: LayoutTube, whole: Sequence[int], steps: Sequence[int]) -> Array:
    """Whole degrees (S, W) around those of a run at the given indices, nearest first."""
    now = _angles(problem, tube, run, run.x[None])[0][0][list(whole)]
    below = [math.floor(a) if min(steps) == 0 else round(a) for a in now]
    held = {index: math.degrees(angle) for index, angle in enumerate(run.held) if angle > 0.0}
    choices = (
        [held[index]] if index in held else [a + step for step in steps] for index, a in zip(whole, below, strict=True)
    )
    near = np.array(list(product(*choices)), dtype=float)
    return near[np.argsort(np.abs(near - now).sum(axis=1), kind="stable")]


def solved(problem: RouteProblem, tube: int, run: LayoutTube, whole: Sequence[int], target: Array) -> Array:
    """Unknowns (S, 3n − 4) with the angles (and the length if `target` has one column more), by Newton on all rows."""
    X = np.repeat(run.x[None], len(target), axis=0)
    done = np.zeros(len(target), dtype=bool)
    rows = np.arange(len(target))
    for _ in range(NEWTON):
        off = _off(problem, tube, run, X[rows], whole, target[rows])
        reached = np.abs(off).max(axis=1) < CLOSED
        done[rows[reached]] = True
        rows, off = rows[~reached], off[~reached]
        if not len(rows):
            break
        slopes = np.empty((*off.shape, X.shape[1]))
        for j in range(X.shape[1]):
            more, less = X[rows], X[rows]
            more[:, j] += 1e-4
            less[:, j] -= 1e-4
            higher, lower = (_off(problem, tube, run, each, whole, target[rows]) for each in (more, less))
            slopes[:, :, j] = (lower - higher) / 2e-4
        step = (np.linalg.pinv(slopes, rcond=1e-9) @ off[..., None])[..., 0]
        near = np.isfinite(step).all(axis=1) & (np.abs(step).max(axis=1) < FARTHEST)
        rows = rows[near]
        X[rows] += step[near]
    solved: Array = X[done]
    return solved


def _off(problem: RouteProblem, tube: int, run: LayoutTube, X: Array, whole: Sequence[int], target: Array) -> Array:
    angles, length = _angles(problem, tube, run, X)
    there = np.concatenate([angles[:, list(whole)], length[:, None]], axis=1)
    off: Array = target - there[:, : target.shape[1]]
    turns = off[:, : len(whole)]
    turns[:] = (turns + 180.0) % 360.0 - 180.0
    return off


def _holds(problem: RouteProblem, tube: int, run: LayoutTube) -> bool:
    """Whether a run alone meets straights, bends and chassis in the sampled model."""
    _, straights, _, length = seen(problem, tube, run, 2)
    want = problem.want._replace(margin=0.15, flattest=problem.draft.routing.flattest - WHOLE)
    first, last = problem.least_ends[tube]
    if (straights < [first, *[want.least] * (run.bends - 1), last]).any():
        return False
    tubes = tubes_of(problem, [run], [tube])
    X, missing = np.append(run.x, length - problem.extra[tube]), np.zeros(KINDS)
    points, none = np.empty((SAMPLES, 3)), np.zeros((0, 1))
    space: Space = problem.space
    slopes, last = np.empty((1, 3, 11)), np.empty(12)
    tube_terms(X, 0, 0, tubes, space, want, np.ones((1, 5)), none, slopes, points, last, missing)
    missing[1] = 0.0  # straights were checked above
    return bool(missing.max() < 0.05)
