"""Half-spaces that a thing must reach to be clear: one for each nearest point that was found, kept from try to try."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from headergen.geometry.frames import dot
from headergen.model import Vec

SPARE = 0.05  # mm beyond what is required, so that rounding takes nothing from it
AGAINST = -0.5  # cosine between two ways off under which they pull against each other


@dataclass(frozen=True)
class HalfSpace:
    """`way` · (place of the thing) must be at least `least`, for the sake of `other`.

    `at`: of a tube the step and the share of it that the place is at; the place of anything else is its shift.
    """

    other: str
    way: Vec
    least: float
    at: tuple[int, float] = (0, 0.0)


def pulling(cuts: Sequence[HalfSpace], other: str) -> str | None:
    """What holds a thing back from clearing `other`, by the ways they ask it to go."""
    mine = [cut for cut in cuts if cut.other == other]
    against = [(dot(one.way, two.way), two.other) for one in mine for two in cuts if two.other != other]
    strongest = min(against, default=(0.0, ""))
    return strongest[1] if strongest[0] < AGAINST else None
