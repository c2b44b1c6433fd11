"""How much one value of a tube's path, or a swing of the whole path, must change to make a gap large enough."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import chain

import numpy as np

from headergen.checks.again import gap_key
from headergen.checks.measure import Meshes, gaps_of_run
from headergen.geometry.frames import scaled
from headergen.model import Gap, Header, Run, falls_short
from headergen.model.suggestion import ChangeKind
from headergen.solve.closing import closes_at_once
from headergen.solve.hints.attempt import PAIR, Allowance, Attempt, Change, Failed, OutOfTime, arrived, judged
from headergen.solve.hints.half_spaces import SPARE
from headergen.solve.hints.primaries import seen_from, with_primary
from headergen.solve.hints.trial import Known, closed_again
from headergen.solve.hints.values import MOST_CHANGE, PathChange, changed, ways_of
from headergen.solve.hints.written import new_values, say_swing, say_value
from headergen.words.numbers import INCH, with_unit
from headergen.words.say import say_length

TRIES = 4  # of an amount
FINE, COARSE, LARGE = 0.1, 0.5, 2.0  # mm or degrees to which amounts are rounded: finely, and coarsely from LARGE on
GAINED = 0.25  # of the gain predicted by the gradient, below which a change is dropped
UNASKED = -1e9  # mm required, so that only the smallest gap is searched for


def value_attempts(gap: Gap, known: Known, allowance: Allowance) -> tuple[Iterator[Attempt], Iterator[Attempt]]:
    """Changes of the runs of a gap, the smallest first: the most promising of each kind, then the next of each."""
    ways, hopeless = list[PathChange](), list[Attempt]()
    for place in gap.places:
        why = why_held(gap, place.run, known)
        found = [] if why else _ways(gap, place.run, known)
        if not found:
            most = with_unit(MOST_CHANGE, known.header.draft.units, 0)
            why = why or f"no value of {place.run} widens it by a change of less than {most} or {MOST_CHANGE:g}°"
            hopeless.append(Failed(why))
        ways += found
    ranked: dict[str, list[PathChange]] = {}
    for way in sorted(ways, key=lambda each: each.size):
        ranked.setdefault(way.kind, []).append(way)
    rounds = ([each[k] for each in ranked.values() if len(each) > k] for k in (0, 1))
    first, second = ((_attempt(way, gap, known, allowance) for way in ways) for ways in rounds)
    return chain(hopeless, first), second


def why_held(gap: Gap, name: str, known: Known) -> str:
    """Why no other path is searched for to widen a run's gap; empty if one is."""
    if known.header.run(name).locked:
        return f"{name} is locked"
    if not arrived(known.header, {name}):
        return f"{name} does not reach its bore yet"
    if gap.runs_through:
        return f"{name} runs through {seen_from(gap, name).b}: which way leads out is not known"
    return ""


def _ways(gap: Gap, name: str, known: Known) -> list[PathChange]:
    others = [seen_from(each, name) for each in known.survey.gaps if _is_beside(each, name, gap)]
    return ways_of(known.header.run(name), known.header.draft, seen_from(gap, name), others)


def gap_between(header: Header, meshes: Meshes, gap: Gap) -> Gap | None:
    """A gap of runs in a header, measured alone; None if it is not measured there."""
    names = {place.run for place in gap.places}
    draft = replace(
        header.draft,
        chassis=tuple(replace(i, clearance=UNASKED) for i in header.draft.chassis if i.name == gap.b),
        limits=header.draft.limits if gap.together else replace(header.draft.limits, between_tubes=UNASKED),
    )
    found = gaps_of_run(replace(header.with_runs(names), draft=draft), meshes, gap.a)
    return next((each for each in found if gap_key(each) == gap_key(gap)), None)


def lacks(now: Gap, gap: Gap) -> float:
    """By how much (mm) a gap, measured after a change, is too small; where tubes converge, for its place then."""
    return (now.required if gap.together else gap.required) - now.value


def _is_beside(other: Gap, name: str, gap: Gap) -> bool:
    return gap_key(other) != gap_key(gap) and name in [place.run for place in other.places] and not other.together


def _attempt(way: PathChange, gap: Gap, known: Known, allowance: Allowance) -> Attempt:
    """The change by the amount needed, applied as a whole."""
    unit, last = reading_unit(known.header.draft.units, way.kind), ""
    amount = outward(way.amount, unit)
    for _ in range(TRIES):
        if not allowance.takes(PAIR):
            return OutOfTime()
        now = changed(way, amount, known.header.draft)
        if now is None or (now.fits and not closes_at_once(now, known.header.draft)):
            return Failed(last or f"{_name(way)}: it then does not close")
        change = _change(way, now, amount, known)
        header = closed_again(change.draft, known, {way.run.name})
        found = gap_between(header, known.meshes, gap) if arrived(header, {way.run.name}) else None
        if found is None:
            return Failed(last or f"{change.what}: it then does not close")
        missing = lacks(found, gap)
        if not falls_short(-missing, 0.0, gap.together):
            return judged(change, gap, known, allowance)
        last = f"{change.what}: gap {say_length(found.value, known.header.draft.units)}"
        rate = (lacks(gap, gap) - missing) / amount
        if rate / way.rate < GAINED:
            break
        amount = outward(amount + (missing + SPARE) / rate, unit)
        if abs(amount) * float(np.abs(way.follow).max()) > MOST_CHANGE:
            break
    return Failed(last)


def _change(way: PathChange, now: Run, amount: float, known: Known) -> Change:
    draft = known.header.draft
    was = next(run for run in draft.runs if run.name == way.run.name)
    values = tuple(new_values(way.run, was, now))
    if way.swung is not None:
        what = say_swing(way.run, scaled(way.swung.way, amount), draft.units)
    else:
        assert way.value is not None
        mine = way.value.step, way.value.what
        what = say_value(way.run, next(each for each in values if (each.step, each.what) == mine), draft.units)
    return Change(with_primary(draft, now), way.kind, what, values, runs=frozenset({was.name}))


def outward(amount: float, unit: float = 1.0) -> float:
    """Rounded away from zero to a legible multiple of `unit` (mm or degrees), so that the printed amount is enough."""
    grid = (COARSE if abs(amount) >= LARGE * unit else FINE) * unit
    return math.copysign(math.ceil(abs(amount) / grid - 1e-9) * grid, amount)


def reading_unit(units: str, kind: ChangeKind = "length") -> float:
    """The step to which amounts are rounded: a millimetre or a degree, or 0.04 in."""
    return 0.04 * INCH if units == "in" and kind not in ("angle", "rotation") else 1.0


def _name(way: PathChange) -> str:
    if way.value is None:
        return f"swinging {way.run.name}"
    return f"the {way.value.what} of step {way.value.step} of {way.run.name}"
