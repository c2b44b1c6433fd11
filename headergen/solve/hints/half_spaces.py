"""Half-spaces that a thing must reach to be clear: one for each nearest point found, kept from try to try."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from headergen.geometry.frames import dot
from headergen.model import Vec

SPARE = 0.05  # mm added to the requirement, against rounding
AGAINST = -0.5  # cosine between two directions below which they oppose each other


@dataclass(frozen=True)
class HalfSpace:
    """`way` · (place of the thing) must be at least `least`, to clear `other`.

    `at`: for a tube, the step and the share of it at the place; for any other thing, the place is its shift.
    """

    other: str
    way: Vec
    least: float
    at: tuple[int, float] = (0, 0.0)


def pulling(cuts: Sequence[HalfSpace], other: str) -> str | None:
    """What prevents a thing from clearing `other`, by the directions that both require."""
    mine = [cut for cut in cuts if cut.other == other]
    against = [(dot(one.way, two.way), two.other) for one in mine for two in cuts if two.other != other]
    strongest = min(against, default=(0.0, ""))
    return strongest[1] if strongest[0] < AGAINST else None
