"""Headers found in parts: some tubes alone, then the others as their images, or beside them.

Each part has few tubes in given bores, so that its pools and sets are small. Where ports and bores of a header are the
same up to a shift or a mirror image, the first part is sought once and repeated.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.random import Generator

from headergen.geometry.arrays import Array
from headergen.solve.route.choose import FULL, sets_of
from headergen.solve.route.families import Likeness
from headergen.solve.route.layout import FINE, Layout, LayoutTube, polished, seen
from headergen.solve.route.problem import Numbers, RouteProblem
from headergen.solve.route.starts import pool_of, some_length
from headergen.solve.route.supply import without
from headergen.solve.route.tidiness import crossing_pairs

STARTS = 12  # of a pool: for each tube and number of bends
FIRST_SETS, SECOND_SETS = 4, 6
MANY = 6  # tubes from which a header is found in halves too
ROWS = 24  # orders of bores that are tried, those whose chords cross least
SAMPLED = 4000  # orders of bores looked through


@dataclass(frozen=True, eq=False)
class Split:
    """Tubes to be found first; then those that are their images, if any; then the rest beside them."""

    first: tuple[int, ...]
    likeness: Likeness | None = None


def splits_of(problem: RouteProblem) -> list[Split]:
    """The ways to find a header in parts: by its families, and in halves if it has many tubes."""
    number = {run.key: k for k, run in enumerate(problem.runs)}
    found = [
        Split(tuple(number[lead] for lead, _ in way.pairs), way)
        for family in problem.families
        for likeness in family
        for way in (likeness, likeness.turned())
    ]
    if problem.count >= MANY:
        half = problem.count // 2
        tubes = tuple(range(problem.count))
        aside = (problem.count - half) // 2
        found += [Split(tubes[:half]), Split(tubes[-half:]), Split(tubes[aside : aside + half])]
    return found


def in_parts(
    problem: RouteProblem, split: Split, rows: Numbers, turn: int, chance: Generator
) -> Iterator[Layout | None]:
    """Layouts for the exact checks or for another descent, and None after other pieces of work of the same size."""
    rows = rows if split.likeness is None else _rows_alike(problem, rows, split.likeness)
    if not len(rows):
        return
    row, length = rows[turn % len(rows)], some_length(problem, chance)
    first = part_of(problem, split.first, row)
    for layout in _found_alone(first, length, chance):
        if layout is None:
            yield None
            continue
        known = dict(zip(split.first, layout.runs, strict=True))
        if split.likeness is not None:
            known |= images(problem, split.likeness, known)
        yield from _beside(problem, row, known, layout.length, chance)


def _found_alone(part: RouteProblem, length: float, chance: Generator) -> Iterator[Layout | None]:
    pools = []
    for tube in range(part.count):
        pools.append(pool_of(part, tube, length, chance, STARTS))
        yield None
    for layout in sets_of(part, pools, length, FULL)[:FIRST_SETS]:
        made = polished(part, layout)
        yield None if made is None else made


def _beside(
    problem: RouteProblem, row: Numbers, known: dict[int, LayoutTube], length: float, chance: Generator
) -> Iterator[Layout | None]:
    """The tubes that are not known yet, by pools beside those that are."""
    rest = tuple(k for k in range(problem.count) if k not in known)
    if not rest:
        yield Layout(tuple(known[k] for k in range(problem.count)), length)
        return
    part = part_of(problem, rest, row, known)
    pools = []
    for tube in range(part.count):
        pools.append(pool_of(part, tube, length, chance, STARTS))
        yield None
    for layout in sets_of(part, pools, length, FULL)[:SECOND_SETS]:
        every = known | dict(zip(rest, layout.runs, strict=True))
        yield Layout(tuple(every[k] for k in range(problem.count)), length)


def part_of(
    problem: RouteProblem, tubes: Sequence[int], row: Numbers, known: dict[int, LayoutTube] | None = None
) -> RouteProblem:
    """The problem of some tubes into given bores; `known` tubes stay where they are, all others are left out.

    Known tubes take what they need of the bends on hand.
    """
    stay = [] if known is None else sorted(known)
    chosen, space, supply = list(tubes), problem.space, problem.supply
    if known:
        lengths = np.array([seen(problem, k, known[k], 2)[3] for k in stay])
        count = space.fixed.shape[1] if len(space.fixed) else int(np.ceil(lengths.max() / FINE))
        samples = np.array([seen(problem, k, known[k], count)[0] for k in stay])
        if supply is not None:
            angles = [angle for k in stay for angle in seen(problem, k, known[k], 2)[2].tolist()]
            supply = without(supply, angles, [radius for k in stay for radius in known[k].radii])
        space = space._replace(
            fixed=samples if not len(space.fixed) else np.concatenate([samples, space.fixed]),
            fixed_lengths=np.concatenate([lengths, space.fixed_lengths]),
        )
    return replace(
        problem,
        runs=tuple(problem.runs[k] for k in chosen),
        ports=problem.ports[chosen],
        assignments=row[None, chosen],
        group=np.concatenate([problem.group[chosen], problem.group[stay], problem.group[problem.count :]]),
        extra=problem.extra[chosen],
        least_ends=problem.least_ends[chosen],
        source=problem.source[chosen],
        slim=np.concatenate([problem.slim[chosen], problem.slim[stay], problem.slim[problem.count :]]),
        grows=problem.grows[chosen],
        space=space,
        supply=supply,
    )


def images(problem: RouteProblem, likeness: Likeness, known: dict[int, LayoutTube]) -> dict[int, LayoutTube]:
    """The images of known tubes, for those tubes that can have them."""
    number = {run.key: k for k, run in enumerate(problem.runs)}
    bores = {(bore.collector, bore.number): k for k, bore in enumerate(problem.bore_of)}
    out = {}
    for lead, twin in likeness.pairs:
        run = known.get(number[lead])
        if run is not None:
            bore = problem.bore_of[run.bore]
            inner = likeness.image(run.x[2:].reshape(-1, 3))
            falls_on = bores[likeness.bores[bore.collector, bore.number]]
            out[number[twin]] = LayoutTube(falls_on, run.radii, np.concatenate([run.x[:2], inner.ravel()]), run.held)
    return out


def repeated(problem: RouteProblem, layout: Layout) -> Iterator[Layout]:
    """A layout with tubes of a family replaced by the images of the others, in each way whose bores go together."""
    for family in problem.families:
        for likeness in family:
            for way in (likeness, likeness.turned()):
                made = with_images(problem, way, layout)
                if made is not None:
                    yield made


def with_images(problem: RouteProblem, likeness: Likeness, layout: Layout) -> Layout | None:
    """A layout with tubes replaced by the images of others; None if their bores do not go together."""
    for tube, run in images(problem, likeness, dict(enumerate(layout.runs))).items():
        layout = layout.with_run(tube, run)
    allowed = (problem.assignments == [run.bore for run in layout.runs]).all(axis=1).any()
    return layout if allowed else None


def tidy_rows(problem: RouteProblem, chance: Generator) -> Numbers:
    """Orders of bores (n, K) whose straight ways cross each other least, as seen in the views; then the shortest."""
    rows = problem.assignments
    if len(rows) > SAMPLED:
        rows = rows[np.sort(chance.choice(len(rows), SAMPLED, replace=False))]
    starts, ends, count = problem.ports[:, :3], problem.bores[:, :3], problem.count
    views = problem.views
    score = 1e-3 * np.linalg.norm(ends[rows] - starts, axis=2).sum(axis=1)
    for i in range(count):
        for j in range(i):
            known: dict[tuple[int, int], int] = {}
            for a, b in {(int(row[i]), int(row[j])) for row in rows}:
                known[a, b] = crossing_pairs([_chord(starts[i], ends[a]), _chord(starts[j], ends[b])], views)
            score += [known[int(row[i]), int(row[j])] for row in rows]
    return np.asarray(rows[np.argsort(score, kind="stable")][:ROWS])


def _rows_alike(problem: RouteProblem, rows: Numbers, likeness: Likeness) -> Numbers:
    """Those orders in which the images of tubes go into the images of their bores."""
    number = {run.key: k for k, run in enumerate(problem.runs)}
    bores = {(bore.collector, bore.number): k for k, bore in enumerate(problem.bore_of)}
    falls_on = np.arange(len(problem.bore_of))
    for one, other in likeness.bores.items():
        falls_on[bores[one]] = bores[other]
    leads, twins = np.array([[number[lead], number[twin]] for lead, twin in likeness.pairs]).T
    return np.asarray(rows[(falls_on[rows[:, leads]] == rows[:, twins]).all(axis=1)])


def _chord(start: Array, end: Array) -> Array:
    return np.array([start, end])
