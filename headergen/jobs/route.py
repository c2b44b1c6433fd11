"""The job of the search for paths, in a child that can be stopped with the best answer so far kept."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import closing
from dataclasses import dataclass, replace
from typing import Any

from headergen.jobs.outcome import WorkError
from headergen.jobs.process import Failure, talk
from headergen.model import Draft
from headergen.model.finding import Finding
from headergen.solve.effort import Effort


@dataclass(frozen=True)
class Sofar:
    """The state of a search: its tries, and the best answer's bends, degrees, spread and room; 0 bends: no answer."""

    rounds: int
    bends: int = 0
    degrees: float = 0.0
    spread: float = 0.0
    room: float = 0.0


def find_paths(
    draft: Draft,
    meshes: Mapping[str, Any],
    effort: Effort,
    watch: Callable[[Sofar], None],
    known: tuple[Finding, ...] = (),
) -> Any:
    """Search for paths in a child process, as `solve.route.route` does.

    Returns its result; after Ctrl-C, a Routed with the best so far, whose rounds count to that answer. Raises WorkError
    if the child failed.
    """
    best: Any = None
    try:
        with closing(talk((_find, (draft, dict(meshes), effort, known)))) as heard:
            for kind, content in heard:
                if kind == "progress":
                    best = content[1] if content[1] is not None else best
                    watch(content[0])
                elif isinstance(content, Failure):
                    raise WorkError(f"the search failed: {content.why}")
                else:
                    return content
    except KeyboardInterrupt:
        if best is None:
            raise
        return replace(best, stopped=True)
    raise AssertionError("the last that is heard is an answer")


def _find(
    draft: Draft, meshes: dict[str, Any], effort: Effort, known: tuple[Finding, ...], report: Callable[..., None]
) -> Any:
    from headergen.solve.route import Found, Routed, route

    last: list[Any] = [None]

    def watch(found: Found) -> None:
        best = found.best
        if best is None:
            report(Sofar(found.rounds), None)
            return
        news = None if best is last[0] else Routed(tuple(found.answers[: effort.answers]), found.rounds, found.places)
        last[0] = best
        report(Sofar(found.rounds, best.bends, best.degrees, best.spread, best.smallest_gap), news)

    return route(draft, meshes, effort, watch, known)
