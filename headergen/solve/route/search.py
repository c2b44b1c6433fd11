"""The search itself, in rounds: small pieces of work that do not depend on the clock.

So a seed and a number of rounds always give the same answers, however long the rounds took.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Generator, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice
from pathlib import Path

import numba
import numpy as np
from numpy.random import Generator as Chance

from headergen.geometry.curves.centreline import corner_points, trace
from headergen.model import Bend
from headergen.solve.route.answer import Answer, Priced, checked, priced_of
from headergen.solve.route.bundles import bundles
from headergen.solve.route.choose import FULL, LIGHT, beside, looks, sets_of
from headergen.solve.route.cost import bends_in_stock
from headergen.solve.route.growing import without_growths
from headergen.solve.route.layout import (
    COARSE,
    HELD,
    WISHES,
    Descent,
    Layout,
    LayoutTube,
    may_pass,
    polished,
    seen,
    settled,
    tube_of_corners,
    without_bend,
)
from headergen.solve.route.moves import moves
from headergen.solve.route.parts import in_parts, repeated, splits_of, tidy_rows
from headergen.solve.route.problem import Numbers, RouteProblem
from headergen.solve.route.rerouting import pairs_to_reroute, rerouted
from headergen.solve.route.shelf import at_shelf_angles, beside_the_others, closed, to_make_whole, with_whole
from headergen.solve.route.starts import Pool, pool_of, pooled, random_layout, some_length

FIRST_SCATTER = 24  # random starts before the first pool; again after each pool, until there is an answer
ENOUGH_SCATTERED = 3  # answers after which the random starts end early
MANY_TUBES = 7  # from which random starts come after those in parts
TURNS_IN_PARTS = 3  # orders of bores tried in parts at first, until there is an answer
STARTS = 26  # of a pool: for each tube, bore and number of bends
LEAST_STARTS = 10
TUBES_TRIED = 4  # ways in which all bends of one tube are whole
NO_TUBE = -1  # all tubes together
GAIN = 0.5  # degrees; a smaller gain is no improvement
STEP = 3.0  # degrees; a smaller gain of a change is not worth its checks
SETTLED = 100  # rounds without a gain, about two pools, after which the search goes over to tidiness
UNTIDY = 3.0  # times the price of crossings by which sets are then chosen, so that others come up
PAIRS = 4  # of tubes sought anew before the next pools
DOUBT = 40.0  # degrees by which a layout may look too dear before it meets all requirements
OTHERS = 1  # of the layouts that are no improvement, checked after each pool
KEPT = 12  # answers kept to choose from
APART = 30.0  # mm by which two answers must differ somewhere to count as different


@dataclass
class SearchState:
    """The state of a search: answers, best first, each different from the others; the rounds done."""

    answers: list[Answer] = field(default_factory=list)
    accepted: int = 0
    rounds: int = 0
    places: int = 0  # of movable collectors, tried before this search
    nearest: list[tuple[float, Layout]] = field(default_factory=list)  # random layouts, with the miss in the model
    tried: set[tuple[int, ...]] = field(default_factory=set)
    rerouted: Counter[tuple[int, int, int]] = field(default_factory=Counter)  # tries, by cost and pair of tubes
    shelved: set[tuple[float, int]] = field(default_factory=set)  # tubes brought to the shelf, with the cost then
    idle: int = 0  # rounds since the best answer became cheaper
    waiting: list[Priced] = field(default_factory=list)  # dearer than is of interest, and not checked yet
    worth: float = 1.0  # times the best answer's cost, up to which others are of interest

    @property
    def is_settled(self) -> bool:
        """Whether more of the same search is not worth its time."""
        return bool(self.answers) and self.idle >= SETTLED

    @property
    def dearest(self) -> float:
        """What a layout may cost to be checked at once: `worth` times the best answer, or anything at first."""
        return self.worth * self.answers[0].cost if len(self.answers) > 1 else np.inf

    @property
    def best(self) -> Answer | None:
        return self.answers[0] if self.answers else None


def search(problem: RouteProblem, seed: int, stream: int = 0, worth: float = 1.0) -> Iterator[SearchState]:
    """Better and better answers: the same object, yielded after every round. It ends only with its reader.

    Searches of one seed with other `stream`s differ, so that several processes can share the work. Where answers are to
    choose from, those that cost up to `worth` times the best are sought too, which takes longer.
    """
    found, chance = SearchState(worth=worth), np.random.default_rng((seed, stream) if stream else seed)
    cheapest = np.inf
    for _ in _search(problem, found, chance):
        found.rounds += 1
        found.idle += 1
        if found.best is not None and found.best.cost < cheapest - GAIN:
            cheapest, found.idle = found.best.cost, 0
        yield found


def warm_up(problem: RouteProblem) -> None:
    """Compiles the kernels, or loads them from the cache, so that no search pays for that."""
    chance = np.random.default_rng(0)
    settled(problem, random_layout(problem, chance), (1.0, 0.0), Descent(1))
    pool_of(problem, 0, problem.want.longest, chance, 1)
    pool = pooled(problem, 0, [random_layout(problem, chance).runs[0]])
    beside(problem, (pool, 0), (pool, 0), LIGHT)


def is_compiled() -> bool:
    """Whether the kernels of this version are in the cache."""
    return any(Path(str(numba.config.CACHE_DIR)).rglob("*.nbi"))  # type: ignore[attr-defined]


def _search(problem: RouteProblem, found: SearchState, chance: Chance) -> Iterator[None]:
    yield from _guessed(problem, found, chance)
    rows = tidy_rows(problem, chance)
    parts, scatter = _parts(problem, found, rows, chance), _scatter(problem, found, chance)
    # random starts find six tubes sooner than parts do, but are nearly hopeless for more
    for starts in (parts, scatter) if problem.count >= MANY_TUBES else (scatter, parts):
        yield from starts
    pools: list[Pool] | None = None
    turn = 0
    while True:
        length = some_length(problem, chance, None if found.best is None else found.best.layout.length)
        fresh: list[Pool] = []
        per = max(LEAST_STARTS, int(STARTS * 16 / max(16.0, problem.count * _bores_each(problem))))
        for tube in range(problem.count):
            fresh.append(pool_of(problem, tube, length, chance, per))
            yield
        pools = (
            fresh
            if pools is None or problem.want.longest - problem.want.shortest > 12.0
            else [pooled(problem, k, [*a.runs, *b.runs]) for k, (a, b) in enumerate(zip(pools, fresh, strict=True))]
        )
        if found.best is None or turn % 2 == 1 or not _is_whole_only(problem):
            yield from _sets_and_bundles(problem, found, pools, rows, (turn, length))
        if found.best is not None:
            yield from _improve(problem, found, pools, _to_improve(found, turn), chance)
        else:
            yield from _scatter(problem, found, chance)
        if found.best is not None and not _is_whole_only(problem):
            yield from _onto_shelf(problem, found, pools, found.answers[0])
        yield from _others_checked(problem, found)
        turn += 1


def _others_checked(problem: RouteProblem, found: SearchState) -> Iterator[None]:
    """The checks of the cheapest that wait for them and are unlike the answers: other headers to choose from."""
    waiting, found.waiting = found.waiting, []
    judged = 0
    for priced in waiting:
        if judged >= OTHERS and priced.cost >= found.dearest:
            return
        if not any(are_alike(problem, other.layout, priced.layout) for other in found.answers):
            _checked(problem, found, priced)
            judged += 1
            yield


def _sets_and_bundles(
    problem: RouteProblem, found: SearchState, pools: Sequence[Pool], rows: Numbers, at: tuple[int, float]
) -> Iterator[None]:
    """Starts from pools: bundles, which cross little, then sets; until there is an answer the sets come first."""
    turn, length = at
    bundled = found.best is not None
    if bundled:
        yield from _bundled(problem, found, pools, rows, at)
        if not _is_whole_only(problem):
            yield from _onto_shelf(problem, found, pools, found.answers[0])
    crossed = UNTIDY if found.is_settled else 1.0
    for layout in sets_of(problem, pools, length, (LIGHT, FULL)[turn % 2], crossed):
        _polished(problem, found, layout, found.dearest)
        yield
        if not bundled and found.best is not None and _is_whole_only(problem):
            return  # whole bends are made of the first answer, before others are sought
    if not bundled:
        yield from _bundled(problem, found, pools, rows, at)


def _is_whole_only(problem: RouteProblem) -> bool:
    """Whether nothing but whole bends of the shelf is to be used, where that can be."""
    return problem.draft.routing.shelf == "only"


def _to_improve(found: SearchState, turn: int) -> Answer:
    """The best answer; every other time one of the others, which may lead elsewhere."""
    others = found.answers[1:]
    return others[turn // 2 % len(others)] if others and turn % 2 == 1 else found.answers[0]


def _parts(problem: RouteProblem, found: SearchState, rows: Numbers, chance: Chance) -> Iterator[None]:
    """Starts in parts, by families and in halves, until one of the halves of a header leads to an answer."""
    splits = splits_of(problem)
    for turn in range(TURNS_IN_PARTS):
        for split in splits:
            for layout in in_parts(problem, split, rows, turn, chance):
                kept = None if layout is None else _tried(problem, found, layout, found.dearest)
                yield
                if kept is not None and split.likeness is None:
                    return
        if found.best is not None:
            return


def _bundled(
    problem: RouteProblem, found: SearchState, pools: Sequence[Pool], rows: Numbers, at: tuple[int, float]
) -> Iterator[None]:
    """Bundles led by one tube after the other; in the first turn by the middle one and by the last."""
    turn, length = at
    leads = (problem.count // 2, problem.count - 1, 0, *range(1, problem.count))
    if problem.count < 2:
        return
    for lead in leads[:2] if turn == 0 else (leads[(turn + 1) % len(leads)],):
        for layout in bundles(problem, pools, rows, lead, length):
            if layout is not None:
                _tried(problem, found, layout, found.dearest)
            yield


def _tried(problem: RouteProblem, found: SearchState, layout: Layout, below: float) -> Answer | None:
    """A layout as it is, if the sampled model and the checks let it; else after a descent of all tubes."""
    if may_pass(problem, layout):
        kept = keep(problem, found, layout, below)
        if kept is not None:
            return kept
    return _polished(problem, found, layout, below)


def _polished(problem: RouteProblem, found: SearchState, layout: Layout, below: float) -> Answer | None:
    best = found.best

    def is_worth_it(made: Layout) -> bool:
        return best is None or looks(problem, made) < looks(problem, best.layout) + below - best.cost + DOUBT

    made = polished(problem, layout, is_worth_it if below < np.inf else lambda _: True)
    made = None if made is None else closed(problem, made)
    return None if made is None else keep(problem, found, made, below)


def _bores_each(problem: RouteProblem) -> float:
    return float(np.mean([len(set(column.tolist())) for column in problem.assignments.T]))


def keep(problem: RouteProblem, found: SearchState, layout: Layout, below: float = np.inf) -> Answer | None:
    """Judges a layout and keeps it among the answers; None if it fails, or is no better than a similar one.

    The checks take longer than a descent. What costs `below` or more, which is not what is sought, waits for them.
    """
    priced = priced_of(problem, layout)
    if priced is None:
        return None
    if priced.cost < below:
        return _checked(problem, found, priced)
    found.waiting = sorted([*found.waiting, priced], key=lambda each: each.cost)[:KEPT]
    return None


def _checked(problem: RouteProblem, found: SearchState, priced: Priced) -> Answer | None:
    layout = priced.layout
    alike = [k for k, other in enumerate(found.answers) if are_alike(problem, other.layout, layout)]
    below = min((found.answers[k].cost - GAIN / 10 for k in alike), default=np.inf)
    if len(found.answers) >= KEPT:
        below = min(below, found.answers[-1].cost)
    answer = checked(problem, priced, below)
    if answer is None:
        return None
    found.accepted += 1
    others = [other for k, other in enumerate(found.answers) if k not in alike]
    found.answers = sorted([*others, replace(answer, round=found.rounds)], key=lambda each: each.cost)[:KEPT]
    return answer


def are_alike(problem: RouteProblem, one: Layout, other: Layout) -> bool:
    """Whether every tube takes the same bore by nearly the same path in both."""
    for k, (a, b) in enumerate(zip(one.runs, other.runs, strict=True)):
        if a.bore != b.bore or np.abs(seen(problem, k, a)[0] - seen(problem, k, b)[0]).max() > APART:
            return False
    return True


def _guessed(problem: RouteProblem, found: SearchState, chance: Chance) -> Iterator[None]:
    """Paths that the spec gives as a first guess: as they are, if that is all; then as starts, other tubes random."""
    guesses = guesses_of(problem)
    if len(guesses) == problem.count:
        runs = tuple(guesses[k] for k in range(problem.count))
        lengths = [seen(problem, k, run, 2)[3] for k, run in enumerate(runs)]
        keep(problem, found, Layout(runs, float(np.mean(lengths - problem.extra))))
        yield
    for _ in range(6 if guesses else 0):
        layout = random_layout(problem, chance)
        for tube, run in guesses.items():
            layout = layout.with_run(tube, run)
        made = polished(problem, layout)
        if made is not None:
            keep(problem, found, made)
        yield


def guesses_of(problem: RouteProblem) -> dict[int, LayoutTube]:
    """Those that are to be found and have a path already, with its corners."""
    radii = problem.radii
    out: dict[int, LayoutTube] = {}
    for tube, primary in enumerate(problem.runs):
        steps = without_growths(primary.steps)
        bends = [step for step in steps if isinstance(step, Bend)]
        if not 2 <= len(bends) <= problem.draft.routing.most_bends or any(b.angle > 3.0 for b in bends):
            continue
        corners = corner_points(trace(primary.start.frame, steps))[1:-1]
        nearest = [float(radii[np.abs(radii - bend.radius).argmin()]) for bend in bends]
        out[tube] = tube_of_corners(problem, tube, tube, corners, nearest)
    return out


def _scatter(problem: RouteProblem, found: SearchState, chance: Chance) -> Iterator[None]:
    """Starts all tubes at random together: this finds tangled cases that pools miss."""
    for _ in range(FIRST_SCATTER):
        how = Descent(step=COARSE, enough=0.5)
        layout, missing = settled(problem, random_layout(problem, chance), (6.0, 1.0, 0.0), how)
        if missing < 8.0:
            layout, missing = settled(problem, layout, WISHES, Descent(40, flattest=problem.want.flattest))
            if missing < HELD and may_pass(problem, layout):
                keep(problem, found, layout)
        found.nearest = sorted([*found.nearest, (missing, layout)], key=lambda each: each[0])[:KEPT]
        yield
        if found.accepted >= ENOUGH_SCATTERED:
            return


def _improve(
    problem: RouteProblem, found: SearchState, pools: Sequence[Pool], answer: Answer, chance: Chance
) -> Iterator[None]:
    """Images of tubes, fewer bends, pairs sought anew, and swaps for tubes and bores of the pools, while that helps."""
    ways: tuple[Callable[[Answer], Iterable[Layout | None]], ...] = (
        lambda best: repeated(problem, best.layout),
        lambda best: _with_bends_dropped(problem, best.layout),
        lambda best: _rerouted(problem, found, best.layout, pools, chance),
        lambda best: moves(problem, pools, best, found.tried),
        lambda best: _with_bends_dropped(problem, best.layout),
    )
    for layouts in ways[:1] if _is_whole_only(problem) else ways:
        better = True
        while better:
            better = False
            for layout in layouts(answer):
                descend = _tried if layouts is ways[0] else _polished
                got = None if layout is None else descend(problem, found, layout, answer.cost - STEP)
                yield
                if got is not None and got.cost < answer.cost - STEP:
                    answer, better = got, True
                    break
    yield from _onto_shelf(problem, found, pools, answer)


def _rerouted(
    problem: RouteProblem, found: SearchState, layout: Layout, pools: Sequence[Pool], chance: Chance
) -> Iterator[Layout | None]:
    """A layout with pairs of its tubes sought anew, and None after other pieces of work.

    Pairs that were tried least at this cost come first; of these, the dearest. Where only whole bends of the shelf may
    be used, none are: their bends would be whole no longer.
    """
    if _is_whole_only(problem):
        return
    pairs = pairs_to_reroute(problem, layout, pools)
    cost = round(looks(problem, layout))
    for pair in sorted(pairs, key=lambda pair: found.rerouted[cost, *pair])[:PAIRS]:
        found.rerouted[cost, *pair] += 1
        yield from rerouted(problem, layout, pair, chance)


def _onto_shelf(problem: RouteProblem, found: SearchState, pools: Sequence[Pool], answer: Answer) -> Iterator[None]:
    """Whole bends tube by tube first, from its pool too where nothing else may be used; then bend by bend."""
    if _is_whole_only(problem):
        yield from _tubes_onto_shelf(problem, found, pools, answer)
        answer = found.answers[0]
    else:
        answer = yield from _held_in_all_ways(problem, found, answer)
    yield from _bends_onto_shelf(problem, found, answer)


def _held_in_all_ways(problem: RouteProblem, found: SearchState, answer: Answer) -> Generator[None, None, Answer]:
    """The bends of one tube after the other at angles in stock, beside the others, until no tube gains by it."""
    if not bends_in_stock(problem.draft, problem.runs):
        return answer
    left = list(range(problem.count))
    while left:
        tube = left.pop(0)
        key = round(answer.cost, 6), tube
        if key in found.shelved:
            continue
        found.shelved.add(key)
        got = _first_kept(problem, found, at_shelf_angles(problem, answer.layout, tube), answer.cost - GAIN)
        yield
        if got is not None:
            answer, left = got, [k for k in range(problem.count) if k != tube]
    return answer


def _first_kept(problem: RouteProblem, found: SearchState, priced: Sequence[Priced], below: float) -> Answer | None:
    """The cheapest of these layouts that passes the checks, of the first few that cost less than `below`."""
    for each in priced[:TUBES_TRIED]:
        got = _checked(problem, found, each) if each.cost < below else None
        if got is not None and got.cost < below:
            return got
    return None


def _tubes_onto_shelf(
    problem: RouteProblem, found: SearchState, pools: Sequence[Pool], answer: Answer
) -> Iterator[None]:
    """Tube by tube, those with the most bends that are not whole first."""
    free = [run.bends - sum(angle > 0.0 for angle in run.held) for run in answer.layout.runs]
    for tube in sorted(range(problem.count), key=lambda k: -free[k]):
        answer = yield from _tube_onto_shelf(problem, found, (tube, pools[tube]), answer)


def _tube_onto_shelf(
    problem: RouteProblem, found: SearchState, own: tuple[int, Pool], answer: Answer
) -> Generator[None, None, Answer]:
    """All bends of one tube at angles in stock, beside the others; returns the cheaper answer, or the one given."""
    for layout in islice(beside_the_others(problem, answer.layout, *own), TUBES_TRIED):
        got = keep(problem, found, layout)
        yield
        if got is not None and got.cost < answer.cost - GAIN:
            return got
    return answer


def _bends_onto_shelf(problem: RouteProblem, found: SearchState, answer: Answer) -> Iterator[None]:
    """Bends brought to whole angles of the shelf, the nearest first, as long as each makes the answer cheaper."""
    if (round(answer.cost, 6), NO_TUBE) in found.shelved:
        return
    tried: set[tuple[int, int, float]] = set()
    while True:
        found.shelved.add((round(answer.cost, 6), NO_TUBE))
        left = [w for w in to_make_whole(problem, answer.layout) if (w.tube, w.bend, w.angle) not in tried]
        if not left:
            return
        whole = left[0]
        tried.add((whole.tube, whole.bend, whole.angle))
        made = with_whole(problem, answer.layout, whole)
        got = keep(problem, found, made, answer.cost) if made is not None else None
        yield
        answer = got if got is not None and got.cost < answer.cost else answer


def _with_bends_dropped(problem: RouteProblem, layout: Layout) -> Iterator[Layout]:
    for tube, run in enumerate(layout.runs):
        angles = seen(problem, tube, run, 2)[2]
        for bend in np.argsort(angles, kind="stable").tolist() if run.bends > 2 else []:
            yield layout.with_run(tube, without_bend(problem, tube, run, bend))
