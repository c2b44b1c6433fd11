"""Where along a tube a gap is below the required one, certified by its slope.

The gap changes by at most one millimetre for each millimetre along the centreline, so two samples bound all between
them. Cells that are certainly clear or certainly near are settled; the others are bisected down to a length that no
bandsaw can tell.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import replace

import numpy as np

from headergen.geometry.arrays import Array, Mask
from headergen.geometry.curves.body import Body, distance_to_body, part_of, points_along
from headergen.model import Stretch

FIRST_CELL = 4.0  # mm
LAST_CELL = 0.02  # mm; the error of the ends of a stretch
PROFILE_STEP = 10.0  # mm between the places of a reported profile
END_REACH, END_PIECE = math.pi, 5.0  # in radii: how far from a flat end balls pass it; the piece that holds them
ZOOM, ZOOM_ROUNDS = 8, 4  # from 4 mm to 0.001 mm along the tube, round each minimum

Profile = Callable[[Array], Array]
Stretches = tuple[Stretch, ...]


def stretches_below(gap: Profile, span: tuple[float, float], limit: float) -> tuple[Stretch, ...]:
    """The stretches of a tube where `gap` (a 1-Lipschitz profile over length) is below `limit`, in travel order."""
    at = np.linspace(*span, max(2, int((span[1] - span[0]) / FIRST_CELL) + 2))
    value = gap(at)
    while True:
        cell = np.diff(at)
        middle = (value[1:] + value[:-1]) / 2
        unsettled = (middle - cell / 2 < limit) & (middle + cell / 2 >= limit) & (cell > LAST_CELL)
        if not unsettled.any():
            break
        between = (at[:-1] + cell / 2)[unsettled]
        order = np.argsort(np.r_[at, between], kind="stable")
        at, value = np.r_[at, between][order], np.r_[value, gap(between)][order]
    return _runs(gap, at, value, limit)


def profiled(gap: Profile, stretch: Stretch) -> Stretch:
    """The stretch with the gap at evenly spaced places from its start to its end, at most PROFILE_STEP apart."""
    at = np.linspace(stretch.start, stretch.end, max(2, math.ceil((stretch.end - stretch.start) / PROFILE_STEP) + 1))
    return replace(stretch, profile=tuple(zip(at.tolist(), gap(at).tolist(), strict=True)))


def _runs(gap: Profile, at: Array, value: Array, limit: float) -> tuple[Stretch, ...]:
    near = np.r_[False, value < limit, False]
    starts = np.flatnonzero(near[1:] & ~near[:-1])
    ends = np.flatnonzero(near[:-1] & ~near[1:]) - 1
    return tuple(
        Stretch(float(at[a]), float(at[b]), _least(gap, at[a : b + 1], value[a : b + 1])[1])
        for a, b in zip(starts, ends, strict=True)
    )


def least_along(gap: Profile, span: tuple[float, float]) -> tuple[float, float]:
    """The place of the least value of a profile within a span, and the value."""
    at = np.linspace(*span, max(2, int((span[1] - span[0]) / FIRST_CELL) + 2))
    return _least(gap, at, gap(at))


def _least(gap: Profile, at: Array, value: Array) -> tuple[float, float]:
    """The place and the value of the least gap. All sampled minima that may be the least are refined together."""
    place, best = float(at[value.argmin()]), float(value.min())
    padded = np.r_[np.inf, value, np.inf]
    dips = (value <= padded[:-2]) & (value < padded[2:]) & (value - FIRST_CELL / 2 < best)
    middle, reach = at[dips], np.full(int(dips.sum()), FIRST_CELL)
    for _ in range(ZOOM_ROUNDS):
        fine = np.clip(middle[:, None] + reach[:, None] * np.linspace(-1.0, 1.0, 2 * ZOOM + 1), at[0], at[-1])
        seen = gap(fine.ravel()).reshape(fine.shape)
        lowest = seen.argmin(axis=1)[:, None]
        middle, reach = np.take_along_axis(fine, lowest, axis=1)[:, 0], reach / ZOOM
        if seen.min() < best:
            place, best = float(fine.ravel()[seen.argmin()]), float(seen.min())
    return place, best


def profile_to_body(body: Body, other: Body) -> Profile:
    """The gap from places along one body to another: distance of the centreline point minus the radius."""
    return lambda at: distance_to_body(other, points_along(body, at))[0] - body.radius


def with_flat_ends(body: Body, gap: Profile, least: Callable[[Body], float]) -> Profile:
    """A profile measured by balls along the centreline, corrected near flat ends, where the balls pass the end.

    There it is at least the smallest gap of the piece at that end; `least` gives the smallest gap of any part of the
    body.
    """
    pieces = [(end, least(piece)) for end, piece in enumerate(end_pieces(body))]

    def cut(at: Array) -> Array:
        value = gap(at)
        for end, smallest in pieces:
            value = np.where(reaches_past(body, end, at), np.maximum(value, smallest), value)
        return np.asarray(value)

    return cut


def end_pieces(body: Body) -> list[Body]:
    """For each flat end of a body, the piece that contains all balls that pass the end."""
    low, _ = body.span
    reach = END_PIECE * body.radius
    places = [place for _, place in zip(body.ends, body.span, strict=False)]
    return [part_of(body, max(low, place - reach), place + reach) for place in places]


def reaches_past(body: Body, end: int, at: Array) -> Mask:
    """At which lengths (n,) along a body a ball of its radius passes one of its flat ends, 0 or 1."""
    middle, outward = body.ends[end]
    within = (middle - points_along(body, at)) @ outward
    return np.asarray((within < body.radius) & (np.abs(at - body.span[end]) < END_REACH * body.radius))


def held_to(gap: Profile, at: float, smallest: float) -> Profile:
    """A profile whose minimum is `smallest`, the measured smallest gap of the body, at the place `at`."""
    return lambda places: np.minimum(np.maximum(gap(places), smallest), smallest + np.abs(places - at))


def stretches_held(gap: Profile, span: tuple[float, float], limit: float, least: tuple[float, float]) -> Stretches:
    """stretches_below of a profile held to its smallest gap, `least`: the place and the value."""
    at, smallest = least
    return tuple(
        replace(each, smallest=smallest) if each.start - LAST_CELL <= at <= each.end + LAST_CELL else each
        for each in stretches_below(gap, span, limit)
    )


def least_of(profiles: list[Profile]) -> Profile:
    """The smallest of several profiles, place by place."""
    return lambda at: np.min([profile(at) for profile in profiles], axis=0)


def where_it_is(body: Body, profile: Profile) -> Profile:
    """A profile that is infinite beyond the ends of its body."""
    first, last = body.span
    return lambda at: np.where((at >= first - LAST_CELL) & (at <= last + LAST_CELL), profile(at), np.inf)


def joined(stretches: Iterable[Stretch]) -> list[Stretch]:
    """Stretches in travel order; those that were measured in two parts are one."""
    found: list[Stretch] = []
    for stretch in sorted(stretches, key=lambda s: s.start):
        if found and stretch.start - found[-1].end <= LAST_CELL:
            last = found.pop()
            stretch = Stretch(last.start, max(last.end, stretch.end), min(last.smallest, stretch.smallest))
        found.append(stretch)
    return found
