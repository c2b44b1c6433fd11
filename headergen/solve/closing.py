"""Closes primaries on their bores: finds the values marked to fit.

Equations: the end stands on the bore (3), the tube arrives square to the collector plane (2) and, where a target is
set, at that length (1). With more unknowns than equations the smallest change from the guesses wins, 1 mm and 1°
counting the same; with fewer a solution may still exist. Limits hold throughout.

One method serves all: bounded least squares on the equations, heavily weighted, beside the change, lightly weighted;
then Newton's method on the equations alone. Derivatives are exact: a longer straight moves the end along its tangent, a
larger bend or rotation turns everything after it about an axis (a screw without pitch).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.centreline import frame_on, trace
from headergen.geometry.frames import add, cross
from headergen.model import (
    Arc,
    Bend,
    Centreline,
    Draft,
    Fit,
    Header,
    Limits,
    Miss,
    Primary,
    Step,
    Straight,
    Vec,
)
from headergen.solve.least_squares import Function, least_squares_in_box

Array = NDArray[np.float64]

DEGREE = math.pi / 180
LEVER = 500.0  # mm; a direction counts as what it moves at this distance
WEIGHTS = (3.0, 100.0, 1e5, 1e5)  # of the equations against the change, one stage after another; the last twice
CLOSED = 1e-8  # mm, LEVER-scaled for directions; the bars are 1e-6 mm and 1e-6 rad
PUSHES = (50.0, 10.0, 2.0)  # mm
STEPS_BACK = (0.0, 0.01, 0.1, 0.5, 2.0)  # mm; at the very extreme a shape folds over and cannot be found again
RESTARTS = 6
SPREAD = (40.0, 25.0)  # mm and degrees by which restarts stray from the guesses
LONGEST = 1e6  # mm; stands for 'no upper limit'
MOST_FREED = 6
WORTH_TRYING = 5.0  # mm of linearised miss left, under which a real trial is made


@dataclass(frozen=True)
class Task:
    """One primary to close: which of its values are free, and at what length (None: any)."""

    primary: Primary
    fits: tuple[Fit, ...]
    target: float | None

    @property
    def guesses(self) -> Array:
        """(n,) guesses in millimetres and degrees."""
        return np.array([_value(self.primary.steps, fit) for fit in self.fits])

    @property
    def bounds(self) -> tuple[Array, Array]:
        units = np.array([_unit(fit) for fit in self.fits])
        return np.array([f.low for f in self.fits]) / units, np.array([f.high for f in self.fits]) / units


def close(draft: Draft) -> Header:
    """The header of a draft: every fit settled, and a Miss for each primary that cannot be, or is off without fits."""
    settled = [_settle(primary, draft) for primary in draft.primaries]
    primaries = tuple(primary for primary, _, _ in settled)
    misses = tuple(miss for _, _, miss in settled if miss is not None)
    return Header(draft, primaries, tuple(line for _, line, _ in settled), misses)


def _settle(primary: Primary, draft: Draft) -> tuple[Primary, Centreline, Miss | None]:
    target = primary.target if primary.target is not None else draft.length.target
    task = Task(primary, primary.fits, target)
    if not primary.fits:
        line = _line(task, np.zeros(0))
        return primary, line, _miss_without_fits(task, draft)
    values = solve(task)
    if values is not None:
        closed = with_values(task, values)
        return closed, _line(task, values), None
    values = _least_miss(task)
    return with_values(task, values), _line(task, values), _miss(task, values, draft)


def solve(task: Task) -> Array | None:
    """Values (n,) that close a task with the smallest change from its guesses, or None where none were found.

    Where the guesses do not lead there, other starts are tried, then shapes that close at another length, led to the
    target.
    """
    for start in _starts(task):
        values = _closed_from(task, start)
        if values is not None:
            return values
    if task.target is None or _is_out_of_reach(task):
        return None
    for free in _closed_at_any_length(task):
        led, _ = _led_to_target(task, free)
        values = _closed_from(task, led, WEIGHTS[-1:])
        if values is not None:
            return values
    return None


def _starts(task: Task) -> Iterator[Array]:
    """The guesses, then places round them; the same ones every time."""
    rng = np.random.default_rng(0)
    spread = np.array([SPREAD[0] if fit.what == "length" else SPREAD[1] for fit in task.fits])
    for attempt in range(RESTARTS + 1):
        stray = spread * rng.uniform(-1, 1, len(spread)) if attempt else 0.0
        yield np.clip(task.guesses + stray, *task.bounds)


def _closed_at_any_length(task: Task) -> Iterator[Array]:
    free = replace(task, target=None)
    closed = (_closed_from(free, start) for start in _starts(task))
    return (values for values in closed if values is not None)


def _closed_from(task: Task, values: Array, weights: Sequence[float] = WEIGHTS) -> Array | None:
    low, high = task.bounds
    for weight in weights:
        values = least_squares_in_box(_weighted(task, weight), values, low, high)
    values = least_squares_in_box(lambda v: equations(task, v), values, low, high)
    return values if _is_closed(task, values) else None


def _is_closed(task: Task, values: Array) -> bool:
    _, tangent, _ = _end(_line(task, values))
    arrives = float(np.dot(tangent, task.primary.bore.frame.z)) > 0
    return arrives and bool(np.abs(equations(task, values)[0]).max() < CLOSED)


def _weighted(task: Task, weight: float) -> Function:
    guesses = task.guesses

    def function(values: Array) -> tuple[Array, Array]:
        miss, slopes = equations(task, values)
        return np.r_[weight * miss, values - guesses], np.r_[weight * slopes, np.eye(len(values))]

    return function


def equations(task: Task, values: Array) -> tuple[Array, Array]:
    """What is left to close (m,), in millimetres, and its exact derivatives (m, n) by millimetre and degree."""
    line = _line(task, values)
    bore = task.primary.bore.frame
    end, tangent, _ = _end(line)
    axes = np.array([bore.x, bore.y, bore.z])
    miss = np.r_[np.subtract(end, bore.origin), LEVER * (axes[:2] @ tangent)]
    columns = [_slopes(line, fit, end, tangent, axes) for fit in task.fits]
    slopes: Array = np.array(columns).T.reshape(6, len(columns))
    if task.target is None:
        return miss, slopes[:5]
    return np.r_[miss, line.length - task.target], slopes


def _slopes(line: Centreline, fit: Fit, end: Vec, tangent: Vec, axes: Array) -> Array:
    """(6,) derivatives of end, direction and length by one value, by millimetre or degree."""
    segment = line.segments[fit.step - 1]
    if fit.what == "length":
        return np.array([*segment.tangent, 0.0, 0.0, 1.0])
    assert isinstance(segment, Arc)
    if fit.what == "angle":
        axis = np.array(cross(segment.tangent, segment.toward))
        through, longer = add(segment.start, segment.toward, segment.radius), segment.radius
    else:
        axis, through, longer = np.array(segment.tangent), segment.start, 0.0
    moved = np.cross(axis, np.subtract(end, through))
    turned = LEVER * (axes[:2] @ np.cross(axis, tangent))
    return np.asarray(DEGREE * np.r_[moved, turned, longer])


def _end(line: Centreline) -> tuple[Vec, Vec, Vec]:
    return frame_on(line.segments[-1], line.segments[-1].length)


def _line(task: Task, values: Array) -> Centreline:
    primary = with_values(task, values)
    return trace(primary.port.frame, primary.steps, primary.number)


def with_values(task: Task, values: Sequence[float] | Array) -> Primary:
    """The primary of a task with values (n,), in millimetres and degrees, in place of the guesses."""
    steps = list(task.primary.steps)
    for fit, value in zip(task.fits, values, strict=True):
        step = steps[fit.step - 1]
        exact = float(value) * _unit(fit)
        if isinstance(step, Straight):
            steps[fit.step - 1] = Straight(exact)
        elif fit.what == "angle":
            steps[fit.step - 1] = replace(step, angle=exact)
        else:
            steps[fit.step - 1] = replace(step, rotation=exact)
    return replace(task.primary, steps=tuple(steps))


def _value(steps: Sequence[Step], fit: Fit) -> float:
    step = steps[fit.step - 1]
    if isinstance(step, Straight):
        return step.length
    return (step.angle if fit.what == "angle" else step.rotation) / DEGREE


def _unit(fit: Fit) -> float:
    return 1.0 if fit.what == "length" else DEGREE


def _least_miss(task: Task) -> Array:
    low, high = task.bounds
    start = np.clip(task.guesses, low, high)
    for weight in WEIGHTS[:2]:
        start = least_squares_in_box(_weighted(task, weight), start, low, high)
    return start


def nearest_length(task: Task) -> float | None:
    """The developed length nearest to the target with which a task does close, confirmed by solving for it.

    None where it was found to close with none. What is nearest is only what was found in a few tries.
    """
    target = task.target
    assert target is not None
    lengths = [_led_to_target(task, values)[1] for values in _closed_at_any_length(task)]
    found = sorted(lengths, key=lambda length: abs(length - target))
    for length in found[:2]:
        for back in STEPS_BACK:
            candidate = length + math.copysign(back, length - target)
            if solve(replace(task, target=candidate)) is not None:
                return _pushed(task, candidate)
    return None


def _pushed(task: Task, length: float) -> float:
    """A length that closes, brought nearer to the target in ever smaller steps while it still does."""
    target = task.target
    assert target is not None
    for step in PUSHES:
        while abs(length - target) > step:
            nearer = length - math.copysign(step, length - target)
            if solve(replace(task, target=nearer)) is None:
                break
            length = nearer
    return length


def _led_to_target(task: Task, values: Array) -> tuple[Array, float]:
    """The closed shape nearest to the target's length that hangs together with `values`, and its length."""
    free, target = replace(task, target=None), task.target
    assert target is not None
    led = values
    for weight, pull in ((30.0, 1e-2), (1e3, 1e-4), (1e5, 1e-6)):
        led = least_squares_in_box(_toward_length(task, weight, pull), led, *task.bounds)
    led = least_squares_in_box(lambda v: equations(free, v), led, *task.bounds)
    before, after = _line(task, values).length, _line(task, led).length
    if _is_closed(free, led) and abs(after - target) < abs(before - target):
        return led, after
    return values, before


def _toward_length(task: Task, weight: float, pull: float) -> Function:
    """Closing weighs most, then the length, then the change."""
    guesses, scale = task.guesses, np.r_[np.full(5, weight), 1.0]

    def residuals(values: Array) -> tuple[Array, Array]:
        miss, slopes = equations(task, values)
        change = pull * (values - guesses)
        return np.r_[scale * miss, change], np.r_[scale[:, None] * slopes, pull * np.eye(len(values))]

    return residuals


def _miss(task: Task, values: Array, draft: Draft) -> Miss:
    line = _line(task, values)
    low, high = task.bounds
    near = 1e-6 * np.maximum(1.0, np.abs(values))
    on_limit = (values - low < near) | (high - values < near)
    stuck = tuple(_settled_at(task.fits[k], float(values[k])) for k in np.flatnonzero(on_limit))
    reached = replace(task, primary=with_values(task, values))
    return replace(
        _measured(task, line),
        at_limits=stuck,
        nearest_length=None if task.target is None else nearest_length(task),
        would_help=values_to_free(reached, draft.limits, draft.length.tolerance),
    )


def _settled_at(fit: Fit, value: float) -> Fit:
    """The limit a fit ran into, as a fit that can only be that value."""
    return replace(fit, low=value * _unit(fit), high=value * _unit(fit))


def _measured(task: Task, line: Centreline) -> Miss:
    bore = task.primary.bore.frame
    end, tangent, _ = _end(line)
    miss = np.subtract(end, bore.origin)
    along = float(np.dot(miss, bore.z))
    across = float(np.linalg.norm(miss - along * np.array(bore.z)))
    off = line.length - task.target if task.target is not None else 0.0
    square = math.atan2(float(np.linalg.norm(np.cross(tangent, bore.z))), float(np.dot(tangent, bore.z)))
    return Miss(task.primary.number, along, across, square, off)


def _miss_without_fits(task: Task, draft: Draft) -> Miss | None:
    miss = _measured(task, _line(task, np.zeros(0)))
    if _keeps_limits(miss, draft.limits, draft.length.tolerance):
        return None
    return replace(miss, would_help=values_to_free(task, draft.limits, draft.length.tolerance))


def _keeps_limits(miss: Miss, limits: Limits, tolerance: float) -> bool:
    ends_well = math.hypot(miss.along, miss.across) <= limits.end_position and miss.angle <= limits.end_angle
    return ends_well and abs(miss.length_off) <= tolerance


def values_to_free(task: Task, limits: Limits, tolerance: float) -> tuple[Fit, ...]:
    """Few values which, freed beside those that are free already, close a task; empty where a small trial finds none.

    A task that has free values must then close exactly; one that has none need only keep the limits.

    Values are picked one after another by how much of the linearised miss they can take up, tried for real, and
    those that prove needless are dropped again.
    """
    free = [fit for fit in _all_fits(task.primary.steps, limits) if not _is_among(fit, task.fits)]
    chosen: list[Fit] = []
    while len(chosen) < min(MOST_FREED, len(free)) and not _is_out_of_reach(task):
        fit, left = _most_useful(task, chosen, free)
        chosen.append(fit)
        if left < WORTH_TRYING and _closes_with(task, chosen, (limits, tolerance)):
            return tuple(_without_needless(task, chosen, (limits, tolerance)))
    return ()


def _is_out_of_reach(task: Task) -> bool:
    """No tube is shorter than the straight line from port to bore."""
    reach = math.dist(task.primary.port.frame.origin, task.primary.bore.frame.origin)
    return task.target is not None and task.target < reach


def _closes_with(task: Task, chosen: Sequence[Fit], kept: tuple[Limits, float]) -> bool:
    wider = replace(task, fits=(*task.fits, *chosen))
    if task.fits:
        return _closed_from(wider, np.clip(wider.guesses, *wider.bounds)) is not None
    return _keeps_limits(_measured(wider, _line(wider, _least_miss(wider))), *kept)


def _without_needless(task: Task, chosen: list[Fit], kept: tuple[Limits, float]) -> list[Fit]:
    for fit in list(chosen):
        fewer = [each for each in chosen if each is not fit]
        if fewer and _closes_with(task, fewer, kept):
            chosen = fewer
    return sorted(chosen, key=lambda fit: (fit.step, fit.what))


def _most_useful(task: Task, chosen: Sequence[Fit], free: Sequence[Fit]) -> tuple[Fit, float]:
    """The value that leaves least of the linearised miss, and how much is left; of equals the one that moves least."""

    def left_with(fit: Fit) -> tuple[float, float]:
        wider = replace(task, fits=(*task.fits, *chosen, fit))
        miss, slopes = equations(wider, wider.guesses)
        step = np.linalg.lstsq(slopes, -miss, rcond=1e-9)[0]
        return round(float(np.linalg.norm(slopes @ step + miss)), 6), float(np.linalg.norm(step))

    best = min((fit for fit in free if not _is_among(fit, chosen)), key=left_with)
    return best, left_with(best)[0]


def _is_among(fit: Fit, others: Sequence[Fit]) -> bool:
    return any((fit.step, fit.what) == (other.step, other.what) for other in others)


def _all_fits(steps: Sequence[Step], limits: Limits) -> list[Fit]:
    """Every value of a path as if it were free, within what a shop can make."""
    fits: list[Fit] = []
    for number, step in enumerate(steps, 1):
        if isinstance(step, Bend):
            fits.append(Fit(number, "angle", DEGREE, math.pi))
            fits.append(Fit(number, "rotation", step.rotation - math.pi, step.rotation + math.pi))
        else:
            fits.append(Fit(number, "length", max(limits.min_straight, 1.0), LONGEST))
    return fits
