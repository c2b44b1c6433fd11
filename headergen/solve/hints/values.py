"""One value of a path changed, or the whole path swung about its two ends, with the same bore and length.

Gradients tell which values are worth trying. To first order, the other values follow a change by the least change that
keeps the equations of arrival (least |x| with J·x = 0, J their Jacobian, and the changed value at 1), and a gap grows
by the movement of its nearest point along the direction of the gap. A tried change is closed exactly.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from headergen.checks.moves import way_off
from headergen.geometry.arrays import Array
from headergen.geometry.curves.centreline import frame_on
from headergen.geometry.curves.run import line_of
from headergen.geometry.frames import add, cross, dot, norm, subtract, unit
from headergen.model import Centreline, Draft, Fit, Gap, Run, Step, Straight, Vec
from headergen.model.lengths import required_length
from headergen.model.suggestion import ChangeKind
from headergen.solve.arrival import DEGREE, Chain, chain_of, changed_steps, equations, place_moves, problem_of
from headergen.solve.freeing import every_value
from headergen.solve.hints.half_spaces import SPARE
from headergen.solve.hints.primaries import share_at
from headergen.solve.hints.written import as_written, with_steps
from headergen.solve.least_change import ON_BOUND, LeastChange, solve_equations

MOST_CHANGE = 45.0  # mm or degrees that any value may change, to first order; a larger change is not a small one
LEAST_RATE = 0.05  # mm that a gap must grow for each mm or degree
NO_FREEDOM = 1e-6  # of a unit: remaining error with which the others fail to compensate a change
STRAIGHT = 1.0  # mm that a tube must reach from the line between its ends, to be swung about it
ROUNDS = 4  # of leaving out values on their limits
HARM = 4.0  # weight of a millimetre that another gap falls short, against one of change


@dataclass(frozen=True, eq=False)
class Near:
    """A gap of a run to first order: what it may still lose, and how it grows as its nearest point moves."""

    margin: float
    way: Vec
    at: tuple[int, float]


@dataclass(frozen=True, eq=False)
class PathChange:
    """A change of a run: only `value` is set; if it is None, a place of the run is moved across by a swing.

    `amount`: in mm or degrees; what the gap needs to first order. `follow`: (n,) how the values of `chain` change for
    each unit of it. `rate`: how much the gap grows. `size`: the change with the least size is tried first.
    """

    run: Run
    kind: ChangeKind
    chain: Chain
    follow: Array
    amount: float
    rate: float
    size: float
    value: Fit | None = None
    swung: Near | None = None


def ways_of(run: Run, draft: Draft, gap: Gap, others: Sequence[Gap]) -> list[PathChange]:
    """Changes that may widen a gap of a settled run, seen from it: smallest first, those that harm other gaps last.

    Empty if the nearest points show no direction.
    """
    near = _near(run, gap)
    if near is None:
        return []
    beside = [each for other in others if (each := _near(run, other)) is not None and each.margin > 0.0]
    return sorted(_every_way(run, draft, near, beside), key=lambda each: each.size)


def changed(way: PathChange, amount: float, draft: Draft) -> Run | None:
    """The run as the spec would have it after a change of `amount`, with the digits of a file.

    None if it does not close within its limits.
    """
    if way.value is None:
        return _swung(way, amount, draft)
    fit, units = way.value, draft.units
    step = way.run.steps[fit.step - 1]
    value = as_written(fit.what, getattr(step, fit.what) + amount * (1.0 if fit.what == "length" else DEGREE), units)
    if not fit.low <= value <= fit.high:
        return None
    steps = list(way.run.steps)
    steps[fit.step - 1] = _set(step, fit, value)
    if way.run.fits:  # other values marked fit follow on their own, from their guesses
        mine = next(run for run in draft.runs if run.name == way.run.name)
        guessed = list(mine.steps)
        guessed[fit.step - 1] = _set(guessed[fit.step - 1], fit, value)
        left = tuple(each for each in mine.fits if (each.step, each.what) != (fit.step, fit.what))
        return replace(mine, steps=tuple(guessed), fits=left)
    rest = replace(way.chain, steps=tuple(steps), values=_without(way.chain.values, fit))
    start = amount * way.follow[[each != fit for each in way.chain.values]]
    found = solve_equations(problem_of(rest), start)
    return with_steps(way.run, changed_steps(rest, found.x), units) if found.is_solution else None


def _set(step: Step, fit: Fit, value: float) -> Step:
    if isinstance(step, Straight):
        return replace(step, length=value)
    return replace(step, angle=value) if fit.what == "angle" else replace(step, rotation=value)


def _every_way(run: Run, draft: Draft, near: Near, beside: Sequence[Near]) -> Iterator[PathChange]:
    line, every = line_of(run), every_value(run, draft)
    for fit in every:
        values = (*(each for each in run.fits if (each.step, each.what) != (fit.step, fit.what)), fit)
        chain = chain_of(run, values if run.fits else every, _held(run, line, draft))
        alone = np.array([float(each == fit) for each in chain.values])
        way = PathChange(run, fit.what, chain, alone, 0.0, 0.0, 0.0, value=fit)
        yield from _followed(way, alone, line, (near, beside))
    swung = _outmost(line)
    if swung is not None:
        chain = chain_of(run, every, line.length)
        across = place_moves(line, chain.values, swung.at) @ np.array(swung.way)
        way = PathChange(run, "swing", chain, across, 0.0, 0.0, 0.0, swung=swung)
        yield from _followed(way, across, line, (near, beside))


def _followed(way: PathChange, row: Array, line: Centreline, gaps: tuple[Near, Sequence[Near]]) -> Iterator[PathChange]:
    """The change with the values that follow one unit of it (row @ x = 1) and its predicted gain, if that is enough.

    Values that would exceed their limits stay where they are, and the others follow without them.
    """
    problem, n = problem_of(way.chain), len(row)
    rows = np.concatenate([equations(way.chain, np.zeros(n))[1], row[None, :]])
    aim, free = np.eye(len(rows))[-1], np.ones(n, dtype=bool)
    for _ in range(ROUNDS):
        follow = np.zeros(n)
        follow[free] = np.linalg.pinv(rows[:, free])[:, -1]
        if np.abs(rows @ follow - aim).max() > NO_FREEDOM:
            return
        promised = _worth(replace(way, follow=follow), line, *gaps)
        if promised is None:
            return
        change = promised.amount * follow
        over = (change < problem.low - ON_BOUND) | (change > problem.high + ON_BOUND)
        if not over.any():
            yield promised
            return
        free &= ~over


def _held(run: Run, line: Centreline, draft: Draft) -> float | None:
    """The length to keep; a run with values marked fit keeps none if it has no target."""
    return line.length if not run.fits or required_length(run, draft) else None


def _worth(way: PathChange, line: Centreline, near: Near, beside: Sequence[Near]) -> PathChange | None:
    """The change with its predicted gain; None if that is not enough."""

    def growth(each: Near) -> float:
        return float(way.follow @ place_moves(line, way.chain.values, each.at) @ np.array(each.way))

    rate = growth(near)
    if abs(rate) < LEAST_RATE:
        return None
    amount = (SPARE - near.margin) / rate
    change = abs(amount) * float(np.abs(way.follow).max())
    if change > MOST_CHANGE:
        return None
    harm = sum(max(0.0, -(each.margin + amount * growth(each))) for each in beside)
    return replace(way, amount=amount, rate=rate, size=change + HARM * harm)


def _near(run: Run, gap: Gap) -> Near | None:
    way = None if gap.runs_through else way_off(gap.points, gap.value)
    return None if way is None else Near(gap.value - gap.required, way, share_at(run, gap.place))


def _outmost(line: Centreline) -> Near | None:
    """The place farthest from the line between both ends, and the direction, square to both, of a swing there."""
    start, end = line.segments[0].start, frame_on(line.segments[-1], line.segments[-1].length)[0]
    if norm(subtract(end, start)) < STRAIGHT:
        return None
    chord = unit(subtract(end, start))
    offs = []
    for segment in line.segments:
        off = subtract(frame_on(segment, segment.length / 2)[0], start)
        offs.append((add(off, chord, -dot(off, chord)), segment.step))
    out, step = max(offs, key=lambda each: norm(each[0]))
    return None if norm(out) < STRAIGHT else Near(0.0, unit(cross(chord, out)), (step, 0.5))


def _swung(way: PathChange, amount: float, draft: Draft) -> Run | None:
    """The whole path closed again with its outmost place moved across."""
    assert way.swung is not None
    problem, swung = problem_of(way.chain), way.swung
    across = np.array(swung.way)
    aim = dot(_place(way.run, way.chain, np.zeros(len(way.follow)), swung), swung.way) + amount

    def with_place(x: Array) -> tuple[Array, Array]:
        c, slopes = equations(way.chain, x)
        line = line_of(replace(way.run, steps=changed_steps(way.chain, x)))
        short = dot(_place(way.run, way.chain, x, swung), swung.way) - aim
        row = place_moves(line, way.chain.values, swung.at) @ across
        return np.append(c, short), np.concatenate([slopes, row[None, :]])

    led = LeastChange(with_place, problem.curvature, problem.low, problem.high)
    found = solve_equations(led, amount * way.follow)
    return with_steps(way.run, changed_steps(way.chain, found.x), draft.units) if found.is_solution else None


def _place(run: Run, chain: Chain, x: Array, near: Near) -> Vec:
    segment = line_of(replace(run, steps=changed_steps(chain, x))).segments[near.at[0] - 1]
    return frame_on(segment, near.at[1] * segment.length)[0]


def _without(values: Sequence[Fit], fit: Fit) -> tuple[Fit, ...]:
    return tuple(each for each in values if each != fit)
