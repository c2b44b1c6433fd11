"""Whole bends of the shelf: found bends are brought to angles in stock, and the tubes closed again.

Only the whole angle needs no arc cut and keeps both legs. Where that pays, bends are held one by one at the nearest
angle in stock while all tubes descend together; then the tube is closed with the angle itself. Before that it goes
tube by tube, since the others, which stay, then cost what they did: a tube's bends are held in all ways at once, as
many as it can hold, and what is cheapest as a whole is checked. Where nothing else may be used, the runs of its pool
are brought to the shelf by the dozen, too. A tube of n bends has 3n − 5 freedoms beside its length, so at most
min(n, 3n − 5) of its bends can be held.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice, product

import numpy as np

from headergen.model.stock import SAME_RADIUS
from headergen.solve.route.answer import Priced, priced_of
from headergen.solve.route.cost import bends_in_stock
from headergen.solve.route.layout import HELD, Descent, Layout, LayoutTube, most_held, seen, settled
from headergen.solve.route.parts import part_of
from headergen.solve.route.problem import RouteProblem, runs_to_find
from headergen.solve.route.rounding import solved
from headergen.solve.route.starts import Pool, descended, pooled
from headergen.solve.route.supply import lacking_in, largest_left, whole_left, without

NEARLY = math.radians(15)  # from an angle in stock: bends that are brought to it where that pays
FAR = math.radians(35)  # the same where nothing else may be used
WITHIN = math.radians(25)  # the same for a single tube, whose ways are tried by the dozen
WAYS = 60  # in which bends of a single tube are held, those first that change least
SHELVED = 20  # of a pool, for each bore
OFFERS = 2  # of angles for the next bend of a run
MOST_STARTS = 60  # of one tube, each time that a bend more is held
HOLDING = (
    np.array([0.3, 0.0]),
    40,
    0.2,
)  # as `descended` takes them: a tube whose bends are held has little left to give
SAME = 1e-9
LESS = 1e-4  # rad less than what is left of an item, so that the written digits still fit


@dataclass(frozen=True)
class Whole:
    """A bend of a tube, the angle in stock that it is to have, and how far off it is."""

    tube: int
    bend: int
    angle: float
    off: float


def to_make_whole(problem: RouteProblem, layout: Layout) -> list[Whole]:
    """Free bends and the angles in stock near them, the nearest first."""
    only = problem.draft.routing.shelf == "only"
    found = []
    for tube, run in enumerate(layout.runs):
        held = run.held or (0.0,) * run.bends
        if sum(angle > 0.0 for angle in held) >= most_held(run.bends):
            continue
        angles = seen(problem, tube, run, 2)[2]
        for bend in range(run.bends):
            for angle in in_stock(problem, run.radii[bend]) if held[bend] == 0.0 else ():
                off = abs(float(angles[bend]) - angle)
                if off < (FAR if only else NEARLY):
                    found.append(Whole(tube, bend, angle, off))
    return sorted(found, key=lambda each: (each.off, each.tube, each.bend))


def in_stock(problem: RouteProblem, radius: float) -> tuple[float, ...]:
    """The whole angles in stock of a radius that a bend may have; of bends on hand those that are left."""
    draft = problem.draft
    shelf = bends_in_stock(draft, runs_to_find(draft))
    low, high = draft.routing.flattest, draft.routing.sharpest
    angles = {bend.real_angle for bend in shelf if abs(bend.radius - radius) < SAME_RADIUS}
    if problem.supply is not None:
        angles = {angle for angle in angles if whole_left(problem.supply, radius, angle)}
    return tuple(sorted(angle for angle in angles if low - SAME <= angle <= high + SAME))


def with_whole(problem: RouteProblem, layout: Layout, whole: Whole) -> Layout | None:
    """The layout with one more whole bend, all tubes settled and closed again; None if they do not get there."""
    started = layout.with_run(whole.tube, with_held(layout.runs[whole.tube], whole))
    made, missing = settled(problem, started, (0.3, 0.05, 0.0), Descent(25, flattest=problem.want.flattest))
    return closed(problem, made) if missing < HELD else None


def beside_the_others(problem: RouteProblem, layout: Layout, tube: int, pool: Pool) -> Iterator[Layout]:
    """The layout with other runs of one tube, as many bends held as can be, the cheapest first; the others stay.

    They start from the present run and from those of its pool in the same bore.
    """
    now = layout.runs[tube]
    known = {k: run for k, run in enumerate(layout.runs) if k != tube}
    part = part_of(problem, (tube,), np.array([run.bore for run in layout.runs]), known)
    others = (run for run in pool.runs if run.bore == now.bore)
    starts = [replace(run, held=()) for run in (now, *islice(others, SHELVED))]
    for run in pooled(part, 0, _held_one_by_one(part, starts, layout.length)).runs:
        made = closed(problem, layout.with_run(tube, run))
        if made is not None:
            yield made


def at_shelf_angles(problem: RouteProblem, layout: Layout, tube: int) -> list[Priced]:
    """The layout with bends of one tube at angles in stock, in each way that closes, the cheapest first.

    The other tubes stay. A way may also let go of bends that are held now.
    """
    run = layout.runs[tube]
    known = {k: other for k, other in enumerate(layout.runs) if k != tube}
    part = part_of(problem, (tube,), np.array([each.bore for each in layout.runs]), known)
    starts = [replace(run, held=held) for held in ways_to_hold(part, 0, run)]
    made = (closed(problem, layout.with_run(tube, each)) for each in descended(part, 0, starts, layout.length, HOLDING))
    priced = (priced_of(problem, each) for each in made if each is not None)
    return sorted((each for each in priced if each is not None), key=lambda each: _with_lacking(problem, each))


def _with_lacking(problem: RouteProblem, priced: Priced) -> float:
    """What a layout costs with the bends that find nothing left on hand."""
    bends = [(seen(problem, k, run, 2)[2], run.radii) for k, run in enumerate(priced.layout.runs)]
    return priced.cost + problem.draft.routing.cost_weights.lacking * lacking_in(problem.supply, bends)


def ways_to_hold(problem: RouteProblem, tube: int, run: LayoutTube) -> list[tuple[float, ...]]:
    """The ways to hold bends of a tube at angles near them in stock (0: not held), the least change first."""
    angles = seen(problem, tube, run, 2)[2].tolist()
    near = [[0.0, *_angles_near(problem, run, angles, bend)] for bend in range(run.bends)]
    now = run.held or (0.0,) * run.bends
    ways = [way for way in product(*near) if 0 < np.count_nonzero(way) <= most_held(run.bends) and way != now]
    change = [sum(abs(whole - a) for whole, a in zip(way, angles, strict=True) if whole > 0.0) for way in ways]
    return [ways[k] for k in np.argsort(change, kind="stable")[:WAYS]]


def _angles_near(problem: RouteProblem, run: LayoutTube, angles: Sequence[float], bend: int) -> list[float]:
    """Angles in stock near a bend; of bends on hand also the largest that the tube's others leave, if it is larger."""
    radius, angle = run.radii[bend], angles[bend]
    near = [whole for whole in in_stock(problem, radius) if abs(whole - angle) < WITHIN]
    if problem.supply is None:
        return near
    rest = [k for k in range(run.bends) if k != bend]
    left = without(problem.supply, [angles[k] for k in rest], [run.radii[k] for k in rest])
    largest = largest_left(left, radius)
    largest -= 0.0 if whole_left(left, radius, largest) else LESS
    if problem.draft.routing.flattest < largest < angle < largest + FAR and largest not in near:
        near.append(largest)
    return near


def _held_one_by_one(part: RouteProblem, runs: list[LayoutTube], length: float) -> list[LayoutTube]:
    """Runs of a single tube with more and more bends held, the nearest to an angle in stock first."""
    found: list[LayoutTube] = []
    while runs:
        starts = [
            with_held(run, whole) for run in runs for whole in to_make_whole(part, Layout((run,), length))[:OFFERS]
        ]
        runs = descended(part, 0, starts[:MOST_STARTS], length, HOLDING)
        found += runs
    return found


def with_held(run: LayoutTube, whole: Whole) -> LayoutTube:
    """The run with one more bend held."""
    held = list(run.held or (0.0,) * run.bends)
    held[whole.bend] = whole.angle
    return replace(run, held=tuple(held))


def closed(problem: RouteProblem, layout: Layout) -> Layout | None:
    """Every tube with held bends closed at exactly these angles and the common length."""
    for tube, run in enumerate(layout.runs):
        bends = [index for index, angle in enumerate(run.held) if angle > 0.0]
        if bends:
            degrees = [math.degrees(run.held[index]) for index in bends]
            target = np.array([[*degrees, layout.length + problem.extra[tube]]])
            found = solved(problem, tube, run, bends, target)
            if not len(found):
                return None
            layout = layout.with_run(tube, replace(run, x=found[0].copy()))
    return layout
