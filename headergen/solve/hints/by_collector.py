"""Gaps made large enough by moving a collector: along an axis of the engine for a tube, or as its own parts need.

Its tubes are always closed on it again.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from headergen.checks.moves import way_off
from headergen.geometry.arrays import Array
from headergen.geometry.curves.run import line_of
from headergen.geometry.frames import axes_matrix, norm, scaled, subtract
from headergen.model import Draft, Gap, Vec, falls_short
from headergen.solve.arrival import chain_of, equations, place_moves
from headergen.solve.closing import closes_at_once
from headergen.solve.freeing import every_value
from headergen.solve.hints.attempt import PAIR, SHIFT, Allowance, Attempt, Change, Failed, OutOfTime, arrived, judged
from headergen.solve.hints.by_values import gap_between, lacks, outward, reading_unit
from headergen.solve.hints.collectors import WAYS, collector_of, led_there, surroundings_of, ways_clear
from headergen.solve.hints.half_spaces import SPARE
from headergen.solve.hints.movable import settings_of
from headergen.solve.hints.primaries import seen_from, share_at
from headergen.solve.hints.trial import Known, closed_again
from headergen.solve.hints.values import LEAST_RATE
from headergen.solve.hints.written import as_written, new_place, new_values, say_collector, with_steps
from headergen.words.numbers import with_unit
from headergen.words.say import say_length

FARTHEST = 60.0  # mm that a collector is moved for a tube
TRIES = 3  # of an amount
A_LITTLE = 0.05  # mm added to a shift that clears, against rounding


def of_run(gap: Gap, known: Known, allowance: Allowance) -> Iterator[Attempt]:
    """The collector of a tube moved along the axis that widens the tube's gap most."""
    for place in gap.places:
        name = known.header.run(place.run).end.collector
        if gap.runs_through or not _may_move(known, name):
            continue
        found = _best_axis(seen_from(gap, place.run), place.run, known)
        if found is None:
            farthest = with_unit(FARTHEST, known.header.draft.units, 0)
            yield Failed(f"no shift of collector {name} along an axis by less than {farthest} widens it")
        else:
            yield _along(name, found, gap, known, allowance)


def of_part(gap: Gap, known: Known, allowance: Allowance) -> Iterator[Attempt]:
    """A part of a collector moved clear of an item, together with its collector."""
    name = collector_of(known.header, gap.a)
    chassis = {item.name for item in known.header.draft.chassis}
    if name is None or gap.b not in chassis or not _may_move(known, name):
        if not any(settings_of(known.header, gap.a)):
            yield Failed(f"{gap.a} stands where it is mounted")
        return
    if not allowance.takes(SHIFT):
        yield OutOfTime()
        return
    said = set[str]()
    for way in ways_clear(surroundings_of(known.header, known.meshes, name), [(gap.a, gap.b)]):
        shift = scaled(way.shift, (norm(way.shift) + A_LITTLE) / norm(way.shift))
        change = _moved(name, shift, known)
        if change is not None and change.what in said:  # straight off may be along an axis
            continue
        said |= set() if change is None else {change.what}
        if change is None:
            yield Failed(f"not all tubes of collector {name} can follow it at their lengths")
        elif way.blocked:
            yield Failed(f"{change.what}: it is then too near to {way.blocked}")
        else:
            yield judged(change, gap, known, allowance)


def _may_move(known: Known, name: str) -> bool:
    """Whether a collector has no secondary and is no place of a run, and its tubes reach it and may be changed."""
    runs = known.header.runs
    tied = {each for run in runs if not run.is_primary or run.end.ends_run for each in (run.source, run.end.collector)}
    arriving = [run for run in runs if run.end.collector == name]
    return (
        name not in tied
        and not any(run.locked for run in arriving)
        and arrived(known.header, {run.name for run in arriving})
    )


def _best_axis(gap: Gap, name: str, known: Known) -> tuple[Vec, float] | None:
    """The axis along which a shift of its bore widens a run's gap most, and the shift needed to first order."""
    header, way = known.header, way_off(gap.points, gap.value)
    if way is None:
        return None
    run = header.run(name)
    line, values = line_of(run), every_value(run, header.draft)
    chain = chain_of(run, values, line.length)
    _, slopes = equations(chain, np.zeros(len(values)))
    grows = place_moves(line, chain.values, share_at(run, gap.place)) @ np.array(way)
    aim: Array = np.zeros((len(slopes), 3))
    aim[:3] = axes_matrix(run.end.frame)  # where the bore moves, in its own axes
    rates = grows @ np.linalg.pinv(slopes) @ aim
    best = max(WAYS, key=lambda axis: float(rates @ np.array(axis)))
    rate = float(rates @ np.array(best))
    needed = (gap.required - gap.value + SPARE) / rate if rate > LEAST_RATE else FARTHEST
    return (best, needed) if needed < FARTHEST else None


def _along(name: str, way: tuple[Vec, float], gap: Gap, known: Known, allowance: Allowance) -> Attempt:
    """The shift along an axis that is needed, applied as a whole."""
    axis, unit, last = way[0], reading_unit(known.header.draft.units), ""
    amount = outward(way[1], unit)
    arriving = {run.name for run in known.header.runs if run.end.collector == name}
    for _ in range(TRIES):
        if not allowance.takes(PAIR * (1 + len(arriving))):
            return OutOfTime()
        change = _moved(name, scaled(axis, amount), known)
        if change is None:
            return Failed(last or f"not all tubes of collector {name} can follow it at their lengths")
        header = closed_again(change.draft, known, arriving)
        found = gap_between(header, known.meshes, gap) if arrived(header, arriving) else None
        if found is None:
            return Failed(last or f"{change.what}: they then do not close")
        missing = lacks(found, gap)
        if not falls_short(-missing, 0.0, gap.together):
            return judged(change, gap, known, allowance)
        last = f"{change.what}: gap {say_length(found.value, known.header.draft.units)}"
        rate = (lacks(gap, gap) - missing) / amount
        if rate < LEAST_RATE:
            break
        amount = outward(amount + (missing + SPARE) / rate, unit)
        if amount > FARTHEST:
            break
    return Failed(last)


def _moved(name: str, shift: Vec, known: Known) -> Change | None:
    """A collector shifted, rounded to the digits of its place in a file, with its tubes brought along."""
    draft = known.header.draft
    was = next(each for each in draft.collectors if each.name == name)
    x, y, z = (as_written("length", at + by, draft.units) for at, by in zip(was.frame.origin, shift, strict=True))
    led = led_there(known.header, name, subtract((x, y, z), was.frame.origin))
    if led is None or not all(closes_at_once(run, led) for run in led.runs if run.fits and run.end.collector == name):
        return None
    led = _written(led, name, draft)
    now = next(each for each in led.collectors if each.name == name)
    values = [
        value
        for settled, old, new in zip(known.header.runs, draft.runs, led.runs, strict=True)
        if new.end.collector == name
        for value in new_values(settled, old, new)
    ]
    place = new_place(was, now)
    return Change(led, "collector", say_collector(place, draft.units), tuple(values), (place,))


def _written(draft: Draft, name: str, before: Draft) -> Draft:
    """Tubes that were brought along, with the digits of a file; those with values marked fit close on their own."""
    runs = (
        with_steps(now, now.steps, draft.units) if now.end.collector == name and not was.fits else now
        for was, now in zip(before.runs, draft.runs, strict=True)
    )
    return replace(draft, runs=tuple(runs))
