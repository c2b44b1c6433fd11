"""The shortest and the longest equal length for which paths were found, with the collector in its place.

From one answer the length is changed in steps: the tubes of the last answer are stretched or shortened to the next
length. If that fails, a short search starts anew; if that fails too, the step is halved. Only the straight-line bound
is proof. For the rest, the finding says how many tries found nothing beyond.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from headergen.checks.measure import Meshes
from headergen.model import Draft
from headergen.model.finding import Finding
from headergen.solve.effort import Effort
from headergen.solve.route.answer import Answer, answer_of
from headergen.solve.route.brief import Allowed, Watch, first_answer
from headergen.solve.route.layout import HELD, Descent, polished, settled
from headergen.solve.route.problem import WITHIN, RouteProblem, least_length, problem_of, target_of
from headergen.words.say import say_length, say_tries, shown_length

FIRST_STEP, LEAST_STEP = 64.0, 2.0  # mm
ROUNDS = 60  # of a search at one length
THERE = 0.05  # mm from the target
NOTHING = 0.005  # of the cost: what the target itself may cost
MOST = 2.5  # of the straight-line bound: longer lengths are not searched


@dataclass(frozen=True, eq=False)
class Extreme:
    """The answer at the end of the range, and the tries made beyond it."""

    answer: Answer
    tries: int

    @property
    def length(self) -> float:
        return self.answer.layout.length


def may_vary(draft: Draft) -> bool:
    """Whether the common length is free: every primary is to be found, and none has a length of its own."""
    return all(run.to_find and run.target is None for run in draft.primaries)


def lengths_that_fit(
    draft: Draft, meshes: Meshes, effort: Effort, known: Sequence[Answer] = (), watch: Watch = lambda _: None
) -> tuple[Extreme, Extreme] | int:
    """The shortest and the longest answer; or the number of tries, if none was found at all.

    `known` are answers with the collector where it is: none of them is shorter or longer than what is returned. Takes
    at most the seconds of one search, or its rounds at each length.
    """
    problem, bound = problem_of(_without_targets(draft), meshes), least_length(draft)
    effort, rounds = effort.anew(), ROUNDS if effort.rounds is None else min(ROUNDS, effort.rounds)

    def within(rounds: float, share: float) -> Allowed:
        return Allowed(rounds, effort.until(share), effort.seed, effort.now)

    if not known:
        at_first = within(math.inf if effort.rounds is None else effort.rounds, 0.4)
        wide = replace(problem, want=problem.want._replace(shortest=bound, longest=MOST * bound))
        first, tries = first_answer(wide, at_first, watch)
        if first is None:
            return tries
        known = (first,)
    low, high = (way(known, key=lambda answer: answer.layout.length) for way in (min, max))
    shortest = _farthest(problem, low, -1, (bound, within(rounds, 0.7)))
    return shortest, _farthest(problem, high, 1, (bound, within(rounds, 1.0)))


def say_lengths(found: tuple[Extreme, Extreme] | int, draft: Draft) -> Finding:
    """The result as a finding."""
    units, bound = draft.units, say_length(least_length(draft), draft.units)
    if isinstance(found, int):
        message = "No time was left to look for equal lengths; give it more --seconds."
    if isinstance(found, int) and found > 0:
        message = (
            f"No equal length was found at which paths fit with the collector where it is, in {say_tries(found)}; the "
            f"straight-line bound is {bound}."
        )
    if isinstance(found, int):
        return Finding("route-lengths", "info", "route", float(found), None, "tries", message)
    low, high = found
    shown = shown_length(low.length, units), shown_length(high.length, units)
    longer = f"{_none_beyond('longer', high)}, which is no proof" if high.tries else _none_beyond("longer", high)
    if high.length > MOST * least_length(draft) - 2 * LEAST_STEP:
        longer = "longer ones were not looked for"
    message = (
        f"Equal lengths with the collector where it is: the shortest that was found is "
        f"{say_length(low.length, units)} ({_none_beyond('shorter', low)}; none at all below the straight-line "
        f"bound of {bound}), the longest {say_length(high.length, units)} ({longer})."
    )
    return Finding("route-lengths", "info", "route", *shown, units, message)


def _none_beyond(way: str, extreme: Extreme) -> str:
    return f"none {way} in {say_tries(extreme.tries)}" if extreme.tries else f"no time was left to look for {way} ones"


def say_settled() -> Finding:
    """Why the length was not searched, if it may not vary."""
    message = (
        "The shortest and the longest equal length were not looked for: a primary that keeps its path, or has a length "
        "of its own, fixes the length of all."
    )
    return Finding("route-lengths", "info", "route", None, None, "", message)


def _farthest(problem: RouteProblem, known: Answer, way: int, limits: tuple[float, Allowed]) -> Extreme:
    """The extreme from a known answer, shorter (−1) or longer (1), between the bound and MOST times the bound."""
    bound, allowed = limits
    best, step, tries = known, FIRST_STEP, 0
    while step >= LEAST_STEP and not allowed.is_over:
        goal = best.layout.length + way * step
        made = None
        if bound <= goal <= MOST * bound:
            made, more = _at_length(at_length(problem, goal), best, allowed)
            tries += more
        if made is None:
            step /= 2
            continue
        if way * (made.layout.length - best.layout.length) < step / 2:
            step = max(step / 2, LEAST_STEP)
        best, tries = made, 0
    return Extreme(best, tries)


def _at_length(problem: RouteProblem, near: Answer, allowed: Allowed) -> tuple[Answer | None, int]:
    drawn = polished(problem, replace(near.layout, length=problem.want.shortest))
    answer = None if drawn is None else answer_of(problem, drawn)
    if answer is not None:
        return answer, 1
    answer, tries = first_answer(problem, allowed)
    return answer, tries + 1


def at_target(problem: RouteProblem, answer: Answer) -> Answer:
    """The answer at the length asked for itself, not at the edge of its tolerance, if that costs next to nothing."""
    want, target = problem.want, target_of(problem)
    if target is None or abs(answer.layout.length - target) < THERE:
        return answer
    pinned = replace(problem, want=want._replace(shortest=target, longest=target))
    layout = replace(answer.layout, length=target)
    layout, missing = settled(pinned, layout, (0.1, 0.02, 0.0), Descent(flattest=want.flattest))
    made = answer_of(problem, layout, answer.cost + NOTHING * max(answer.cost, answer.degrees))
    return answer if missing > HELD or made is None else replace(made, round=answer.round)


def at_length(problem: RouteProblem, length: float) -> RouteProblem:
    """The problem with this common length required."""
    spare = WITHIN * problem.draft.length.tolerance
    return replace(problem, want=problem.want._replace(shortest=length - spare, longest=length + spare))


def _without_targets(draft: Draft) -> Draft:
    """The draft in which all primaries must be equal, at any length."""
    routing = replace(draft.routing, length=None, shortest=False)
    return replace(draft, length=replace(draft.length, target=None), routing=routing)
