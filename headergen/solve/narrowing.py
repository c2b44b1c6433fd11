"""The limits that the job puts on values marked fit, besides the spec's own.

Straights must be long enough for flange and collector, and bends no larger than those in stock. A closing within these
limits gets no finding afterwards.
"""

from __future__ import annotations

import math
from dataclasses import replace

from headergen.checks.rules.straights import longest_required
from headergen.geometry.curves.stepped import tube_of_step
from headergen.geometry.plate.flange import run_from
from headergen.model import Bend, Draft, Fit, Run, Tube
from headergen.model.stock import SAME_RADIUS


def within_job(run: Run, draft: Draft) -> Run:
    """The run with each free straight kept as long as the checks require.

    A `max` of the spec is kept: if it is less than the checks require, the fit ends on it, and the checks report it.
    """
    fits = (
        replace(fit, low=min(max(fit.low, least_straight(run, draft, fit.step)), fit.high))
        if fit.what == "length"
        else fit
        for fit in run.fits
    )
    return replace(run, fits=tuple(fits))


def within_stock(run: Run, draft: Draft) -> Run:
    """The run with each free angle limited to the stock bends of its radius."""

    def cut(fit: Fit) -> Fit:
        step = run.steps[fit.step - 1]
        if fit.what != "angle" or not isinstance(step, Bend):
            return fit
        largest = largest_bend(draft, tube_of_step(run, fit.step), step.radius)
        return replace(fit, high=max(min(fit.high, largest), fit.low))

    return replace(run, fits=tuple(map(cut, run.fits)))


def least_straight(run: Run, draft: Draft, number: int) -> float:
    """The least length (mm) of step `number` (from 1), a straight: for shop, plate and transition, collector."""
    longest = longest_required(draft, run, number)
    least = 0.0 if longest is None else longest.least
    if number == 1 and run.is_primary and run.port.transition:
        least = max(least, run_from(draft, run))
    return least


def largest_bend(draft: Draft, tube: Tube, radius: float) -> float:
    """The largest angle (rad) of a bend of this tube and radius that can be cut from stock; π if there is no stock."""
    bends = [bend for _, bend in draft.stock.bends_of(tube, draft.tube)] if draft.stock is not None else []
    return max((bend.angle for bend in bends if abs(bend.radius - radius) <= SAME_RADIUS), default=math.pi)
