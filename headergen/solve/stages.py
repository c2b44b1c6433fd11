"""The order in which the runs of a header are found: the primaries together, then what comes after their collectors.

Tubes from outlets are found once those before them are there: secondaries that go into one collector together and
equally long, each run to a place of its own by itself, one on the side of others after those. Where an answer leaves
the next stage no way, the next best one is tried.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any

from headergen.geometry.curves.run import line_of
from headergen.geometry.curves.sides import in_their_places, reach_on_run
from headergen.model import Draft, Run
from headergen.model.finding import Finding
from headergen.model.lengths import has_common_length
from headergen.solve.collector_at import with_collector_at
from headergen.solve.effort import Effort
from headergen.words.say import say_list

BESIDE_SEAT = 1.0  # mm of straight tube beyond a fishmouth
SPARES = 2  # further answers of a stage, with which the next one is tried if the first leave it no way

Routed = Any  # solve.route.Routed and Answer, which are slow to import
Answer = Any
Search = Callable[[Draft, Effort], Routed]


def stages_of(draft: Draft) -> list[tuple[str, ...]]:
    """Names of the runs to be found, stage by stage."""
    to_find = [run for run in draft.runs if run.to_find]
    first = tuple(run.name for run in to_find if _is_first(run))
    after: dict[str, list[Run]] = {}
    for run in to_find:
        if not _is_first(run):
            after.setdefault(run.end.collector, []).append(run)
    ordered = sorted(after.values(), key=lambda runs: max(_depth(draft, run) for run in runs))
    return [*([first] if first else []), *(tuple(run.name for run in runs) for runs in ordered)]


def _with_seats(draft: Draft) -> Draft:
    """The draft whose paths to be found are straight where another run stands on them."""
    to_find = {run.name: run for run in draft.runs if run.to_find}
    over: dict[str, list[tuple[float, float]]] = {}
    for run in draft.runs:
        for side, _ in run.sides:
            if side.run in to_find:
                half = reach_on_run(side, run.tube.radius, to_find[side.run].tube.radius) + BESIDE_SEAT
                over.setdefault(side.run, []).append((side.at - half, side.at + half))
    runs = (replace(run, straight_over=tuple(over[run.name])) if run.name in over else run for run in draft.runs)
    return replace(draft, runs=tuple(runs))


def _is_first(run: Run) -> bool:
    return has_common_length(run) and not run.sides


def _depth(draft: Draft, run: Run) -> int:
    """How many runs, one after the other, must be there before this one: those before its start, and what it is on."""
    on = {side.run for side, _ in run.sides}
    before = [
        each for each in draft.runs if each.name in on or (each.end.collector == run.source and each.name != run.name)
    ]
    return 1 + max((_depth(draft, each) for each in before), default=-1)


def in_stages(draft: Draft, effort: Effort, search: Search) -> Routed:
    """The answers of a search for all runs that are to be found; `search` finds those of one stage.

    After Ctrl-C, what was found up to then, with the runs of the stages after it still to be found.
    """
    draft, stages = _with_seats(draft), stages_of(draft)

    def search_there(part: Draft, given: Effort) -> Routed:
        return search(in_their_places(part, {run.name: line_of(run) for run in part.runs if not run.to_find}), given)

    if len(stages) == 1:
        return search_there(draft, effort)
    task = _Task(draft, tuple(stages), effort.started(), search_there, [])
    found = _found_from(task, 0, draft)
    rounds = sum(sum(each) for each in task.tries)
    return replace(found, rounds=rounds, shares=(), tries=tuple(task.tries))


@dataclass(frozen=True)
class _Task:
    """A search in stages; `tries` gets the rounds of each search that was made, by its processes."""

    draft: Draft
    stages: tuple[tuple[str, ...], ...]
    effort: Effort
    search: Search
    tries: list[tuple[int, ...]]

    def is_last(self, stage: int) -> bool:
        return stage == len(self.stages) - 1

    def share(self, stage: int) -> float:
        """Of the seconds: by the number of tubes in a stage, and one."""
        weights = [len(names) + 1 for names in self.stages]
        return weights[stage] / sum(weights)


def _found_from(task: _Task, stage: int, before: Draft) -> Routed:
    """The answers from one stage on, for a draft in which the stages before are found."""
    count = 1 if stage else task.effort.answers
    answers = count, 0 if task.is_last(stage) else SPARES
    effort = task.effort.of_search(len(task.tries), task.share(stage), answers)
    effort = replace(effort, lengths=effort.lengths and stage == 0)  # those are the primaries'
    found = task.search(_up_to(task, stage, before), effort)
    task.tries.append(found.shares or (found.rounds,))
    answers_here = tuple(_with_later(task.draft, each) for each in found.answers)
    here = replace(found, answers=answers_here, findings=tuple(_own_findings(found, task.is_last(stage))))
    if task.is_last(stage) or not found.answers or found.stopped:
        return replace(here, answers=here.answers[:count])
    return _with_rest(task, stage, here, count)


def _with_rest(task: _Task, stage: int, here: Routed, count: int) -> Routed:
    """The answers of a stage, as far as the stages after it find their paths beside them."""
    whole, said = list[Answer](), list[Finding]()
    missing: tuple[Finding, ...] = ()
    after = here
    for answer in here.answers:
        if len(whole) == count or (after is not here and task.effort.is_over()):
            break
        try:
            after = _found_from(task, stage + 1, answer.draft)
        except KeyboardInterrupt:
            return replace(here, answers=(*whole, answer)[:count], stopped=True)
        missing = missing or after.findings
        if after.answers:
            whole += [_joined(answer, each) for each in after.answers]
            said += after.findings
        if after.stopped:
            said = [*here.findings, *said]
            return replace(here, answers=tuple(whole)[:count], findings=tuple(said), stopped=True, rough=after.rough)
    if not whole:
        return replace(here, answers=(), findings=(*_none_after(task, stage), *missing))
    fewer = say_fewer(len(whole), count) if stage == 0 else ()
    return replace(here, answers=tuple(whole), findings=(*here.findings, *said, *fewer), cut=here.cut or after.cut)


def _up_to(task: _Task, stage: int, before: Draft) -> Draft:
    """The draft of one stage: without the runs of later ones, and without the parts that they carry."""
    later = {name for names in task.stages[stage + 1 :] for name in names}
    routing = before.routing if stage == 0 else replace(before.routing, moves=())
    return replace(without_runs(before, later), routing=routing)


def without_runs(draft: Draft, names: Collection[str]) -> Draft:
    """The draft without these runs, those that stand on their sides, and all parts that they carry."""
    gone, known = set(names), 0
    while known < len(gone):
        known = len(gone)
        gone |= {run.name for run in draft.runs if any(side.run in gone for side, _ in run.sides)}
    return replace(
        draft,
        runs=tuple(run for run in draft.runs if run.name not in gone),
        bosses=tuple(each for each in draft.bosses if each.host not in gone),
        fitted=tuple(each for each in draft.fitted if not gone & set(each.hosts)),
        as_built=(),
    )


def _with_later(whole: Draft, answer: Answer) -> Answer:
    """The answer with all that its stage left out, and the outlets of collectors that it has moved."""
    found = {run.name: run for run in answer.draft.runs}
    for collector in answer.draft.collectors:
        if collector.frame != next(each.frame for each in whole.collectors if each.name == collector.name):
            whole = with_collector_at(whole, collector.name, collector.frame)
    runs = tuple(found.get(run.name, run) for run in whole.runs)
    return replace(answer, draft=replace(whole, runs=runs, collectors=answer.draft.collectors))


def _joined(answer: Answer, after: Answer) -> Answer:
    """The answer of the last stage, with the cost of all of them."""
    amounts: dict[tuple[str, float], float] = {}
    for term in (*answer.terms, *after.terms):
        amounts[term.what, term.each] = amounts.get((term.what, term.each), 0.0) + term.amount
    kind = type(after.terms[0])
    return replace(after, terms=tuple(kind(what, amount, each) for (what, each), amount in amounts.items()))


def _own_findings(found: Routed, is_last: bool) -> Iterator[Finding]:
    """What is said of a stage; that it has few answers is told of the whole."""
    yield from (each for each in found.findings if is_last or each.rule != "route-alternatives")


def _none_after(task: _Task, stage: int) -> Iterator[Finding]:
    names = say_list(list(task.stages[stage + 1]))
    message = f"Paths were found for {say_list(list(task.stages[stage]))}, but then none for {names}."
    yield Finding("route-stage", "error", names, None, None, "", message)


def say_fewer(made: int, count: int) -> Iterable[Finding]:
    """That there are fewer answers than were asked for, if so."""
    if made >= count:
        return ()
    message = (
        f"{made} of {count} alternatives: no others were found that differ enough and cost at most a quarter "
        f"more than the best; more --seconds or another --seed may find some."
    )
    return (Finding("route-alternatives", "info", "route", float(made), float(count), "alternatives", message),)
