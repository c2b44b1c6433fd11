"""One candidate for all tubes: their unknowns, and the operations on them before they are judged."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.curves.centreline import PointsError, steps_from_points
from headergen.geometry.frames import vec
from headergen.model import Step, Vec
from headergen.solve.route.kernels.descend import descend, outline
from headergen.solve.route.kernels.shape import MOST_BENDS, UNKNOWNS, Tubes
from headergen.solve.route.kernels.terms import CHASSIS, ITSELF, KINDS, STRAIGHTS, TUBES
from headergen.solve.route.problem import RouteProblem, padded

FINE, COARSE = 12.0, 20.0  # mm between samples
LITTLE = 0.08  # rad of bend below which the penalty on bending gets no steeper
HELD = 0.3  # mm of miss in length and bends up to which a candidate goes on to the exact checks
STRICT = 0.01  # the same in straights and gaps, on which the checks are as strict
NEW_LEG = 30.0  # mm of straight above the least for an end that loses its leg with a dropped bend
WISHES = (3.0, 1.0, 0.3, 0.1, 0.0)


@dataclass(frozen=True, eq=False)
class LayoutTube:
    """One tube: its bore, the radius of each of its n bends, its 3n − 4 unknowns.

    `held` (n): the angle that a bend must have, 0 if it is free; empty if all are.
    """

    bore: int
    radii: tuple[float, ...]
    x: Array
    held: tuple[float, ...] = ()

    @property
    def bends(self) -> int:
        return len(self.radii)


@dataclass(frozen=True, eq=False)
class Layout:
    runs: tuple[LayoutTube, ...]
    length: float

    def with_run(self, tube: int, run: LayoutTube) -> Layout:
        return replace(self, runs=(*self.runs[:tube], run, *self.runs[tube + 1 :]))


def most_held(bends: int) -> int:
    """How many bends of a tube can have given angles: all unknowns but one, which the length takes, can be spent."""
    return min(bends, 3 * bends - 5)


def tubes_of(problem: RouteProblem, runs: Sequence[LayoutTube], tubes: Sequence[int]) -> Tubes:
    """The fixed data, for the kernels, of runs that belong to the given tubes."""
    largest = dict(zip(problem.radii.tolist(), problem.sharpest.tolist(), strict=True))
    fixed = problem.group[problem.count :]
    return Tubes(
        ends=np.array([problem.ends(k, run.bore) for k, run in zip(tubes, runs, strict=True)]),
        bends=np.array([run.bends for run in runs], dtype=np.int64),
        radii=np.array([padded(np.array(run.radii)) for run in runs]),
        most=np.array([padded(np.array([largest[r] for r in run.radii])) for run in runs]),
        held=np.array([padded(np.array(run.held)) for run in runs]),
        group=np.concatenate([problem.group[list(tubes)], fixed]),
        extra=problem.extra[list(tubes)],
        least_ends=problem.least_ends[list(tubes)],
        source=problem.source[list(tubes)],
        slim=np.concatenate([problem.slim[list(tubes)], problem.slim[problem.count :]]),
        grows=problem.grows[list(tubes)],
    )


@dataclass(frozen=True)
class Descent:
    """How far a descent goes: its rounds, the mm between samples, the angle below which no bend may be, the margin on
    the length if not the problem's, and the miss that is small enough."""

    rounds: int = 30
    step: float = FINE
    flattest: float = 0.0
    margin: float | None = None
    enough: float = 0.05


def settled(
    problem: RouteProblem, layout: Layout, wishes: Sequence[float], how: Descent = Descent()
) -> tuple[Layout, float]:
    """A layout after descents under one penalty on bending after the other, and its worst miss."""
    layout, missing = _settled(problem, layout, wishes, how)
    return layout, float(missing.max())


def _settled(problem: RouteProblem, layout: Layout, wishes: Sequence[float], how: Descent) -> tuple[Layout, Array]:
    """The same with the worst miss of each kind of requirement."""
    tubes = tubes_of(problem, layout.runs, range(problem.count))
    X = np.concatenate([*(run.x for run in layout.runs), [layout.length]])
    count = int(np.ceil(layout.length / how.step))
    margin = problem.want.margin if how.margin is None else how.margin
    want = problem.want._replace(flattest=how.flattest, margin=margin)
    missing = np.full(KINDS, np.inf)
    for wish in wishes:
        weights = _weights(tubes, X) if wish > 0 else np.ones((problem.count, MOST_BENDS))
        missing = descend(X, tubes, problem.space, want._replace(weight=wish), weights, count, how.rounds, how.enough)
    return _unpacked(layout, X), missing


def may_pass(problem: RouteProblem, layout: Layout) -> bool:
    """Whether a layout as it is meets the sampled model so well that the exact checks may accept it."""
    return _is_held(_settled(problem, layout, (0.0,), Descent(0, flattest=problem.want.flattest))[1])


def _is_held(missing: Array) -> bool:
    return bool(missing.max() < HELD and missing[[STRAIGHTS, TUBES, CHASSIS, ITSELF]].max() < STRICT)


def _weights(tubes: Tubes, X: Array) -> Array:
    """(K, MOST_BENDS) weights that make the sum of squared turns about equal to the sum of turns."""
    out = np.ones((len(tubes.bends), MOST_BENDS))
    at = 0
    for k, n in enumerate(tubes.bends):
        angles = outline(tubes.ends[k], n, tubes.radii[k], X[at : at + 3 * n - 4], 2)[2]
        out[k, :n] = 1 / np.sqrt(np.maximum(angles, LITTLE))
        at += 3 * n - 4
    return out


def _unpacked(layout: Layout, X: Array) -> Layout:
    runs, at = [], 0
    for run in layout.runs:
        runs.append(replace(run, x=X[at : at + len(run.x)].copy()))
        at += len(run.x)
    return Layout(tuple(runs), float(X[-1]))


def seen(problem: RouteProblem, tube: int, run: LayoutTube, count: int = 36) -> tuple[Array, Array, Array, float]:
    """Points (count, 3), straights, angles and length of one tube."""
    found = outline(problem.ends(tube, run.bore), run.bends, padded(np.array(run.radii)), run.x, count)
    points, straights, angles, length = found
    return points, straights, angles, float(length)


def polished(
    problem: RouteProblem, layout: Layout, is_worth_it: Callable[[Layout], bool] = lambda _: True
) -> Layout | None:
    """A layout that meets the sampled model, with few bends and none too flat; None if it does not get there.

    `is_worth_it` is asked half way: bends only become sharper after that, as the penalty on them fades.
    """
    layout, missing = settled(problem, layout, (3.0, 0.3), Descent(15, COARSE))
    if missing > 12.0:
        return None
    layout, missing = settled(problem, layout, (1.0, 0.3))
    if missing > 8.0:
        return None
    layout = without_slivers(problem, layout)
    return finished(problem, layout) if is_worth_it(layout) else None


def finished(problem: RouteProblem, layout: Layout) -> Layout | None:
    """The last descents, until every requirement is met."""
    how = Descent(flattest=problem.want.flattest, enough=0.5 * STRICT)
    layout, missing = _settled(problem, layout, (0.3, 0.1, 0.02, 0.0), how)
    return layout if _is_held(missing) else None


def without_slivers(problem: RouteProblem, layout: Layout) -> Layout:
    """The layout without bends of less than half the flattest angle; smaller ones that stay are raised later."""
    for tube in range(problem.count):
        while layout.runs[tube].bends > 2:
            angles = seen(problem, tube, layout.runs[tube], 2)[2]
            flat = int(np.argmin(angles))
            if angles[flat] > 0.5 * problem.want.flattest:
                break
            layout = layout.with_run(tube, without_bend(problem, tube, layout.runs[tube], flat))
    return layout


def without_bend(problem: RouteProblem, tube: int, run: LayoutTube, bend: int) -> LayoutTube:
    """A run without one of its bends.

    An inner bend loses its corner; for an end bend, the next corner is moved onto the end's axis.
    """
    end = problem.ends(tube, run.bore)
    inner = [run.x[2 + 3 * j : 5 + 3 * j] for j in range(run.bends - 2)]
    first, last = float(run.x[0]), float(run.x[1])
    least_first, least_last = problem.least_ends[tube] + NEW_LEG
    if bend == 0:
        first = max(float(least_first), float((inner[0] - end[:3]) @ end[3:6]))
        inner = inner[1:]
    elif bend == run.bends - 1:
        last = max(float(least_last), float((end[6:9] - inner[-1]) @ end[9:]))
        inner = inner[:-1]
    else:
        del inner[bend - 1]
    radii = (*run.radii[:bend], *run.radii[bend + 1 :])
    return LayoutTube(run.bore, radii, np.concatenate([[first, last], *inner]))


def steps_of_tube(problem: RouteProblem, tube: int, run: LayoutTube) -> tuple[Step, ...]:
    """The exact path of a run. Raises PointsError if no tube can follow it."""
    end = problem.ends(tube, run.bore)
    corners = [end[:3], end[:3] + run.x[0] * end[3:6]]
    corners += [run.x[2 + 3 * j : 5 + 3 * j] for j in range(run.bends - 2)]
    corners += [end[6:9] - run.x[1] * end[9:], end[6:9]]
    return steps_from_points([vec(corner) for corner in corners], run.radii, problem.runs[tube].start.frame.x)


def tube_of_corners(
    problem: RouteProblem, tube: int, bore: int, corners: Sequence[Vec], radii: Sequence[float]
) -> LayoutTube:
    """A run through given corners as a first guess; the outer corners are moved onto the axes of port and bore."""
    end = problem.ends(tube, bore)
    inner = [np.array(corner) for corner in corners]
    least_first, least_last = problem.least_ends[tube]
    first = max(float(least_first), float((inner[0] - end[:3]) @ end[3:6]))
    last = max(float(least_last), float((end[6:9] - inner[-1]) @ end[9:]))
    return LayoutTube(bore, tuple(radii), np.concatenate([[first, last], *inner[1:-1]]))


__all__ = [
    "COARSE",
    "FINE",
    "HELD",
    "UNKNOWNS",
    "WISHES",
    "Descent",
    "Layout",
    "LayoutTube",
    "PointsError",
    "finished",
    "may_pass",
    "most_held",
    "polished",
    "seen",
    "settled",
    "steps_of_tube",
    "tube_of_corners",
    "tubes_of",
    "without_bend",
    "without_slivers",
]
