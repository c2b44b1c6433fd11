"""Finds the paths of primaries from ports, bores and chassis: equally long, clear, with few bends that can be bought.

How it works, and why. A tube is a polyline whose first leg is on its port's axis and whose last leg is on its bore's
axis; each inner corner is rounded by an arc of a stock radius (`kernels/shape.py`). So it leaves and arrives exactly,
whatever its unknowns are, and the search need not spend effort on closing it. All requirements become hinges, which are
0 when they are met. All tubes descend together by Levenberg–Marquardt, with a penalty on bending that fades to nothing,
so that the last descent works on the requirements alone (`kernels/`, `layout.py`). A descent finds what is near its
start. Starts come from several sources, because each finds headers that the others miss: random starts of all tubes at
once, pools of single tubes that a beam search combines to sets (`starts.py`, `choose.py`), bundles that follow one tube
(`bundles.py`), and headers in parts: a family's tubes as images of each other, or two halves (`parts.py`). Images of
tubes, the removal of bends, pairs of tubes sought anew between the others (`rerouting.py`), and swaps of tubes and
bores improve a header once found (`search.py`); only what then looks cheaper is descended to its end, and checked.
Random starts of a general optimiser on the same requirements solve fewer headers in the same time;
tests/benchmarks/bench_route_starts.py compares them.

The model samples tubes and chassis, and is never relied on: every answer has been judged by the exact checks, with the
digits that are written (`answer.py`). Work is cut into rounds that do not depend on the clock, so a seed and a number
of rounds give the same answer on the same machine.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice

from headergen.checks.measure import Meshes
from headergen.model import Draft
from headergen.model.finding import Finding
from headergen.solve.effort import Effort
from headergen.solve.route.answer import Answer
from headergen.solve.route.collector_placement import (
    best_placement,
    cost_of_moving,
    say_placement,
    with_ranges_from_there,
)
from headergen.solve.route.copies import say_copies, with_copies
from headergen.solve.route.cost import CostTerm
from headergen.solve.route.count import say_on_hand
from headergen.solve.route.growing import say_steps
from headergen.solve.route.infeasibility import between, items_in_the_way, none_found, what_forbids_it
from headergen.solve.route.lengths import at_target, lengths_that_fit, may_vary, say_lengths, say_settled
from headergen.solve.route.merged import merged
from headergen.solve.route.problem import RouteProblem, problem_of
from headergen.solve.route.relaxations import say_help, what_would_help
from headergen.solve.route.rounding import in_whole_degrees, say_whole
from headergen.solve.route.search import SETTLED, SearchState, are_alike, is_compiled, search, warm_up
from headergen.solve.route.straight import say_straight, straight_answer
from headergen.solve.stages import in_stages, say_fewer

FOR_ROUNDING = 0.12  # of the seconds, reserved for whole degrees
MOST_FOR_ROUNDING = 2.0  # seconds, for each answer
FOR_CHANGES = 0.25  # of the seconds, reserved for single changes while nothing is found
LONG = 10.0  # seconds from which this is reserved: a first answer may need most of a shorter search
LAST_PIECE = 0.96  # of the seconds, after which no new work is started
MOST_AT_ONCE = 4  # answers for which this time is reserved
WORTH_SHOWING = 1.25  # of the best answer's cost: others up to this are worth a look


@dataclass(frozen=True, eq=False)
class Routed:
    """The result of a search: answers, best first; the number of rounds; why there are no answers."""

    answers: tuple[Answer, ...]
    rounds: int
    places: int = 0  # tried for movable collectors
    findings: tuple[Finding, ...] = ()
    stopped: bool = False  # by Ctrl-C
    rough: tuple[str, ...] = ()  # names of runs that Ctrl-C left without whole degrees
    cut: bool = False  # by the clock, during the whole degrees
    shares: tuple[int, ...] = ()  # of the rounds, if several processes searched
    tries: tuple[tuple[int, ...], ...] = ()  # the rounds of each search by its processes, if it was in stages

    @property
    def repeated_by(self) -> str:
        """The rounds as `headergen route --rounds` takes them."""
        return "+".join(",".join(map(str, each)) for each in self.tries or (self.shares or (self.rounds,),))


Watch = Callable[[SearchState], None]


@dataclass(frozen=True, eq=False)
class Begun:
    """What a search starts from: the draft with its collectors placed, and the effort once the kernels are ready.

    `moved`, `places` and `said` are of movable collectors; `forbids` says why no search could help, `straight` is the
    answer that needs none.
    """

    draft: Draft
    effort: Effort
    moved: tuple[CostTerm, ...] = ()
    places: int = 0
    said: tuple[Finding, ...] = ()
    forbids: tuple[Finding, ...] = ()
    straight: Answer | None = None

    @property
    def without_search(self) -> Routed | None:
        """The result if no search is to be made."""
        if not self.forbids and self.straight is None:
            return None
        answers = () if self.straight is None else (self.straight,)
        return Routed(answers, 0, self.places, (*self.said, *self.forbids))


def route(
    draft: Draft,
    meshes: Meshes,
    effort: Effort,
    watch: Watch = lambda _: None,
    known: tuple[Finding, ...] = (),
) -> Routed:
    """Paths for all runs of a draft that are to be found, in this process; `watch` is called after every round.

    `meshes` holds the arrays of every chassis item that is a mesh. `known`: errors of the parts that stay; an answer
    need not fix them. If no search could help, none is made.
    """
    found: Routed = in_stages(draft, effort, lambda part, given: _route_at_once(part, meshes, given, watch, known))
    return found


def _route_at_once(draft: Draft, meshes: Meshes, effort: Effort, watch: Watch, known: tuple[Finding, ...]) -> Routed:
    """Paths for runs that are searched for together."""
    begun, problem = begin(draft, meshes, effort, watch, known)
    if problem is None:
        assert begun.without_search is not None
        return begun.without_search
    return finish(begun, problem, searched(begun, problem, begun.effort, watch), watch)


def begin(
    draft: Draft, meshes: Meshes, effort: Effort, watch: Watch = lambda _: None, known: tuple[Finding, ...] = ()
) -> tuple[Begun, RouteProblem | None]:
    """Everything before the search, and its problem; None if no search is to be made."""
    begun = Begun(draft, effort.started())
    if draft.routing.moves:
        effort = _ready(problem_of(draft, meshes), begun.effort)
        site = best_placement(draft, meshes, effort, watch)
        moved = (cost_of_moving(draft, site.draft),)
        there = with_ranges_from_there(draft, site.draft)
        begun = Begun(there, effort, moved, site.tried, tuple(say_placement(draft, site)))
    forbids = what_forbids_it(begun.draft, meshes, known)
    if forbids:
        return replace(begun, forbids=(*forbids, *_eased(begun, meshes, forbids, watch, known))), None
    problem = problem_to_search(begun, meshes, known)
    if (straight := straight_answer(problem)) is not None:
        return replace(begun, straight=straight, said=(*begun.said, *say_straight(straight, problem))), None
    return replace(begun, effort=_ready(problem, begun.effort)), problem


def _eased(
    begun: Begun, meshes: Meshes, forbids: tuple[Finding, ...], watch: Watch, known: tuple[Finding, ...]
) -> Iterator[Finding]:
    """What would help against what forbids every path, if that is asked."""
    if not _tries_changes(begun.effort) or any(each.rule == "route-order" for each in forbids):
        return
    effort = _ready(problem_of(begun.draft, meshes, known), begun.effort)
    names = {each.against for each in forbids}
    items = [item.name for item in begun.draft.chassis if item.name in names]
    helps = what_would_help(begun.draft, meshes, _for_changes(effort), watch, items, known)
    yield from say_help(helps, begun.draft.units, effort.relax)


def _tries_changes(effort: Effort) -> bool:
    """Whether single changes are tried where nothing is found; with rounds only if asked, so that they stay cheap."""
    return effort.relax or effort.rounds is None


def _for_changes(effort: Effort) -> Effort:
    """The time for single changes: that of another search if they are asked for, else what is left of this one."""
    return effort.anew() if effort.relax else effort.rest()


def problem_to_search(begun: Begun, meshes: Meshes, known: tuple[Finding, ...]) -> RouteProblem:
    """The problem of a search, as each process that takes a share of it sets it up."""
    return replace(problem_of(begun.draft, meshes, known), moved=begun.moved)


def searched(begun: Begun, problem: RouteProblem, effort: Effort, watch: Watch = lambda _: None) -> SearchState:
    """The search by the rounds of `effort`, or as many rounds as leave time for the whole degrees."""

    def watch_there(found: SearchState) -> None:
        found.places = begun.places
        watch(found)

    return _searched(problem, effort, watch_there)


def finish(begun: Begun, problem: RouteProblem, found: SearchState, watch: Watch = lambda _: None) -> Routed:
    """The answers in whole degrees, or why there are none."""
    routed = _finished(problem, found, begun.effort, watch)
    return replace(routed, places=begun.places, findings=(*begun.said, *routed.findings))


def _finished(problem: RouteProblem, found: SearchState, effort: Effort, watch: Watch) -> Routed:
    draft, meshes = problem.draft, problem.meshes
    if not found.answers:
        return Routed((), found.rounds, findings=tuple(_why_none(problem, found, effort, watch)))
    most = WORTH_SHOWING * found.answers[0].cost
    worth = [answer for answer in found.answers if answer.cost <= most or answer is found.best]
    clock = _Clock(effort)
    answers = tuple(_whole_and_unlike(problem, worth, clock))
    spares = (each for each in found.answers if not any(are_alike(problem, each.layout, k.layout) for k in answers))
    lengths = _lengths(draft, meshes, effort, (*found.answers, *answers))  # whole degrees may have changed the length
    said = (*_settled(found), *say_fewer(len(answers), effort.answers), *lengths)
    said = (
        *said,
        *say_steps(answers[0].draft, problem.runs),
        *say_whole(problem, answers),
        *say_on_hand(answers),
        *say_copies(problem, answers[0], effort.is_over),
        *(_not_all_whole() if clock.has_cut else ()),
    )
    return Routed((*answers, *islice(spares, effort.spares)), found.rounds, findings=said, cut=clock.has_cut)


def _why_none(problem: RouteProblem, found: SearchState, effort: Effort, watch: Watch) -> Iterator[Finding]:
    """What the nearest try misses, the equal lengths that fit, and the single changes that would help."""
    draft, meshes = problem.draft, problem.meshes
    if not _tries_changes(effort):
        yield from (*none_found(problem, found), *_lengths(draft, meshes, effort, ()), *between(problem), *_may_ask())
        return
    given = _for_changes(effort)
    items = items_in_the_way(problem, found) if not given.is_over() else ()
    helps = what_would_help(draft, meshes, given, watch, items, problem.known)
    # no length is called the shortest or the longest beside one that was found
    seen = [each.answer for each in helps.helped if each.is_length]
    yield from none_found(problem, found)
    yield from _lengths(draft, meshes, effort, seen, effort.relax)
    yield from say_help(helps, draft.units, effort.relax)
    yield from between(problem)


def _ready(problem: RouteProblem, effort: Effort) -> Effort:
    """The effort once the kernels are ready; compiling them, once for each version, is not counted."""
    compiled, before = is_compiled(), effort.now()
    warm_up(problem)
    assert effort.begun is not None, "the clock runs"
    return effort if compiled else replace(effort, begun=effort.begun + effort.now() - before)


def _searched(problem: RouteProblem, effort: Effort, watch: Watch) -> SearchState:
    """The search result after the given rounds, or as many rounds as leave time for the whole degrees."""
    for_rounding = min(FOR_ROUNDING, MOST_FOR_ROUNDING / effort.seconds) * min(effort.answers, MOST_AT_ONCE)
    for_changes = for_rounding if effort.relax or effort.seconds < LONG else max(for_rounding, FOR_CHANGES)
    found, before = SearchState(), effort.now()
    for found in search(problem, effort.seed, effort.stream, WORTH_SHOWING if effort.answers > 1 else 1.0):
        watch(found)
        now = effort.now()
        if found.rounds >= (math.inf if effort.rounds is None else effort.rounds):
            break
        reserved = for_changes if found.best is None else for_rounding
        if now + (now - before) / 2 >= effort.until(1.0 - reserved):  # another round would end too late
            break
        before = now
    return found


@dataclass
class _Clock:
    """Tells when an effort is over, and remembers whether it was."""

    effort: Effort
    has_cut: bool = False

    def is_over(self) -> bool:
        self.has_cut = self.has_cut or self.effort.is_over(LAST_PIECE)
        return self.has_cut


def _not_all_whole() -> Iterator[Finding]:
    message = "Time ran out while angles were made whole degrees; more --seconds may make more of them whole."
    yield Finding("route-whole", "info", "route", None, None, "", message)


def _may_ask() -> Iterator[Finding]:
    message = "--relax tries single changes, each by a search of its own, and says how little of each is enough."
    yield Finding("route-relax", "info", "route", None, None, "", message)


def _settled(found: SearchState) -> Iterator[Finding]:
    if found.is_settled:
        message = (
            f"Nothing better in the last {found.idle} of {found.rounds} tries: the search has settled; "
            f"the seconds left went to tidiness."
        )
        yield Finding("route-settled", "info", "route", float(found.idle), float(SETTLED), "tries", message)


def _lengths(
    draft: Draft, meshes: Meshes, effort: Effort, known: Sequence[Answer], even_so: bool = False
) -> Iterator[Finding]:
    if (effort.lengths or even_so) and may_vary(draft):
        yield say_lengths(lengths_that_fit(draft, meshes, effort, known), draft)
    elif effort.lengths:
        yield say_settled()


def _whole_and_unlike(problem: RouteProblem, answers: Sequence[Answer], clock: _Clock) -> list[Answer]:
    """The best answers in whole degrees; an answer that would become like another one keeps its own degrees."""
    count = clock.effort.answers
    kept: list[Answer] = []
    for answer in answers:
        if len(kept) == count:
            break
        ways = (answer,) if clock.effort.as_found else (_tidied(problem, answer, clock), answer)
        unlike = (made for made in ways if not any(are_alike(problem, made.layout, k.layout) for k in kept))
        kept.extend(islice(unlike, 1))
    return kept


def _tidied(problem: RouteProblem, answer: Answer, clock: _Clock) -> Answer:
    """The answer with cheaper copies, at the length asked for, in whole degrees where that costs next to nothing."""
    copied = with_copies(problem, answer, clock.is_over)
    return in_whole_degrees(problem, at_target(problem, copied), clock.is_over)


__all__ = [
    "Answer",
    "Begun",
    "Effort",
    "Routed",
    "SearchState",
    "begin",
    "finish",
    "merged",
    "problem_to_search",
    "route",
    "searched",
]
