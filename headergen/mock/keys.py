"""Which turns stand between the three ribs of each joint, so that no other joint's ribs go into its notches.

Ribs at 0, g1 and g1 + g2, with g1 + g2 + g3 a full turn, all multiples of one step. Ribs go into notches only when the
three turns agree in some order round the tube, so each set of turns is used once in any of its three orders, and never
the one with all three alike, which would go together in three rotations.
"""

from __future__ import annotations

import math
from itertools import product

from headergen.mock.solid import MockError

STEPS = (15, 12, 10, 9, 8, 6, 5, 4)  # degrees, each a divisor of 360; the largest that gives enough sets is taken
WIDEST = 165  # degrees between neighbouring ribs: more would let the spigot tip in a steel bore

Turns = tuple[float, float]  # where the second and third rib stand, radians from the first


def key_turns(count: int, least_turn: float, least_step: float) -> tuple[Turns, ...]:
    """`count` sets of turns no two of which fit each other, nor themselves turned; most even first.

    `least_turn`: radians between neighbouring ribs; `least_step`: radians by which two sets must differ so that ribs do
    not go into the wrong notches. Raises MockError when there are not that many.
    """
    for step in STEPS:
        if math.radians(step) < least_step:
            break
        sets = _sets(step, least_turn)
        if len(sets) >= count:
            return tuple((math.radians(a), math.radians(a + b)) for a, b, _ in sets[:count])
    raise MockError(f"there are not {count} different keys for a tube this slim: leave joints without a key")


def _sets(step: int, least_turn: float) -> list[tuple[int, int, int]]:
    turns = range(step, WIDEST + 1, step)
    found = {}
    for a, b in product(turns, turns):
        c = 360 - a - b
        if not min(a, b, c) >= math.degrees(least_turn) or c > WIDEST or a == b == c:
            continue
        orders = ((a, b, c), (b, c, a), (c, a, b))
        found[min(orders)] = max(a, b, c) - min(a, b, c)
    return sorted(found, key=lambda turns: (found[turns], turns))
