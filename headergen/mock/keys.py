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
ENOUGH = 120  # joints of a header whose keys are to differ from those of the other bank
WIDEST = 165  # degrees between neighbouring ribs: more would let the spigot tip in a steel bore

Turns = tuple[float, ...]  # where the ribs after the first stand, radians from it


def key_turns(count: int, least_turn: float, least_step: float, letter: str = "") -> tuple[Turns, ...]:
    """`count` sets of turns no two of which fit each other, nor themselves turned; most even first.

    `least_turn`: radians between neighbouring ribs; `least_step`: radians by which two sets must differ so that ribs do
    not go into the wrong notches. `letter`: of the bank, A or B; no set of one is one of the other. Raises MockError
    when there are not that many.

    A bank's sets are those that differ from their mirror image, one of each two for either bank. Both banks must take
    the same step for that, so it is one that leaves enough for any header, however many joints this one has.
    """
    found: list[tuple[int, ...]] = []
    for step in STEPS:
        if math.radians(step) < least_step:
            break
        sets = _sets(step, math.degrees(least_turn))
        if letter:
            sets = [turns for turns in sets if _hand(turns) == letter]
        if len(sets) >= count:
            found = sets
        if len(sets) >= (max(count, ENOUGH) if letter else count):
            break
    if not found:
        raise MockError(f"there are not {count} different keys for a tube this slim: leave joints without a key")
    return tuple(tuple(math.radians(at) for at in accumulate(turns[:-1])) for turns in found[:count])


def _hand(turns: tuple[int, ...]) -> str:
    """The letter of the bank that a set belongs to; none for a set that is its own mirror image."""
    back = turns[::-1]
    mirrored = min(back[k:] + back[:k] for k in range(RIBS))
    return "" if mirrored == turns else "A" if turns < mirrored else "B"


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
