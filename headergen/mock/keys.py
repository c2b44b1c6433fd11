"""The angles between the ribs of each joint, chosen so that no other joint's ribs go into its notches.

The angles from rib to rib add up to a full turn and are multiples of one step. Ribs go into notches only if the angles
agree in some cyclic order. So each set of angles is used once, in any of its cyclic orders. A set that repeats within a
turn is never used, because it would fit in several rotations.

Two sets differ by at least one step: however a wrong spigot is turned, the misses of two of its ribs differ by that
step, and what the gaps on both sides do not allow must be sheared off.
"""

from __future__ import annotations

import math
from itertools import accumulate, product

from headergen.mock.solid import MockError

RIBS = 4
STEPS = (24, 20, 18, 15, 12, 10, 9, 8, 6, 5)  # degrees, each a divisor of 360; the largest with enough sets is taken
ENOUGH = 120  # joints of a header whose keys must differ from those of the other bank
WIDEST = 165  # degrees between neighbouring ribs: with more, the spigot could tip in a steel bore

Turns = tuple[float, ...]  # the angles of the ribs after the first, radians from it


def key_turns(count: int, least_turn: float, least_step: float, letter: str = "") -> tuple[Turns, ...]:
    """`count` sets of angles, no two of which fit each other, and none of which fits itself turned; most even first.

    `least_turn`: radians between neighbouring ribs; `least_step`: radians by which two sets must differ so that ribs do
    not go into the wrong notches. `letter`: of the bank, A or B; the two banks have no set in common. Raises MockError
    if there are not that many.

    Each bank uses sets that differ from their mirror image; of each mirrored pair, either bank gets one. This needs the
    same step for both banks, so the step leaves enough sets for any header, whatever number of joints this one has.
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
