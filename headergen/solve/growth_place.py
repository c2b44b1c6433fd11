"""The place of a step to a larger tube, moved between two lengths along the straight that it stands in.

The straights before and after the step lie in one line with it. If both are marked fit, one grows by what the other
shrinks, and the path stays where it is.
"""

from __future__ import annotations

from dataclasses import replace

from headergen.geometry.curves.stepped import growth_places
from headergen.model import Draft, Fit, Run, Straight
from headergen.solve.narrowing import within_job


def with_growths_in_place(run: Run, draft: Draft) -> Run:
    """The closed run with each step to a larger tube moved to within its lengths, as far as the straights allow."""
    if not run.fits or not any(_required(run, place.step) for place in growth_places(run)):
        return run
    fits = {fit.step: fit for fit in within_job(run, draft).fits if fit.what == "length"}
    for number in [place.step for place in growth_places(run)]:
        run = _moved(run, number, fits)
    return run


def _required(run: Run, number: int) -> tuple[float, float] | None:
    step = run.steps[number - 1]
    return step.growth.at if isinstance(step, Straight) and step.growth is not None else None


def _moved(run: Run, number: int, fits: dict[int, Fit]) -> Run:
    required = _required(run, number)
    if required is None or number - 1 not in fits or number + 1 not in fits:
        return run
    place = next(each for each in growth_places(run) if each.step == number)
    before, after = run.steps[number - 2], run.steps[number]
    assert isinstance(before, Straight) and isinstance(after, Straight)
    one, other = fits[number - 1], fits[number + 1]
    change = min(max(place.bore_grows, required[0]), required[1]) - place.bore_grows
    least = max(one.low - before.length, after.length - other.high)
    most = min(one.high - before.length, after.length - other.low)
    by = min(max(change, least), most) if least <= most else 0.0
    steps = list(run.steps)
    steps[number - 2] = replace(before, length=before.length + by)
    steps[number] = replace(after, length=after.length - by)
    return replace(run, steps=tuple(steps))
