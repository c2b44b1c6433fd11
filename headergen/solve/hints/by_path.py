"""A gap made large enough by the least change of a whole path that brings the tube too near to nothing else."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from headergen.model import Gap
from headergen.solve.hints.attempt import Allowance, Attempt, Change, Failed, OutOfTime, judged
from headergen.solve.hints.by_values import why_held
from headergen.solve.hints.primaries import led_aside, seen_from, shift_at, with_primary
from headergen.solve.hints.trial import Known
from headergen.solve.hints.written import new_values, say_path, with_steps


def of_path(gap: Gap, known: Known, allowance: Allowance) -> Iterator[Attempt]:
    """Each run of a gap led past the thing it is too near to there."""
    for place in gap.places:
        if why_held(gap, place.run, known):
            continue
        yield _led(seen_from(gap, place.run), gap, known, allowance)


def _led(seen: Gap, gap: Gap, known: Known, allowance: Allowance) -> Attempt:
    draft, run = known.header.draft, known.header.run(seen.a)
    led = led_aside(replace(known, left=allowance.measures()), run, [seen]).primary
    if led is None and allowance.left < allowance.run:
        return OutOfTime()
    if led is None:
        return Failed(f"no small change of all values of {run.name} leads it past {seen.b} and clear of all else")
    now = with_steps(led, led.steps, draft.units)
    was = next(each for each in draft.runs if each.name == run.name)
    what = say_path(run, seen.b, shift_at(run, now, seen.place), draft.units)
    values = tuple(new_values(run, was, now))
    return judged(
        Change(with_primary(draft, now), "path", what, values, runs=frozenset({run.name})), gap, known, allowance
    )
