"""The cost of paths as a sum of degrees: less is better. The weights are the spec's.

Bends and degrees cost work and thin the wall; welds cost time and may leak; two radii in one tube need two dies or two
boxes. A bend back right behind another (an S within a diameter) looks and flows badly. A long last straight lets a tube
slide into its bore. Tubes side by side, along a frame member, or as on the other bank look deliberate; so does a
header whose tubes cross little, do not double back, and repeat each other (`tidiness.py`, `families.py`). While it
searches, single tubes are compared by a quicker sum (`starts.py`), and pairs by what they cost together (`choose.py`).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.curves.centreline import frame_at, trace
from headergen.geometry.curves.run import line_of
from headergen.geometry.frames import dot, norm, subtract, unit
from headergen.model import Bend, Centreline, Draft, Gap, Line, NamedLine, Run, Step, StockBend, Straight, Vec
from headergen.model.stock import SAME_RADIUS
from headergen.solve.route.families import Family, strangers
from headergen.solve.route.tidiness import (
    arched,
    corners_of,
    crossing_pairs,
    doubled_back,
    over_ports,
    parting,
    sprawl,
    stray_straights,
    views_of,
)

ONLY = 300.0  # degrees more for each arc cut where nothing but the shelf's angles may be used
EVENLY = 0.5  # of `tidy`: the weights of the whole as they are in the spec
WHOLE = 1e-6  # rad
BACK = math.radians(90)  # rotation between two bends above which the second one bends back
NEAR = 3.0  # centreline distance, in tube diameters, within which two tubes count as side by side
PARALLEL = math.radians(6)
STATIONS = 24


@dataclass(frozen=True)
class CostTerm:
    """One line of a cost: what counts, how much of it there is, and the degrees that each of it costs."""

    what: str
    amount: float
    each: float

    @property
    def cost(self) -> float:
        return self.each * self.amount


def total(terms: Iterable[CostTerm]) -> float:
    return sum(term.cost for term in terms)


def cost_terms(draft: Draft, keys: Sequence[int | str], families: Sequence[Family] = ()) -> tuple[CostTerm, ...]:
    """The cost of the runs with the given keys, line by line."""
    runs = [run for run in draft.runs if run.key in keys]
    found = [line_of(run) for run in runs]
    return (
        *_by_themselves(draft, runs),
        *_beside_others(draft, runs, found),
        *_as_a_whole(draft, runs, found, families),
        *_lengths(draft, runs, found),
    )


def blocked(draft: Draft, reaches: Iterable[Gap]) -> CostTerm:
    """Sockets, plugs and sensors without room: only the exact checks can tell."""
    return CostTerm("without room", sum(gap.is_too_small for gap in reaches), draft.routing.cost_weights.blocked)


def _width(draft: Draft, runs: Sequence[Run]) -> float:
    """The outside diameter in which lengths are counted."""
    return runs[0].tube.outside_diameter if runs else draft.tube.outside_diameter


def price_of_bend(draft: Draft) -> float:
    """Degrees that a bend costs, with a joint on either side."""
    weights = draft.routing.cost_weights
    return weights.bend + 2.0 * weights.weld


def price_of_crossing(draft: Draft) -> float:
    """Degrees that two tubes cost which cross in a view."""
    return draft.routing.tidy / EVENLY * draft.routing.cost_weights.crossing


def price_of_doubling_back(draft: Draft) -> float:
    """Degrees that a millimetre of doubling back costs."""
    routing = draft.routing
    return routing.tidy / EVENLY * routing.cost_weights.doubling_back / draft.tube.outside_diameter


def price_of_parting(draft: Draft) -> float:
    """Degrees that a degree costs by which two neighbours run in different directions."""
    return draft.routing.tidy / EVENLY * draft.routing.cost_weights.parting


def price_of_sprawl(draft: Draft) -> float:
    """Degrees that a millimetre costs by which a header is wider than its ports and bores."""
    routing = draft.routing
    return routing.tidy / EVENLY * routing.cost_weights.sprawl / draft.tube.outside_diameter


def price_of_arching(draft: Draft) -> float:
    """Degrees that a millimetre costs by which a tube rises over the ports."""
    routing = draft.routing
    return routing.tidy / EVENLY * routing.cost_weights.arching / draft.tube.outside_diameter


def bends_in_stock(draft: Draft, runs: Sequence[Run]) -> tuple[StockBend, ...]:
    """The bends in stock of the tubes of these runs."""
    tubes = dict.fromkeys(tube for run in runs for tube in run.tubes)
    listed = [] if draft.stock is None else [draft.stock.bends_of(tube, draft.tube) for tube in tubes]
    return tuple(bend for _, bend in sorted({index: bend for each in listed for index, bend in each}.items()))


def price_of_cut(draft: Draft, runs: Sequence[Run]) -> float:
    """Degrees that a bend of these runs costs which is no whole one of the shelf; 0 if there is nothing in stock."""
    if not bends_in_stock(draft, runs):
        return 0.0
    return draft.routing.cost_weights.cut + (ONLY if draft.routing.shelf == "only" else 0.0)


def _by_themselves(draft: Draft, runs: Sequence[Run]) -> Iterator[CostTerm]:
    weights, width = draft.routing.cost_weights, _width(draft, runs)
    bends = [[step for step in p.steps if isinstance(step, Bend)] for p in runs]
    shelf = bends_in_stock(draft, runs)
    joints = [joints_and_cuts(p.steps, shelf) for p in runs]
    yield CostTerm("degrees of bend", sum(math.degrees(bend.angle) for tube in bends for bend in tube), 1.0)
    yield CostTerm("bends", sum(map(len, bends)), weights.bend)
    yield CostTerm("joints", sum(welded for welded, _ in joints), weights.weld)
    if shelf:
        yield CostTerm("arc cuts", sum(cuts for _, cuts in joints), price_of_cut(draft, runs))
    changes = sum(abs(a.radius - b.radius) > 1e-6 for tube in bends for a, b in pairwise(tube))
    yield CostTerm("changes of radius", changes, weights.radius)
    close = sum(
        gap < width and abs(math.remainder(bend.rotation, 2 * math.pi)) > BACK
        for p in runs
        for gap, bend in _after_bends(p)
    )
    yield CostTerm("bends back at once", close, weights.close_turn)
    yield CostTerm("last straights short of two diameters", sum(map(_short, runs)) / width, weights.last_straight)


def _beside_others(draft: Draft, runs: Sequence[Run], lines: Sequence[Centreline]) -> Iterator[CostTerm]:
    weights, width = draft.routing.cost_weights, _width(draft, runs)
    if any(p.like for p in runs):
        away = sum(_from_mirrored(line, p) for line, p in zip(lines, runs, strict=True)) / width
        yield CostTerm("diameters from the other bank's", away, weights.other_bank)
    yield CostTerm("tubes side by side", sum(_shares_beside(lines, width)), -weights.side_by_side)
    if draft.lines:
        along = sum(_share_along(line, draft.lines, width) for line in lines)
        yield CostTerm("tubes along named lines", along, -weights.along_lines)


def _as_a_whole(
    draft: Draft, runs: Sequence[Run], lines: Sequence[Centreline], families: Sequence[Family]
) -> Iterator[CostTerm]:
    weights, width = draft.routing.cost_weights, _width(draft, runs)
    tidy = draft.routing.tidy / EVENLY
    if len(runs) == 0 or tidy == 0.0:
        return
    points = [corners_of(line) for line in lines]
    yield CostTerm("crossings seen", crossing_pairs(points, views_of(runs)), price_of_crossing(draft))
    back = sum(map(doubled_back, points)) / width
    yield CostTerm("diameters doubled back", back, tidy * weights.doubling_back)
    if tidy * weights.parting > 0.0:
        yield CostTerm("degrees that neighbours part", parting(runs, lines), tidy * weights.parting)
    yield CostTerm("diameters of sprawl", sprawl(runs, points) / width, tidy * weights.sprawl)
    over = over_ports(runs)
    arches = sum(arched(each, over) for each in points) / width
    yield CostTerm("diameters arched over the ports", arches, tidy * weights.arching)
    yield CostTerm("stray straights", stray_straights(runs, lines), tidy * weights.stray)
    if families:
        broken = sum(strangers(draft, family) for family in families)
        yield CostTerm("tubes unlike their image", broken, tidy * weights.family)


def _lengths(draft: Draft, runs: Sequence[Run], lines: Sequence[Centreline]) -> Iterator[CostTerm]:
    routing = draft.routing
    open_length = draft.length.target is None and routing.length is None
    if routing.shortest or open_length or not any(run.is_primary for run in runs):
        yield CostTerm("mm of length", max(line.length for line in lines), routing.cost_weights.shorter)


def _short(primary: Run) -> float:
    """Millimetres that the last straight is short of two diameters."""
    last = primary.steps[-1]
    straight = last.length if isinstance(last, Straight) else 0.0
    return max(0.0, 2.0 * primary.tube.outside_diameter - straight)


def _after_bends(primary: Run) -> Iterator[tuple[float, Bend]]:
    """Each bend after the first, with the straight before it."""
    gap, first = 0.0, True
    for step in primary.steps:
        if isinstance(step, Straight):
            gap = step.length
            continue
        if not first:
            yield gap, step
        gap, first = 0.0, False


def welds(steps: Sequence[Step], shelf: Sequence[StockBend]) -> int:
    """The fewest joints of a path in which each bend is one piece."""
    return joints_and_cuts(steps, shelf)[0]


def joints_and_cuts(steps: Sequence[Step], shelf: Sequence[StockBend]) -> tuple[int, int]:
    """The fewest joints of a path in which each bend is one piece, and the fewest arc cuts with so many joints.

    A bend cut from a larger one keeps at most one leg, on either side, and costs an arc cut; only the whole shelf angle
    keeps both, and costs none. Legs that are long enough replace a straight. As in the plan, joints count first.
    """
    bends = [_legs(step, shelf) for step in steps if isinstance(step, Bend)]
    if not bends:
        return 0, 0
    straights = _straights(steps)
    least = {way: (int(straights[0] > way.before), way.cuts) for way in bends[0]}
    for between, after in zip(straights[1:-1], bends[1:], strict=True):
        least = {
            way: min(
                (joints + 1 + (between > last.after + way.before), cuts + way.cuts)
                for last, (joints, cuts) in least.items()
            )
            for way in after
        }
    return min((joints + (straights[-1] > way.after), cuts) for way, (joints, cuts) in least.items())


def is_whole(bend: Bend, shelf: Sequence[StockBend]) -> bool:
    """Whether a bend is a whole one of the shelf, so that no saw goes through its arc."""
    return any(_fits(bend, each) and abs(each.real_angle - bend.angle) < WHOLE for each in shelf)


class _Legs(NamedTuple):
    """A way to make a bend: the legs (mm) that it may keep before and after it, and its arc cuts."""

    before: float
    after: float
    cuts: int


def _legs(bend: Bend, shelf: Sequence[StockBend]) -> list[_Legs]:
    held = [b for b in shelf if _fits(bend, b) and b.real_angle >= bend.angle - 1e-9]
    longest = max((max(b.real_legs) for b in held), default=0.0)
    whole = [b.real_legs for b in held if is_whole(bend, [b])]
    both = [_Legs(*legs, 0) for one, other in whole for legs in ((one, other), (other, one))]
    return [_Legs(longest, 0.0, 1), _Legs(0.0, longest, 1), *both]


def _fits(bend: Bend, shelf: StockBend) -> bool:
    return abs(shelf.radius - bend.radius) < SAME_RADIUS


def _straights(steps: Sequence[Step]) -> list[float]:
    """The straights before, between and after the bends; 0 where there is none."""
    out = [0.0]
    for step in steps:
        if isinstance(step, Straight):
            out[-1] += step.length
        else:
            out.append(0.0)
    return out


def _shares_beside(lines: Sequence[Centreline], width: float) -> Iterator[float]:
    """For each tube, the share of its length over which another tube runs near by and parallel."""
    seen = [_stations(line) for line in lines]
    for index, (points, tangents) in enumerate(seen):
        beside = np.zeros(STATIONS, dtype=bool)
        for other, (theirs, along) in enumerate(seen):
            if other != index:
                apart = np.linalg.norm(points[:, None] - theirs[None], axis=2)
                nearest = apart.argmin(axis=1)
                near = apart[np.arange(STATIONS), nearest] < NEAR * width
                beside |= near & ((tangents * along[nearest]).sum(axis=1) > math.cos(PARALLEL))
        yield float(beside.mean())


def _stations(line: Centreline) -> tuple[Array, Array]:
    frames = [frame_at(line, at) for at in np.linspace(0.0, line.length, STATIONS)]
    return np.array([frame[0] for frame in frames]), np.array([frame[1] for frame in frames])


def _from_mirrored(line: Centreline, primary: Run) -> float:
    """The mean distance (mm) of a path from the one it should resemble, at equal shares of their lengths."""
    if not primary.like:
        return 0.0
    other = _stations(trace(primary.start.frame, primary.like, primary.name))[0]
    return float(np.linalg.norm(_stations(line)[0] - other, axis=1).mean())


def _share_along(line: Centreline, named: Sequence[NamedLine], width: float) -> float:
    """The share of a tube's length that is in straights beside a named line."""
    along = 0.0
    for segment in line.segments:
        if isinstance(segment, Line) and any(_runs_along(segment, each, width) for each in named):
            along += segment.length
    return along / line.length


def _runs_along(segment: Line, named: NamedLine, width: float) -> bool:
    axis = unit(subtract(named.end, named.start))
    if abs(dot(axis, segment.tangent)) < math.cos(PARALLEL):
        return False
    w: Vec = subtract(segment.start, named.start)
    beside = subtract(w, (axis[0] * dot(w, axis), axis[1] * dot(w, axis), axis[2] * dot(w, axis)))
    return norm(beside) < NEAR * width + named.diameter / 2
