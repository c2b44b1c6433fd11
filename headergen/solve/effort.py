"""The time limit of a search for paths; apart from the search, which is slow to import."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Self


@dataclass(frozen=True)
class Effort:
    """How long to search: for `rounds`, or else for `seconds`; `answers` is the number of answers to choose from.

    The seconds count from `begun` on the clock `now`, and include everything: start, search, whole degrees.
    """

    seed: int = 0
    seconds: float = 20.0
    rounds: int | None = None
    shares: tuple[int, ...] = ()  # of the rounds, one for each process that searches; empty: they are shared evenly
    searches: tuple[tuple[int, ...], ...] = ()  # the same for each search of a header in stages, one after the other
    jobs: int = 1  # processes that search side by side
    stream: int = 0  # of the seed, for one of these processes
    answers: int = 1
    spares: int = 0  # further answers, as they were found, for a search that goes on from them
    as_found: bool = (
        False  # angles stay as they were found, lengths too: nothing is made whole or brought to its target
    )
    last_as_found: bool = False  # the same in the last of `searches` alone
    relax: bool = False  # if nothing is found, search as long again for a change that would help, not in the rest only
    places: int | None = None  # number of places tried for movable collectors; None: half of the seconds
    lengths: bool = False  # search as long again for the shortest and the longest equal length; so does relax
    begun: float | None = None  # None: when the search is called
    now: Callable[[], float] = time.monotonic

    def started(self) -> Self:
        """The effort with its clock running; a running clock goes on."""
        return self if self.begun is not None else replace(self, begun=self.now())

    def share(self, part: int) -> Self:
        """The effort of one of the processes, with a stream of its own."""
        if self.jobs == 1:
            return self
        rounds = self.rounds
        if rounds is not None:
            even = rounds // self.jobs + (part < rounds % self.jobs)
            rounds = self.shares[part] if self.shares else even
        return replace(self, stream=part, rounds=rounds, shares=(), jobs=1)

    def of_search(self, number: int, share: float, answers: tuple[int, int]) -> Self:
        """The effort of one search of several, counted from 0: its share of the seconds, or its own rounds.

        `answers`: how many are to be chosen from, and how many more it may go on from.
        """
        own = replace(self, answers=answers[0], spares=answers[1], seconds=share * self.seconds, searches=())
        own = own if number == 0 else replace(own, begun=self.now())
        if not self.searches:
            return own
        rounds = self.searches[min(number, len(self.searches) - 1)]
        own = replace(own, as_found=self.as_found or (self.last_as_found and number >= len(self.searches) - 1))
        return replace(own, rounds=sum(rounds), shares=rounds if len(rounds) > 1 else ())

    def anew(self) -> Self:
        """The effort for a second search of the same time."""
        return replace(self, begun=self.now())

    def rest(self) -> Self:
        """The effort for a search in what is left of the seconds."""
        left = self.until() - self.now()
        return self if math.isinf(left) else replace(self, begun=self.now(), seconds=max(left, 0.0))

    def until(self, share: float = 1.0) -> float:
        """The time when a share of the seconds is over; infinite if rounds are counted."""
        if self.rounds is not None:
            return math.inf
        assert self.begun is not None, "the clock runs"
        return self.begun + share * self.seconds

    def is_over(self, share: float = 1.0) -> bool:
        return self.now() >= self.until(share)
