"""How far a flange plate can turn on its bolts, and the resulting error at the collector."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations

from headergen.model import Bolt, Vec2
from headergen.words.numbers import with_unit

SIZES = (
    4.0,
    5.0,
    6.0,
    8.0,
    10.0,
    12.0,
    14.0,
    16.0,
)  # metric bolts: the largest that passes is assumed


def clearance(bolt: Bolt) -> float:
    """Clearance on each side between a bolt and its hole, mm."""
    return (bolt.hole - max((size for size in SIZES if size < bolt.hole), default=0.0)) / 2


def worst_at(bolts: Sequence[Bolt], ends: Sequence[Vec2]) -> float:
    """The largest error at any of the ends, mm, for a plate that is only pushed onto two or more bolts.

    Two holes with this clearance each turn the plate by twice the clearance over their distance, and shift it.
    """
    first, second = max(combinations(bolts, 2), key=lambda pair: math.dist(pair[0].at, pair[1].at))
    gap, apart = max(clearance(first), clearance(second)), math.dist(first.at, second.at)
    middle = ((first.at[0] + second.at[0]) / 2, (first.at[1] + second.at[1]) / 2)
    return gap + 2 * gap / apart * max(math.dist(middle, end) for end in ends)


def said_of_bolts(bolts: Sequence[Bolt], ends: Sequence[Vec2], units: str = "mm") -> tuple[str, ...]:
    """The sheet's note about a plate; `ends`: of its primaries, in the plane of the face."""
    if not bolts:
        return ("no flange bolt goes through it: it rests against the plate beside it",)
    if len(bolts) == 1:
        return (
            "is held by one bolt and can swing about it: clamp it square before hanging anything on it; until then its "
            "place at the collector means nothing",
        )
    return (
        f"pushed to one side on its bolts it may be off by up to {with_unit(worst_at(bolts, ends), units)} at the "
        "collector: tighten the bolts with the plate in the middle of its play",
    )
