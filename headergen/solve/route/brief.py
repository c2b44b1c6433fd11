"""A search that ends at its first answer, for questions of the kind "are there paths if …"."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

from headergen.solve.route.answer import Answer
from headergen.solve.route.problem import RouteProblem
from headergen.solve.route.search import SearchState, search

Watch = Callable[[SearchState], None]


@dataclass(frozen=True)
class Allowed:
    """The limit of a short search: `rounds`, or the time `until` on the clock `now`."""

    rounds: float
    until: float
    seed: int = 0
    now: Callable[[], float] = time.monotonic

    @property
    def is_over(self) -> bool:
        return self.now() >= self.until


def first_answer(problem: RouteProblem, allowed: Allowed, watch: Watch = lambda _: None) -> tuple[Answer | None, int]:
    """The first answer of a search, or None if it gave up, and its tries; `watch` sees states without answers."""
    for found in search(problem, allowed.seed):
        if found.best is not None:
            return found.best, found.rounds
        watch(found)
        if found.rounds >= allowed.rounds or allowed.is_over:
            return None, found.rounds
    raise AssertionError("a search ends only with its reader")
