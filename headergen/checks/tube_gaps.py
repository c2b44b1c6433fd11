"""The gaps of tubes to each other: where they run free, beside a joint, and where they come together at a collector."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import combinations, product

import numpy as np

from headergen.geometry.curves.body import Body
from headergen.geometry.curves.centreline import place_at
from headergen.geometry.curves.run import run_bodies
from headergen.geometry.curves.sides import Span, measured_spans
from headergen.geometry.distance.cones import NearestGap, exact_groups
from headergen.geometry.distance.cut_ends import off_cuts
from headergen.geometry.distance.distance_bodies import body_to_body
from headergen.geometry.distance.distance_triangles import Nearest
from headergen.geometry.distance.profile import (
    Profile,
    held_to,
    joined,
    least_along,
    least_of,
    profile_to_body,
    profiled,
    stretches_held,
    where_it_is,
    with_flat_ends,
)
from headergen.geometry.distance.ramp import Ramp, ramp_of, stretches_on_ramp, tightest_on_ramp
from headergen.geometry.frames import vec
from headergen.model import Centreline, Gap, Header, Run, Stretch

BOUNDARY = 1e-3  # mm along the tube within which a smallest gap counts as being on a boundary
TIE = 1e-9  # mm; of gaps equal within this the first is reported
TOUCHING = 1e-6  # mm by which rounding may reduce the centreline distance of tubes that just touch


@dataclass(frozen=True, eq=False)
class TubePair:
    """Two runs, and the parts of both that are measured against each other. `split`: where the free parts end.

    `ramp`: of parts that come together at a collector, the gap required of them.
    """

    lines: tuple[Centreline, Centreline]
    parts: tuple[tuple[Body, Body], ...]
    split: tuple[float, float] | None = None
    ramp: Ramp | None = None

    @property
    def lengths(self) -> tuple[float, float]:
        return self.lines[0].length, self.lines[1].length


def tube_gaps(header: Header, only: str | None = None) -> Iterator[Gap]:
    """For each pair: the smallest gap that counts, then the gap where both converge on a common collector."""
    pairs = [pair for pair in tube_pairs(header) if only is None or only in (line.run for line in pair.lines)]
    wholes = {run.name: run_bodies(run, line) for run, line in header.tubes}
    for pair, nearest in zip(pairs, exact_groups([pair.parts for pair in pairs]), strict=True):
        both = wholes[pair.lines[0].run], wholes[pair.lines[1].run]
        found = [off_cuts(part, both, each) for part, each in zip(pair.parts, nearest, strict=True)]
        yield _pair_gap(header, pair, found) if pair.ramp is None else _gap_on_ramp(pair, pair.ramp, found)


def tube_pairs(header: Header) -> Iterator[TubePair]:
    together, on_sides = header.draft.limits.together, measured_spans(header.tubes, header.draft.limits.between_tubes)
    for (run_a, a), (run_b, b) in combinations(header.tubes, 2):
        runs = run_a, run_b
        if {(a.run, b.run), (b.run, a.run)} & on_sides.keys():
            yield from _beside_joint((a, b), runs, on_sides)
            continue
        if run_a.end.collector != run_b.end.collector or together <= 0:
            yield TubePair((a, b), _parts((a, b), runs, [((0.0, a.length), (0.0, b.length))]))
            continue
        split_a, split_b = max(a.length - together, 0.0), max(b.length - together, 0.0)
        free = [((0.0, split_a), (0.0, b.length)), ((split_a, a.length), (0.0, split_b))]
        if max(split_a, split_b) > 0.0:
            yield TubePair((a, b), _parts((a, b), runs, free), (split_a, split_b))
        closing = _parts((a, b), runs, [((split_a, a.length), (split_b, b.length))])
        yield TubePair((a, b), closing, ramp=ramp_of(header.draft, run_a, run_b))


def _beside_joint(
    lines: tuple[Centreline, Centreline], runs: tuple[Run, Run], on_sides: Mapping[tuple[str, str], Span]
) -> Iterator[TubePair]:
    """A run and one on its side, without the length near their joint; nothing where that is all of it."""
    spans = tuple(on_sides.get((one.run, other.run), (0.0, one.length)) for one, other in (lines, lines[::-1]))
    parts = _parts(lines, runs, [(spans[0], spans[1])])
    if parts:
        edges = [high if low == 0.0 else low for low, high in spans]
        yield TubePair(lines, parts, (edges[0], edges[1]))


Spans = list[tuple[tuple[float, float], tuple[float, float]]]


def _parts(lines: tuple[Centreline, Centreline], runs: tuple[Run, Run], spans: Spans) -> tuple[tuple[Body, Body], ...]:
    return tuple(
        both
        for span_a, span_b in spans
        if span_a[1] - span_a[0] > 0 and span_b[1] - span_b[0] > 0
        for both in product(run_bodies(runs[0], lines[0], *span_a), run_bodies(runs[1], lines[1], *span_b))
    )


def _pair_gap(header: Header, pair: TubePair, nearest: list[NearestGap]) -> Gap:
    """The smallest gap of two tubes over the given parts of both, seen from the first tube."""
    required = header.draft.limits.between_tubes
    best = _smallest(nearest)
    gap = _gap_of(pair, nearest[best], required)
    on_boundary = pair.split is not None and any(
        abs(place.at - edge) < BOUNDARY for place, edge in zip(gap.places, pair.split, strict=True)
    )
    near = _near_stretches(pair.parts, nearest, required) if gap.value < required else ()
    return replace(gap, near=near, on_boundary=on_boundary, runs_through=_runs_through(pair.parts[best][0], gap))


def _gap_on_ramp(pair: TubePair, ramp: Ramp, nearest: list[NearestGap]) -> Gap:
    """The gap with the least to spare where two tubes come together; a crossing is told as deep as it is."""
    best = _smallest(nearest)
    before = max(length - at for length, at in zip(pair.lengths, (nearest[best][0].at, nearest[best][1]), strict=True))
    gap = _gap_of(pair, nearest[best], float(ramp.required(np.array(before))))
    least = gap.value
    if 0.0 <= least < ramp.full:
        places = [tightest_on_ramp(parts, pair.lengths, ramp) for parts in pair.parts]
        spare = [place.nearest.value - float(ramp.required(np.array(place.before))) for place in places]
        best_of, place = min(zip(spare, places, strict=True), key=lambda each: each[0])
        if best_of < gap.value - gap.required - TIE:
            gap = _gap_of(pair, (place.nearest, place.at_b), float(ramp.required(np.array(place.before))))
    near = _stretches_on_ramp(pair, ramp) if gap.value < gap.required else ()
    return replace(gap, near=near, together=True, smallest=least, runs_through=_runs_through(pair.parts[best][0], gap))


def _smallest(nearest: list[NearestGap]) -> int:
    least = min(each.value for each, _ in nearest)
    return next(k for k, (each, _) in enumerate(nearest) if each.value <= least + TIE)


def _runs_through(body: Body, gap: Gap) -> bool:
    return gap.value <= TOUCHING - body.radius


def _gap_of(pair: TubePair, gap: NearestGap, required: float) -> Gap:
    nearest, at_b = gap
    return Gap(
        a=pair.lines[0].run,
        b=pair.lines[1].run,
        at=(place_at(pair.lines[0], nearest.at), place_at(pair.lines[1], at_b)),
        required=required,
        value=nearest.value,
        points=(vec(nearest.skin), vec(nearest.point)),
    )


def _stretches_on_ramp(pair: TubePair, ramp: Ramp) -> tuple[Stretch, ...]:
    """The stretches of the first tube that are too near on the ramp, each with the gap along it."""
    stretches = [
        replace(stretch, smallest=least_along(profile_to_body(a, b), (stretch.start, stretch.end))[1])
        for a, b in pair.parts
        for stretch in stretches_on_ramp((a, b), pair.lengths[0], ramp)
    ]
    within = least_of([where_it_is(a, profile_to_body(a, b)) for a, b in pair.parts])
    return tuple(profiled(within, stretch) for stretch in joined(stretches))


def _near_stretches(
    parts: tuple[tuple[Body, Body], ...], found: list[NearestGap], required: float
) -> tuple[Stretch, ...]:
    """The stretches where two tubes are too near, from parts of both and the smallest gap of each."""
    profiles = [_tube_profile(a, b, nearest) for (a, b), (nearest, _) in zip(parts, found, strict=True)]
    stretches = [
        stretch
        for (a, _), (nearest, _), profile in zip(parts, found, profiles, strict=True)
        for stretch in stretches_held(profile, a.span, required, (nearest.at, nearest.value))
    ]
    within = least_of([where_it_is(a, profile) for (a, _), profile in zip(parts, profiles, strict=True)])
    return tuple(profiled(within, stretch) for stretch in joined(stretches))


def _tube_profile(a: Body, b: Body, nearest: Nearest) -> Profile:
    held = with_flat_ends(a, profile_to_body(a, b), lambda part: body_to_body(part, b)[0].value)
    return held_to(held, nearest.at, nearest.value)
