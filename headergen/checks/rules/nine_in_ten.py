"""Nine of ten builds by the shop's hand keep the gap that is asked for."""

from __future__ import annotations

from collections.abc import Iterator

from headergen.model import ByHand, Draft, GapByHand
from headergen.model.finding import Finding
from headergen.words.say import capital, say_length, shown_length


def nine_in_ten(draft: Draft, by_hand: ByHand) -> Iterator[Finding]:
    """Nothing where `nine_in_ten` is not asked for; of what crosses as planned another rule speaks.

    Where tubes converge on a collector, nine of ten keep the share of it that is required of the full gap there.
    """
    full, units = draft.limits.nine_in_ten, draft.units
    for gap in by_hand.gaps:
        required = (full or 0.0) * gap.share
        if full is not None and gap.judged and gap.nominal >= 0 and gap.left < required:
            yield Finding(
                rule="gap-by-hand",
                level="error",
                where=gap.a,
                value=shown_length(gap.left, units),
                limit=shown_length(required, units),
                unit=units,
                message=_message(gap, required, units),
                point=gap.point,
                against=gap.b,
            )


def not_judged(draft: Draft, why: str) -> Iterator[Finding]:
    """If the bench could not be planned, nothing is known of builds."""
    if draft.limits.nine_in_ten is not None:
        yield Finding(
            rule="gap-not-built",
            level="error",
            where="header",
            value=None,
            limit=None,
            unit="",
            message=f"The header is not judged by nine in ten builds: {why}.",
        )


def _message(gap: GapByHand, required: float, units: str) -> str:
    nominal, least = say_length(gap.nominal, units), say_length(required, units)
    if gap.left < 0:
        left = f"in one of ten builds they cross by {say_length(-gap.left, units)} or more"
    else:
        left = f"nine of ten builds leave {say_length(gap.left, units)} or more"
    return (
        f"{capital(gap.a)} and {gap.b} are planned {nominal} apart, and {left}, where {least} is required; lead them "
        "farther apart, or hold the pieces in saddles and measure the spreads that come of it."
    )
