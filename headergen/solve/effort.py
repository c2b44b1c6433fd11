"""How long a search for paths may take; apart from the search, which is heavy to import."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Self


@dataclass(frozen=True)
class Effort:
    """How long to look: until `rounds` are done, or else for `seconds`; `answers` are wanted to choose from.

    The seconds count from `begun`, as the clock `now` has it, and hold all that is done: start, search, whole degrees.
    """

    seed: int = 0
    seconds: float = 20.0
    rounds: int | None = None
    answers: int = 1
    relax: bool = False  # where nothing is found, look as long again for a single change that would help
    places: int | None = None  # where collectors may move: so many places are tried, else for half of the seconds
    lengths: bool = False  # look as long again for the shortest and the longest equal length; relaxations does so too
    begun: float | None = None  # None: when the search is called
    now: Callable[[], float] = time.monotonic

    def started(self) -> Self:
        """With the clock running; it goes on where it runs already."""
        return self if self.begun is not None else replace(self, begun=self.now())

    def anew(self) -> Self:
        """For a second look that may take as long again."""
        return replace(self, begun=self.now())

    def until(self, share: float = 1.0) -> float:
        """When a share of the seconds is over; never where rounds are counted."""
        if self.rounds is not None:
            return math.inf
        assert self.begun is not None, "the clock runs"
        return self.begun + share * self.seconds

    def is_over(self, share: float = 1.0) -> bool:
        return self.now() >= self.until(share)
