"""How often a run can be closed by hand, and what is said where that is rare."""

from __future__ import annotations

import math

from headergen.words.say import capital

OTHERWISE = (
    "a straight between two mitred joints, made to measure once both sides are tacked",
    "a longer slip, so that the end piece slides farther",
    "another path, with a joint in its middle that has leverage on both sides",
)


def of_hundred(share: float) -> str:
    """A share of simulated builds as whole builds of a hundred; never 100, since the next may be the one that fails."""
    return str(min(math.floor(100 * share + 1e-9), 99))


def said_of_rare_closing(run: str) -> str:
    return f"{capital(run)} closes in nine of ten builds at none of its joints. Consider {'; or '.join(OTHERWISE)}."
