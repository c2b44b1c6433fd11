"""How long a search for paths may take; apart from the search, which is heavy to import."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Effort:
    """How long to look: until `rounds` are done, or else for `seconds`; `answers` are wanted to choose from."""

    seed: int = 0
    seconds: float = 20.0
    rounds: int | None = None
    answers: int = 1
    reliefs: bool = False  # where nothing is found, look as long again for a single change that would help
    places: int | None = None  # where collectors may move: so many places are tried, else for half of the seconds
    lengths: bool = False  # look as long again for the shortest and the longest equal length; reliefs does so too
