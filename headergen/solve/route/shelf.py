"""Whole bends of the shelf: found bends are brought to angles in stock one by one, and the tubes closed again.

Only the whole angle needs no arc cut and keeps both legs. Each bend is held at the nearest angle in stock while all
tubes descend together; then its tube is closed with the angle itself. A tube of n bends has 3n − 5 freedoms beside its
length, so at most min(n, 3n − 5) of its bends can be held.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from headergen.solve.route.cost import bends_in_stock
from headergen.solve.route.layout import HELD, Layout, seen, settled
from headergen.solve.route.problem import RouteProblem, wanted_of
from headergen.solve.route.rounding import solved

NEARLY = math.radians(15)  # from an angle in stock: bends that are brought to it where that pays
FAR = math.radians(35)  # the same where nothing else may be used
SAME = 1e-9


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
        if sum(angle > 0.0 for angle in held) >= min(run.bends, 3 * run.bends - 5):
            continue
        angles = seen(problem, tube, run, 2)[2]
        for bend in range(run.bends):
            for angle in in_stock(problem, run.radii[bend]) if held[bend] == 0.0 else ():
                off = abs(float(angles[bend]) - angle)
                if off < (FAR if only else NEARLY):
                    found.append(Whole(tube, bend, angle, off))
    return sorted(found, key=lambda each: (each.off, each.tube, each.bend))


def in_stock(problem: RouteProblem, radius: float) -> tuple[float, ...]:
    """The whole angles in stock of a radius that a bend may have."""
    draft = problem.draft
    shelf = bends_in_stock(draft, wanted_of(draft))
    low, high = draft.routing.flattest, draft.routing.sharpest
    angles = {bend.real_angle for bend in shelf if abs(bend.radius - radius) < 0.05}
    return tuple(sorted(angle for angle in angles if low - SAME <= angle <= high + SAME))


def with_whole(problem: RouteProblem, layout: Layout, whole: Whole) -> Layout | None:
    """The layout with one more whole bend, all tubes settled and closed again; None if they do not get there."""
    run = layout.runs[whole.tube]
    held = list(run.held or (0.0,) * run.bends)
    held[whole.bend] = whole.angle
    started = layout.with_run(whole.tube, replace(run, held=tuple(held)))
    made, missing = settled(problem, started, (0.3, 0.05, 0.0), 25, flattest=problem.want.flattest)
    return _closed(problem, made) if missing < HELD else None


def _closed(problem: RouteProblem, layout: Layout) -> Layout | None:
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
