"""Every run of several pieces closes in nine of ten builds at one of its joints."""

from __future__ import annotations

import math
from collections.abc import Iterator

from headergen.model import NINE_IN_TEN, ByHand, Closing
from headergen.model.finding import Finding
from headergen.words.closing import OTHERWISE, said_otherwise
from headergen.words.say import capital


def closes_rarely(by_hand: ByHand, units: str) -> Iterator[Finding]:
    """A warning for each run that none of its joints closes so often, with what could be made otherwise.

    A run of one piece has no joint: it is cut to fit between its ends.
    """
    for run in by_hand.runs:
        if run.closing is None or run.closes_in_nine_of_ten:
            continue
        closes = math.floor(1000 * run.closing.closes) / 10
        yield Finding(
            rule="closes-rarely",
            level="warning",
            where=run.run,
            value=closes,
            limit=100 * NINE_IN_TEN,
            unit="%",
            message=" ".join([_message(run.run, run.closing, closes), *said_otherwise(run.otherwise, units)]),
        )


def _message(run: str, closing: Closing, closes: float) -> str:
    return (
        f"{capital(run)} closes in {closes:.1f} % of builds by hand, even at joint {closing.joint}, its best; "
        f"{100 * NINE_IN_TEN:.1f} % are required. Consider {'; or '.join(OTHERWISE)}."
    )
