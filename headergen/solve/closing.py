"""Closes primaries on their bores: finds the values marked `fit`, and if there are none, reports what prevents it.

With more unknowns than equations, the smallest change from the guesses wins: the least sum of squares, in which 1 mm
and 1 degree count the same (`arrival.DEGREE`). The search starts at the guesses; only if that fails are other starts
tried, the same ones in every run. If the target length cannot be reached, the run is closed at the nearest length. If
nothing closes, the run ends where it misses least; 1 mm and 1 degree count the same again. A found angle next to a
shelf angle becomes the shelf angle (`shelf_angles.py`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from headergen.geometry.curves.centreline import trace
from headergen.geometry.curves.run import line_of
from headergen.geometry.curves.sides import hosts_first, placed, with_ends_of
from headergen.model import Centreline, Draft, Fit, Header, Miss, Run
from headergen.model.lengths import required_length
from headergen.solve.arrival import Chain, chain_of, changed_steps, length_slopes, problem_of
from headergen.solve.freeing import values_to_free
from headergen.solve.growth_place import with_growths_in_place
from headergen.solve.least_change import (
    Goal,
    LeastChange,
    Point,
    active_bounds,
    best_of,
    least_from,
    restarts,
    solve_equations,
)
from headergen.solve.miss import keeps_limits, measure_miss
from headergen.solve.narrowing import within_job, within_stock
from headergen.solve.shelf_angles import with_shelf_angles
from headergen.words.numbers import INCH

RESTARTS = 8
STAY = 1e-3  # weight of a change against the same difference of length, when the nearest length is sought
AT_TARGET = 1e-6  # mm; a nearest length this near to the target is the target


@dataclass(frozen=True, eq=False)
class _Try:
    """A run as it is after one search."""

    point: Point
    run: Run
    miss: Miss


def close(draft: Draft, known: Mapping[str, Centreline] = MappingProxyType({})) -> Header:
    """The header of a draft with every value settled, each run on its bore and at its target where possible.

    `misses` has each run with fits that could not be closed, and each run without fits that ends or measures outside
    the draft's limits. Fits stay in their runs; the steps hold the values found. A run on the side of another is closed
    after that one. `known`: the centrelines of runs that are not among those of the draft.
    """
    settled, lines = dict[str, tuple[Run, Miss | None]](), dict(known)
    for each in hosts_first(draft.runs):
        run = placed(each, lines)
        closed, miss = _with_fits(run, draft) if run.fits else _without_fits(run, draft)
        closed = with_growths_in_place(closed, draft)
        settled[each.name], lines[each.name] = (closed, miss), line_of(closed)
    runs = tuple(settled[run.name][0] for run in draft.runs)
    misses = tuple(miss for run in draft.runs if (miss := settled[run.name][1]) is not None)
    return Header(with_ends_of(draft, runs), runs, tuple(lines[run.name] for run in runs), misses)


def _without_fits(run: Run, draft: Draft) -> tuple[Run, Miss | None]:
    miss = measure_miss(run, draft)
    if keeps_limits(miss, draft):
        return run, None
    return run, replace(miss, would_help=values_to_free(run, draft))


def _with_fits(run: Run, draft: Draft) -> tuple[Run, Miss | None]:
    """A run closed within what the checks accept: with bends in stock if possible, else with any."""
    target, every = required_length(run, draft), within_job(run, draft)
    in_stock = within_stock(every, draft)
    for allowed in (in_stock, every) if in_stock != every else (every,):
        found = _closing(chain_of(allowed, allowed.fits, target))
        if found.is_solution:
            chain = chain_of(allowed, allowed.fits, target)
            closed = with_shelf_angles(replace(allowed, steps=changed_steps(chain, found.x)), draft, target)
            return replace(run, steps=closed.steps), None
    left, miss = _at_best(every, chain_of(every, every.fits, target), found, draft)
    return replace(run, steps=left.steps), miss


def closes_at_once(run: Run, draft: Draft) -> bool:
    """Whether a run's fits close it straight from their guesses.

    close() searches farther, which takes longer if they do not.
    """
    allowed = within_stock(within_job(run, draft), draft)
    chain = chain_of(allowed, allowed.fits, required_length(run, draft))
    return solve_equations(problem_of(chain), np.zeros(len(chain.values))).is_solution


def _closing(chain: Chain) -> Point:
    """The closing of least change from the guesses; else one from other starts; else the point of least miss."""
    problem, goal = problem_of(chain), _least_change(chain)
    found = least_from(problem, goal, np.zeros(len(chain.values)))
    return found if found.is_solution else best_of([found, *_from_elsewhere(problem, goal)], goal)


def _at_best(run: Run, chain: Chain, found: Point, draft: Draft) -> tuple[Run, Miss | None]:
    """A run closed at another length than its target, or else with the least miss, and the report of that miss.

    A try within the draft's limits is preferred; then one that closes, at the length nearest to the target; then the
    one of least miss.
    """
    points = [found, *_at_any_length(chain, found)]
    tries = [_try(run, chain, point, draft) for point in points]
    best = min(tries, key=lambda each: _rank(each, draft))
    lengths = [line_of(each.run).length for each in tries if each.point.is_solution]
    nearest = min(lengths, key=lambda length: abs(length - (chain.target or 0.0)), default=None)
    if best.point.is_solution and abs(best.miss.length_off) <= AT_TARGET:
        return best.run, None
    would_help: tuple[Fit, ...] = ()
    if not keeps_limits(best.miss, draft):
        would_help = values_to_free(best.run, draft)
    told = replace(
        best.miss, at_limits=_fits_at_bounds(chain, best.point), nearest_length=nearest, would_help=would_help
    )
    if nearest is not None:
        told = replace(told, askable_length=_askable(nearest, chain, draft.units))
    return best.run, told


def _askable(nearest: float, chain: Chain, units: str) -> float | None:
    """The nearest length with the displayed digits at which the run closes; None if there is none."""
    digit = INCH / 1000 if units == "in" else 0.1
    count, away = nearest / digit, 1 if nearest >= (chain.target or 0.0) else -1
    for whole in dict.fromkeys((round(count), away * math.ceil(away * count))):
        if _closing(replace(chain, target=whole * digit)).is_solution:
            return whole * digit
    return None


def _at_any_length(chain: Chain, found: Point) -> list[Point]:
    """For each start, the closing at the length nearest to the target; none without a target."""
    if chain.target is None:
        return []
    problem, goal = problem_of(replace(chain, target=None)), _nearest_length(chain, chain.target)
    near = [least_from(problem, goal, start) for start in (np.zeros(len(chain.values)), found.x)]
    return near + _from_elsewhere(problem, goal)


def _from_elsewhere(problem: LeastChange, goal: Goal) -> list[Point]:
    """The results from random starts around the guesses."""
    return [least_from(problem, goal, start) for start in restarts(problem, np.zeros(len(problem.low)), RESTARTS)]


def _try(run: Run, chain: Chain, point: Point, draft: Draft) -> _Try:
    made = replace(run, steps=changed_steps(chain, point.x))
    return _Try(point, made, measure_miss(made, draft))


def _rank(each: _Try, draft: Draft) -> tuple[bool, bool, float]:
    """The rank of a try; less is better."""
    far = abs(each.miss.length_off) if each.point.is_solution else each.point.size
    return not keeps_limits(each.miss, draft), not each.point.is_solution, far


def _fits_at_bounds(chain: Chain, point: Point) -> tuple[Fit, ...]:
    """Fits on a limit, beyond which the length would come nearer to its target, or the end to its bore."""
    slope, rows = point.slopes.T @ point.c, point.slopes[:0]
    if point.is_solution and chain.target is not None:
        slope, rows = _nearest_length(chain, chain.target).slope(point.x), point.slopes
    held = active_bounds(problem_of(chain), slope, rows, point.x)
    return tuple(fit for fit, is_held in zip(chain.values, held.tolist(), strict=True) if is_held)


def _least_change(chain: Chain) -> Goal:
    n = len(chain.values)
    return Goal(np.eye(n), np.zeros(n))


def _nearest_length(chain: Chain, target: float) -> Goal:
    """The goal of a length as near to the target as possible, and of least change among equal lengths."""
    n = len(chain.values)
    missing = target - trace(chain.start, chain.steps).length
    return Goal(np.concatenate([length_slopes(chain)[None, :], STAY * np.eye(n)]), np.append(missing, np.zeros(n)))
