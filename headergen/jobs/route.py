"""The job of the search for paths, in a child that can be stopped with the best answer so far kept."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import ExitStack
from dataclasses import dataclass, replace
from typing import Any

from headergen.jobs.outcome import WorkError
from headergen.jobs.process import Child, Failure, end, give, hear, started
from headergen.model import Draft
from headergen.model.finding import Finding
from headergen.solve.effort import Effort
from headergen.solve.stages import in_stages

Report = Callable[..., None]


@dataclass(frozen=True)
class Sofar:
    """The state of a search: its tries, and the best answer's bends, degrees, spread and room; 0 bends: no answer."""

    rounds: int
    bends: int = 0
    degrees: float = 0.0
    spread: float = 0.0
    room: float = 0.0
    of: str = ""  # the runs that are searched for, if not all of them


def find_paths(
    draft: Draft,
    meshes: Mapping[str, Any],
    effort: Effort,
    watch: Callable[[Sofar], None],
    known: tuple[Finding, ...] = (),
) -> Any:
    """Search for paths in `effort.jobs` child processes, as `solve.route.route` does in one.

    Returns its result; after Ctrl-C, a Routed with the best so far, whose rounds count to that answer. Raises WorkError
    if a child failed.
    """
    with ExitStack() as stack:
        children = []
        for _ in range(effort.jobs):
            children.append(started(_begins))
            stack.callback(end, children[-1])

        def search(part: Draft, given: Effort) -> Any:
            names = [run.name for run in part.runs if run.to_find]
            of = "" if len(names) == sum(run.to_find for run in draft.runs) else " and ".join(names)
            return _until_stopped(children, (part, dict(meshes), given, known), lambda so: watch(replace(so, of=of)))

        return in_stages(draft, effort, search)


def _until_stopped(children: list[Child], task: Any, watch: Callable[[Sofar], None]) -> Any:
    """What the children find, or after Ctrl-C the best so far. Raises KeyboardInterrupt if there is none yet."""
    state = _State([0] * len(children), [None] * len(children), watch)
    try:
        return _side_by_side(children, task, state)
    except KeyboardInterrupt:
        best = state.best()
        if best is None:
            raise
        shares = tuple(state.rounds) if len(children) > 1 else ()
        rounds = sum(state.rounds) if shares else best.rounds
        rough = tuple(run.name for run in task[0].runs if run.to_find)
        return replace(best, rounds=rounds, shares=shares, stopped=True, rough=rough)


@dataclass
class _State:
    """What was heard of each part of a search: its rounds, and its best answers as a Routed."""

    rounds: list[int]
    routed: list[Any]
    watch: Callable[[Sofar], None]

    def hear(self, part: int, rounds: int, news: Any) -> None:
        self.rounds[part] = rounds
        self.routed[part] = news if news is not None else self.routed[part]
        best = self.best()
        total = sum(self.rounds)
        if best is None:
            self.watch(Sofar(total))
            return
        answer = best.answers[0]
        self.watch(Sofar(total, answer.bends, answer.degrees, answer.spread, answer.smallest_gap))

    def best(self) -> Any:
        """The cheapest of all parts, the first of equal ones."""
        return min((each for each in self.routed if each is not None), key=lambda r: r.answers[0].cost, default=None)


def _side_by_side(children: list[Child], task: Any, state: _State) -> Any:
    """Begins in the first child, searches in all, and finishes in the first; the order of hearing changes nothing."""
    _, meshes, effort, known = task
    first = children[0]
    begun = _heard([first], {first: (_begin, task)}, state)[first]
    if begun.without_search is not None:
        return begun.without_search
    works = {child: (_share, (part, begun, meshes, known)) for part, child in enumerate(children)}
    found = _heard(children, works, state)
    parts = [found[child] for child in children]
    routed = _heard([first], {first: (_finish, (begun, parts))}, state)[first]
    return replace(routed, shares=tuple(part.rounds for part in parts)) if effort.jobs > 1 else routed


def _heard(children: list[Child], works: dict[Child, Any], state: _State) -> dict[Child, Any]:
    """The answers of children to their works. Raises WorkError if one fails."""
    answers: dict[Child, Any] = {}
    for child, work in works.items():
        give(child, work)
    while len(answers) < len(works):
        child, kind, content = hear([each for each in works if each not in answers])
        if kind == "progress":
            state.hear(children.index(child), *content)
        elif isinstance(content, Failure):
            raise WorkError(f"the search failed: {content.why}")
        else:
            answers[child] = content
    return answers


def _begins() -> dict[str, Any]:
    """Loads the search; what is kept in the child from one work to the next."""
    import headergen.solve.route

    return {"search": headergen.solve.route}


def _begin(
    draft: Draft,
    meshes: dict[str, Any],
    effort: Effort,
    known: tuple[Finding, ...],
    kept: dict[str, Any],
    report: Report,
) -> Any:
    begun, kept["problem"] = kept["search"].begin(draft, meshes, effort, _watcher(effort, report), known)
    return begun


def _share(part: int, begun: Any, meshes: dict[str, Any], known: Any, kept: dict[str, Any], report: Report) -> Any:
    """One part of the search; only what is needed to go on is sent back."""
    from headergen.solve.route.search import warm_up

    if part > 0:  # the first process has it already
        kept["problem"] = kept["search"].problem_to_search(begun, meshes, known)
        warm_up(kept["problem"])
    effort = begun.effort.share(part)
    found = kept["search"].searched(begun, kept["problem"], effort, _watcher(effort, report))
    return replace(found, tried=set())


def _finish(begun: Any, parts: list[Any], kept: dict[str, Any], report: Report) -> Any:
    search, problem = kept["search"], kept["problem"]
    found = parts[0] if len(parts) == 1 else search.merged(problem, parts)
    return search.finish(begun, problem, found, _watcher(begun.effort, report))


def _watcher(effort: Effort, report: Report) -> Callable[[Any], None]:
    """Reports the rounds of a search, and its best answers whenever they change."""
    from headergen.solve.route import Routed, SearchState

    last: list[Any] = [None]

    def watch(found: SearchState) -> None:
        news = None
        if found.best is not None and found.best is not last[0]:
            news = Routed(tuple(found.answers[: effort.answers]), found.rounds, found.places)
            last[0] = found.best
        report(found.rounds, news)

    return watch
