"""The best place of a collector within the ranges of the spec.

Places are tried one after the other: first the given one, then in turns one of an even sequence over all ranges and one
near the best so far, nearer and nearer. A place is judged by a short search, always with the same rounds, by the cost
of its answer, or by its miss if it has none. Seed and number of places repeat the choice exactly; the best place then
gets a full search.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np
from scipy.stats import qmc

from headergen.checks.measure import Meshes
from headergen.geometry.arrays import Array
from headergen.geometry.frames import angle_between, norm, rotated, subtract, tilted, vec
from headergen.model import Draft, Frame, Move
from headergen.model.finding import Finding
from headergen.solve.collector_at import with_collector_at
from headergen.solve.effort import Effort
from headergen.solve.route.answer import Answer
from headergen.solve.route.cost import CostTerm
from headergen.solve.route.infeasibility import what_forbids_it
from headergen.solve.route.problem import problem_of
from headergen.solve.route.search import SearchState, search
from headergen.words.say import say_length, say_way, shown_length

SHARE = 0.5  # of the seconds, for the choice of the place
LATEST = 0.6  # of the seconds, after which the current place is given up
PLACES = 24  # if rounds are given and places are not
ROUNDS, AFTER = 48, 12  # of the search at one place: at most, and after its first answer
NEAR, NEARER = 0.25, 0.93  # of each range: distance from the best place; the factor by which it shrinks each try
TENTH = 1  # decimal of a millimetre to which places are rounded
FORBIDDEN = (2, 0.0)
NOT_JUDGED = (1, math.inf)

Watch = Callable[[SearchState], None]
Score = tuple[int, float]  # 0 and the cost, or 1 and the miss or FORBIDDEN; less is better


@dataclass(frozen=True, eq=False)
class CollectorPlacement:
    """The best of the places tried: the draft with its collectors there."""

    draft: Draft
    values: Array  # (n,) in the unit cube of all ranges
    score: Score
    tried: int
    solved: int


def best_placement(draft: Draft, meshes: Meshes, effort: Effort, watch: Watch) -> CollectorPlacement:
    """The best place for all movable collectors, out of as many as `effort` allows, at least one.

    `watch` is called with the best answer at any place so far.
    """
    effort, chance = effort.started(), np.random.default_rng(effort.seed)
    size = len(start_of(draft))
    even = qmc.Halton(size, scramble=True, seed=effort.seed)
    best: CollectorPlacement | None = None
    shown, solved, tried = SearchState(), 0, 0
    while tried == 0 or _goes_on(effort, tried):
        values = start_of(draft)
        if tried % 2 == 1 or (tried > 0 and best is not None and best.score[0] > 0):
            values = even.random(1)[0]
        elif best is not None:
            values = np.clip(best.values + chance.normal(size=size) * NEAR * NEARER**tried, 0.0, 1.0)
        place = placed(draft, values)
        judged, shown = _judged(place, meshes, effort, shown, watch)
        if judged is None and best is not None:
            break  # cut off by the clock, so it could not be repeated
        rank, cost = judged or NOT_JUDGED
        score = (rank, cost + cost_of_moving(draft, place).cost if rank == 0 else cost)
        tried, solved = tried + 1, solved + (score[0] == 0)
        if best is None or score < best.score:
            best = CollectorPlacement(place, values, score, tried, solved)
    assert best is not None
    return replace(best, tried=tried, solved=solved)


def _goes_on(effort: Effort, tried: int) -> bool:
    if effort.places is not None:
        return tried < effort.places
    return tried < PLACES if effort.rounds is not None else not effort.is_over(SHARE)


def _judged(
    place: Draft, meshes: Meshes, effort: Effort, shown: SearchState, watch: Watch
) -> tuple[Score | None, SearchState]:
    """The score of a place (None if the clock cut its search off), and the answer to show after it."""
    if what_forbids_it(place, meshes):
        return FORBIDDEN, shown
    first: int | None = None
    for found in search(problem_of(place, meshes), effort.seed):
        here: Answer | None = found.best
        first = found.rounds if first is None and here is not None else first
        if here is not None and (shown.best is None or here.cost < shown.best.cost):
            shown = replace(shown, answers=[here])
        shown.rounds += 1
        watch(shown)
        if found.rounds >= ROUNDS or (first is not None and found.rounds >= first + AFTER):
            return (0, here.cost) if here is not None else (1, _missing(found)), shown
        if effort.places is None and effort.is_over(LATEST):
            return None, shown
    raise AssertionError("a search ends only with its reader")


def cost_of_moving(given: Draft, place: Draft) -> CostTerm:
    """The cost of moving collectors from their given places: each 10 mm and each degree."""
    amount = 0.0
    for move in given.routing.moves:
        before, after = (_standing(each, move.collector) for each in (given, place))
        amount += norm(subtract(after.origin, before.origin)) / 10.0 + math.degrees(angle_between(before.z, after.z))
    return CostTerm("10 mm or degrees that collectors are moved", amount, given.routing.cost_weights.moved)


def with_ranges_from_there(given: Draft, place: Draft) -> Draft:
    """The draft with its collectors moved, and their ranges counted from where they now stand."""
    moves = []
    for move in given.routing.moves:
        by = subtract(_standing(place, move.collector).origin, _standing(given, move.collector).origin)
        moves.append(replace(move, low=subtract(move.low, by), high=subtract(move.high, by)))
    return replace(place, routing=replace(place.routing, moves=tuple(moves)))


def _standing(draft: Draft, name: str) -> Frame:
    return next(collector.frame for collector in draft.collectors if collector.name == name)


def _missing(found: SearchState) -> float:
    return min((missing for missing, _ in found.nearest), default=math.inf)


def start_of(draft: Draft) -> Array:
    """(n,) the given place in the unit cube of all ranges; outside a range, the nearest place in it."""
    return np.array([value for move in draft.routing.moves for value in _start(move)])


def _start(move: Move) -> Iterator[float]:
    for low, high in _spans(move):
        yield min(max(-low / (high - low), 0.0), 1.0)


def _spans(move: Move) -> list[tuple[float, float]]:
    """The ranges of the coordinates: places along x, y, z, two of a tilt, the turn."""
    spans = list(zip(move.low, move.high, strict=True)) + [(-move.lean, move.lean)] * 2 + [move.turn]
    return [(low, high) for low, high in spans if high > low]


def placed(draft: Draft, values: Array) -> Draft:
    """The draft with its collectors at a point of the unit cube (n,)."""
    left = iter(values.tolist())
    for move in draft.routing.moves:
        collector = next(c for c in draft.collectors if c.name == move.collector)
        draft = with_collector_at(draft, move.collector, _frame(collector.frame, move, left))
    return draft


def _frame(frame: Frame, move: Move, left: Iterator[float]) -> Frame:
    def within(low: float, high: float) -> float:
        return low + (high - low) * next(left) if high > low else low

    x, y, z = (within(low, high) for low, high in zip(move.low, move.high, strict=True))
    a, b = within(-move.lean, move.lean), within(-move.lean, move.lean)
    leaned = tilted(frame, min(math.hypot(a, b), move.lean), math.atan2(b, a)) if move.lean > 0 else frame
    turn = within(*move.turn)
    x_axis, y_axis = (rotated(axis, leaned.z, turn) for axis in (leaned.x, leaned.y))
    shift = (_tidy(*each) for each in zip(frame.origin, (x, y, z), move.low, move.high, strict=True))
    return Frame(vec(np.array(list(shift))), x_axis, y_axis, leaned.z)


def _tidy(value: float, by: float, low: float, high: float) -> float:
    """A coordinate rounded to a tenth if it was moved, and still in its range."""
    return value if abs(by) < 1e-9 else min(max(round(value + by, TENTH), value + low), value + high)


def _turn_of(move: Move, values: Array, draft: Draft) -> float:
    """The angle by which a place turns a collector about its own axis."""
    at = 0
    for each in draft.routing.moves:
        at += len(_spans(each))
        if each.collector == move.collector:
            break
    low, high = move.turn
    return low + (high - low) * float(values[at - 1]) if high > low else low


def say_placement(given: Draft, site: CollectorPlacement) -> Iterator[Finding]:
    """For each movable collector, how far it was moved, and out of how many places."""
    units = given.units
    for move in given.routing.moves:
        before, after = (_standing(each, move.collector) for each in (given, site.draft))
        by = subtract(after.origin, before.origin)
        far, level = norm(by), "none of them with paths" if not site.solved else f"{site.solved} with paths"
        moved = f"moved {say_length(far, units)} {say_way(by)}" if far > 0 else "stays where it is"
        lean = math.degrees(angle_between(before.z, after.z))
        turn = _turn_of(move, site.values, given)
        turned = f", leaned by {lean:.1f}°" if lean > 0.05 else ""
        turned += f", turned by {math.degrees(turn):.1f}°" if abs(turn) > 1e-3 else ""
        message = f"Collector {move.collector} {moved}{turned}: the best of {site.tried} places tried, {level}."
        yield Finding("route-place", "info", "route", shown_length(far, units), None, units, message)
