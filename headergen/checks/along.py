"""The gap all along each run, to the chassis and to the other runs, as exact as the smallest gaps of the Survey."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from headergen.checks.measure import (
    Meshes,
    Pair,
    chassis_pairs,
    nearest_of_item,
    round_ended,
    surfaces_of,
    with_depths,
)
from headergen.checks.tube_gaps import TubePair, tube_pairs
from headergen.geometry.arrays import Array
from headergen.geometry.curves.body import Body
from headergen.geometry.curves.run import run_bodies
from headergen.geometry.distance.cones import exact_groups
from headergen.geometry.distance.cut_ends import off_cuts
from headergen.geometry.distance.distance_bodies import bodies_to_bodies
from headergen.geometry.distance.profile import Profile, end_pieces, held_to, profile_to_body, reaches_past
from headergen.model import Gap, Header
from headergen.model.evidence import GapAlong

STEP = 5.0  # mm between places; those of the smallest gaps are added
REACH = 50.0  # mm; larger gaps are all reported as this


@dataclass(frozen=True, eq=False)
class _Near:
    """A body, one thing near it, and the gap between them, as it is and as required, at each place `at` along it.

    `rounds`: the round bodies of the thing; if empty, it is the item of `pair`. `least`: the place and the value of the
    smallest gap, as measured.
    """

    run: str
    to_tubes: bool
    name: str
    required: Array
    body: Body
    at: Array
    gap: Array
    least: tuple[float, float]
    rounds: tuple[Body, ...] = ()
    pair: Pair | None = None


def gaps_along(header: Header, meshes: Meshes, gaps: Sequence[Gap]) -> tuple[GapAlong, ...]:
    """For each run, the gap to the chassis and the gap to the other runs; `gaps` are those of the Survey."""
    places = {run.name: _places(run.name, line.length, gaps) for run, line in header.tubes}
    found = [*_to_chassis(header, meshes, gaps, places), *_to_tubes(header, places)]
    held = [_held(each) for each in _with_flat_ends([each for each in found if each.gap.min() < REACH])]
    return tuple(
        _tightest((run, to_tubes), at, [each for each in held if (each.run, each.to_tubes) == (run, to_tubes)])
        for run, at in places.items()
        for to_tubes in (False, True)
    )


def _places(run: str, length: float, gaps: Iterable[Gap]) -> Array:
    even = np.linspace(0.0, length, math.ceil(length / STEP) + 1)
    least = [place.at for gap in gaps for place in gap.places if place.run == run]
    return np.unique(np.clip(np.r_[even, least], 0.0, length))


def _to_chassis(header: Header, meshes: Meshes, gaps: Iterable[Gap], places: dict[str, Array]) -> Iterator[_Near]:
    known = {(gap.a, gap.b): gap for gap in gaps if not gap.is_between_runs}
    for pair in chassis_pairs(header, surfaces_of(header, meshes)):
        run, item, body = pair.centreline.run, pair.item, pair.body
        gap, at = known[run, item.name], _of_body(places[run], body)
        if gap.value < REACH:
            balls, least = round_ended(pair, REACH)(at), (gap.place.at, gap.value)
            required = np.full(len(at), item.clearance)
            yield _Near(run, False, item.name, required, body, at, balls, least, pair.rounds, pair)


def _to_tubes(header: Header, places: dict[str, Array]) -> Iterator[_Near]:
    """For every two parts that are measured against each other, the gap along each of them."""
    pairs = list(tube_pairs(header))
    wholes = {run.name: run_bodies(run, line) for run, line in header.tubes}
    for pair, nearest in zip(pairs, exact_groups([pair.parts for pair in pairs]), strict=True):
        one, two = (line.run for line in pair.lines)
        for (a, b), each in zip(pair.parts, nearest, strict=True):
            found, at_b = off_cuts((a, b), (wholes[one], wholes[two]), each)
            sides = ((one, two, a, b, found.at), (two, one, b, a, at_b))
            for (run, other, body, against, place), length in zip(sides, pair.lengths, strict=True):
                if found.value < REACH:
                    at = _of_body(places[run], body)
                    required = _required(pair, header.draft.limits.between_tubes, length - at)
                    balls = profile_to_body(body, against)(at)
                    yield _Near(run, True, other, required, body, at, balls, (place, found.value), (against,))


def _required(pair: TubePair, full: float, before: Array) -> Array:
    """The gap (n,) required between two tubes at lengths before the collector."""
    return np.full(len(before), full) if pair.ramp is None else pair.ramp.required(before)


def _of_body(places: Array, body: Body) -> Array:
    """The places that lie on the body, and its ends."""
    low, high = body.span
    return np.unique(np.r_[low, places[(places > low) & (places < high)], high])


def _with_flat_ends(near: Sequence[_Near]) -> list[_Near]:
    """Corrects gaps where balls pass the flat ends; all round bodies are measured in one search."""
    values = [each.gap for each in near]
    ends = [
        (k, end, piece, past)
        for k, each in enumerate(near)
        for end, piece in enumerate(end_pieces(each.body))
        if (past := reaches_past(each.body, end, each.at) & (each.gap < REACH)).any()
    ]
    pairs = [(piece, other) for k, _, piece, _ in ends for other in near[k].rounds]
    nearest = iter(bodies_to_bodies(pairs))
    for k, _, piece, past in ends:
        pair = near[k].pair
        if near[k].rounds:
            smallest = min([next(nearest)[0].value for _ in near[k].rounds])
        else:
            assert pair is not None
            smallest = nearest_of_item(pair, piece).value
        values[k] = np.where(past, np.maximum(values[k], smallest), values[k])
    return [replace(each, gap=value) for each, value in zip(near, values, strict=True)]


def _held(near: _Near) -> _Near:
    """Made negative where the centreline is beyond a closed surface; its minimum is held to the measured one."""

    profile: Profile = lambda at: near.gap  # noqa: E731
    pair = near.pair
    surface = None if pair is None or pair.item.role == "surface" else pair.surface
    crosses = near.least[1] < 0.0  # without a negative gap it is nowhere beyond
    if pair is not None and surface is not None and surface.closed and crosses:
        profile = with_depths(pair, surface, profile)
    low, high = near.body.span
    if low <= near.least[0] <= high:  # of a stepped run, the part that has the smallest gap
        profile = held_to(profile, *near.least)
    return replace(near, gap=np.minimum(profile(near.at), REACH))


def _tightest(key: tuple[str, bool], at: Array, others: Sequence[_Near]) -> GapAlong:
    """For each place the gap with the smallest margin; of equal ones the first."""
    values = np.array([_on(at, each) for each in others] or [np.full(len(at), REACH)])
    required = np.array([np.interp(at, each.at, each.required) for each in others] or [np.zeros(len(at))])
    spare = np.where(values < REACH, values - required, np.inf)
    best, column = spare.argmin(axis=0), np.arange(len(at))
    is_near = np.isfinite(spare[best, column])
    return GapAlong(
        run=key[0],
        to_tubes=key[1],
        reach=REACH,
        at=tuple(at.tolist()),
        gap=tuple(np.where(is_near, values[best, column], REACH).tolist()),
        required=tuple(np.where(is_near, required[best, column], 0.0).tolist()),
        against=tuple(others[k].name if near else "" for k, near in zip(best, is_near, strict=True)),
        least=tuple(values.min(axis=0).tolist()),
    )


def _on(at: Array, near: _Near) -> Array:
    """The gap at places of the whole run; off the body nothing is measured, and it reads REACH."""
    low, high = near.body.span
    value = np.interp(at, near.at, near.gap)  # its own places, except for rounding
    return np.where((at >= low - 1e-9) & (at <= high + 1e-9), value, REACH)
