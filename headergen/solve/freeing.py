"""Which values of a run should be freed so that it closes: a short trial, not a search.

Values are picked one after another by how much of the remaining miss they can remove, to first order. A pick counts
only if the run then really comes within the draft's limits. Picks that turn out unnecessary are dropped.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from headergen.checks.rules.parallel import off_line
from headergen.geometry.arrays import Array
from headergen.geometry.curves.run import line_of
from headergen.geometry.curves.stepped import tube_of_step
from headergen.model import Bend, Draft, Fit, Run
from headergen.model.lengths import required_length
from headergen.solve.arrival import DEGREE, chain_of, changed_steps, equations, problem_of
from headergen.solve.least_change import ON_BOUND, solve_equations
from headergen.solve.miss import keeps_limits, measure_miss
from headergen.solve.narrowing import largest_bend, least_straight
from headergen.solve.quadratic import DEPENDENT

LENGTH_REACH = 200.0  # mm by which a freed length may change
ANGLE_REACH = 60 * DEGREE  # the same for an angle or a rotation
SMALLEST_BEND = 1 * DEGREE
MOST_FREED = 6  # as many as there are equations
WORTH_TRYING = 0.3  # largest share of the miss that may remain after a pick, to first order, for the pick to be tried
TRIES = 3  # picks tried in one round


def values_to_free(run: Run, draft: Draft) -> tuple[Fit, ...]:
    """A few values that, freed besides the fits of a run, bring it within the limits of its draft.

    Starts from the steps as they are; returns () if none are found.
    """
    taken = {(fit.step, fit.what) for fit in run.fits}
    every = every_value(run, draft)
    spare = [fit for fit in every if (fit.step, fit.what) not in taken]
    chosen: list[Fit] = []
    while len(chosen) < min(len(spare), MOST_FREED) and not _is_out_of_reach(run, draft):
        ranked = _ranked(run, chosen, spare, draft)
        for left, fit in ranked[:TRIES]:
            if left <= WORTH_TRYING and _closes(run, [*chosen, fit], draft):
                return _without_needless(run, [*chosen, fit], draft)
        chosen.append(ranked[0][1])
    return ()


def _is_out_of_reach(run: Run, draft: Draft) -> bool:
    """Whether the target is shorter than the straight line from port to bore."""
    target, reach = required_length(run, draft), math.dist(run.start.frame.origin, run.end.frame.origin)
    return target is not None and target + draft.length.tolerance < reach - draft.limits.end_position


def every_value(run: Run, draft: Draft) -> list[Fit]:
    """All values of a path in travel order, each free within its reach and the limits of the checks."""
    values: list[Fit] = []
    for number, step in enumerate(run.steps, 1):
        if isinstance(step, Bend):
            values.append(Fit(number, "rotation", step.rotation - ANGLE_REACH, step.rotation + ANGLE_REACH))
            most = min(step.angle + ANGLE_REACH, largest_bend(draft, tube_of_step(run, number), step.radius))
            low, high = max(step.angle - ANGLE_REACH, SMALLEST_BEND), most
            values.append(Fit(number, "angle", min(low, step.angle), max(high, step.angle)))
        elif step.growth is None:
            low = max(step.length - LENGTH_REACH, least_straight(run, draft, number))
            values.append(Fit(number, "length", low, max(step.length, low) + LENGTH_REACH))
    return values


def _ranked(run: Run, chosen: Sequence[Fit], spare: Sequence[Fit], draft: Draft) -> list[tuple[float, Fit]]:
    """The values not chosen yet, with the share of the miss that each leaves, to first order; the most useful first.

    Of equal ones, the one that changes least comes first. Values on a limit count as fixed, and a length within
    tolerance counts as right.
    """
    off = abs(measure_miss(run, draft).length_off) > draft.length.tolerance
    target = required_length(run, draft) if off else None
    now = chain_of(run, (*run.fits, *chosen), target)
    problem = problem_of(now)
    can_move = (problem.low < -ON_BOUND) & (problem.high > ON_BOUND)
    kept = [fit for fit, moves in zip(now.values, can_move.tolist(), strict=True) if moves]
    ranked = []
    for place, fit in enumerate(spare):
        if fit in chosen:
            continue
        miss, slopes = equations(chain_of(run, (*kept, fit), target), np.zeros(len(kept) + 1))
        change = np.linalg.lstsq(slopes, -miss, rcond=DEPENDENT)[0]
        left = float(np.linalg.norm(miss + slopes @ change)) / max(float(np.linalg.norm(miss)), 1e-300)
        ranked.append((round(left, 6), float(np.linalg.norm(change)), place))
    return [(left, spare[place]) for left, _, place in sorted(ranked)]


def _closes(run: Run, chosen: Sequence[Fit], draft: Draft) -> bool:
    """Whether the limits are kept once these values are free, at any length within tolerance or at the target."""
    required = required_length(run, draft)
    for target in (None, required) if required is not None else (None,):
        chain = chain_of(run, (*run.fits, *chosen), target)
        start: Array = np.zeros(len(chain.values))
        best = replace(run, steps=changed_steps(chain, solve_equations(problem_of(chain), start).x))
        if keeps_limits(measure_miss(best, draft), draft) and _no_parallel_lost(run, best, draft):
            return True
    return False


def _no_parallel_lost(before: Run, after: Run, draft: Draft) -> bool:
    """Whether every straight that was parallel to its line still is."""
    lines, (was, now) = {line.name: line for line in draft.lines}, (line_of(each) for each in (before, after))
    return all(
        off_line(now, each, lines[each.line]) <= max(each.angle, off_line(was, each, lines[each.line]))
        for each in before.parallels
    )


def _without_needless(run: Run, chosen: Sequence[Fit], draft: Draft) -> tuple[Fit, ...]:
    kept = list(chosen)
    for fit in chosen:
        fewer = [each for each in kept if each is not fit]
        if fewer and _closes(run, fewer, draft):
            kept = fewer
    return chain_of(run, kept, None).values
