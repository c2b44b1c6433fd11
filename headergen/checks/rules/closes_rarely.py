"""Every run closes in nine of ten builds at one of its joints."""

from __future__ import annotations

import math
from collections.abc import Iterator

from headergen.model import NINE_IN_TEN, ByHand, RunByHand
from headergen.model.finding import Finding
from headergen.words.closing import OTHERWISE, said_otherwise
from headergen.words.say import capital


def closes_rarely(by_hand: ByHand, units: str) -> Iterator[Finding]:
    """A warning for each run that none of its joints closes so often, with what could be made otherwise."""
    for run in by_hand.runs:
        if run.closes_in_nine_of_ten:
            continue
        closes = 0.0 if run.closing is None else math.floor(1000 * run.closing.closes) / 10
        limit = 100 * NINE_IN_TEN
        yield Finding(
            rule="closes-rarely",
            level="warning",
            where=run.run,
            value=closes,
            limit=limit,
            unit="%",
            message=" ".join([_message(run, closes, limit), *said_otherwise(run.otherwise, units)]),
        )


def _message(run: RunByHand, closes: float, limit: float) -> str:
    name = capital(run.run)
    if run.closing is None:
        first = f"{name} has no joint at which it could be closed: it closes in {closes:.1f} % of builds"
    else:
        first = f"{name} closes in {closes:.1f} % of builds by hand, even at joint {run.closing.joint}, its best"
    return f"{first}; {limit:.1f} % are required. Consider {'; or '.join(OTHERWISE)}."
