"""Shelf angles: a bend found within 0.3° of a shelf angle takes that angle, and the rest of the run is closed again.

Only the whole shelf angle keeps both legs, and nobody saws a third of a degree. Angles given in a spec stay as they
are.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from headergen.geometry.curves.stepped import tube_of_step
from headergen.model import Bend, Draft, Fit, Run, Step
from headergen.shop.shelf import shelf_of
from headergen.solve.arrival import chain_of, changed_steps, problem_of
from headergen.solve.least_change import Goal, least_from

NEARLY = math.radians(0.3)


def with_shelf_angles(run: Run, draft: Draft, target: float | None) -> Run:
    """A closed run with as many of its found angles on shelf angles as still let it close, the nearest first.

    `run.fits` are the limits it was closed within; its fits and its length stay as they are.
    """
    free = list(run.fits)
    for fit, angle in sorted(
        _nearly_whole(run, draft), key=lambda each: abs(each[1] - _bend(run.steps, each[0]).angle)
    ):
        rest = [each for each in free if each != fit]
        steps = list(run.steps)
        steps[fit.step - 1] = replace(_bend(run.steps, fit), angle=angle)
        chain = chain_of(replace(run, steps=tuple(steps)), rest, target)
        if not rest:
            continue
        n = len(chain.values)
        found = least_from(problem_of(chain), Goal(np.eye(n), np.zeros(n)), np.zeros(n))
        if found.is_solution:
            run, free = replace(run, steps=changed_steps(chain, found.x)), rest
    return run


def _nearly_whole(run: Run, draft: Draft) -> Iterator[tuple[Fit, float]]:
    """Fits of angles within 0.3° of a shelf angle in their limits, with that angle."""
    for fit in run.fits:
        step = run.steps[fit.step - 1]
        if fit.what != "angle" or not isinstance(step, Bend):
            continue
        shelf = shelf_of(draft.stock, tube_of_step(run, fit.step), draft.tube)
        angles = [bend.real_angle for _, bend in shelf.of_radius(step.radius)]
        off, nearest = min(((abs(angle - step.angle), angle) for angle in angles), default=(math.inf, 0.0))
        if off <= NEARLY and fit.low <= nearest <= fit.high:
            yield fit, nearest


def _bend(steps: tuple[Step, ...], fit: Fit) -> Bend:
    step = steps[fit.step - 1]
    assert isinstance(step, Bend)
    return step
