"""How often a run can be closed by hand, and what is said where that is rare."""

from __future__ import annotations

import math
from collections.abc import Iterator

from headergen.model import Otherwise
from headergen.words.say import say_angle, say_length

OTHERWISE = (
    "a straight between two mitred joints, made to measure once both sides are tacked",
    "a longer slip, so that the end piece slides farther",
    "another path, with a joint in its middle that has leverage on both sides",
)


def of_hundred(share: float) -> str:
    """A share of simulated builds as whole builds of a hundred; never 100, since the next may be the one that fails."""
    return str(min(math.floor(100 * share + 1e-9), 99))


def said_of_rare_closing(run: str) -> str:
    return f"No joint of {run} closes in nine of ten builds. Consider {'; or '.join(OTHERWISE)}."


def said_otherwise(other: Otherwise | None, units: str) -> Iterator[str]:
    """The figures of what would close a run, from the builds that were simulated."""
    if other is None:
        return
    if other.slip_longer is not None:
        yield f"A slip {say_length(other.slip_longer, units)} longer, with as much more spare, closes nine of ten."
    else:
        yield "A longer slip alone does not close nine of ten."
    straight = other.straight
    if straight is None:
        yield "Its path has no straight between two joints that a torch reaches, to be made to measure."
    else:
        shortest, longest = (say_length(each, units) for each in (straight.shortest, straight.longest))
        yield (
            f"Made to measure: piece {straight.piece}, between joints {straight.piece - 1} and {straight.piece}; nine "
            f"of ten are {shortest} to {longest} long, with mitres of up to {say_angle(straight.mitre)}."
        )
    if other.with_room is not None:
        joint, closes = other.with_room.joint, of_hundred(other.with_room.closes)
        yield f"Another path: one that gives the torch room at joint {joint}; {closes} of 100 close there."
    step, kink = say_length(other.step, units), say_angle(other.kink)
    yield (
        f"Another path must leave less at its closing joint: this one leaves up to {step} of step and {kink} of kink "
        "in nine of ten builds."
    )
