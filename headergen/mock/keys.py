"""Which turns stand between the ribs of each joint, so that no other joint's ribs go into its notches.

The turns from rib to rib make up a full turn, all multiples of one step. Ribs go into notches only when the turns agree
in some order round the tube, so each set of turns is used once in any of its orders, and never one that looks the same
before it has gone round once, which would go together in several rotations.

Two sets differ by a step at least: however a wrong spigot is turned, two of its ribs are that step apart in how far
they miss their notches, and what the gaps to both sides do not give way must be sheared off.
"""

from __future__ import annotations

import math
from itertools import accumulate, product

from headergen.mock.solid import MockError

RIBS = 4
STEPS = (24, 20, 18, 15, 12, 10, 9, 8, 6, 5)  # degrees, each a divisor of 360; the largest with enough sets is taken
WIDEST = 165  # degrees between neighbouring ribs: more would let the spigot tip in a steel bore

Turns = tuple[float, ...]  # where the ribs after the first stand, radians from it


def key_turns(count: int, least_turn: float, least_step: float) -> tuple[Turns, ...]:
    """`count` sets of turns no two of which fit each other, nor themselves turned; most even first.

    `least_turn`: radians between neighbouring ribs; `least_step`: radians by which two sets must differ so that ribs do
    not go into the wrong notches. Raises MockError when there are not that many.
    """
    for step in STEPS:
        if math.radians(step) < least_step:
            break
        sets = _sets(step, math.degrees(least_turn))
        if len(sets) >= count:
            return tuple(tuple(math.radians(at) for at in accumulate(turns[:-1])) for turns in sets[:count])
    raise MockError(f"there are not {count} different keys for a tube this slim: leave joints without a key")


def _sets(step: int, least: float) -> list[tuple[int, ...]]:
    fewest, most = math.ceil(least / step - 1e-9), WIDEST // step
    found = set()
    for some in product(range(fewest, most + 1), repeat=RIBS - 1):
        turns = (*some, 360 // step - sum(some))
        orders = {turns[k:] + turns[:k] for k in range(RIBS)}
        if fewest <= turns[-1] <= most and len(orders) == RIBS:
            found.add(min(orders))
    ordered = sorted(found, key=lambda turns: (max(turns) - min(turns), turns))
    return [tuple(step * turn for turn in turns) for turns in ordered]
