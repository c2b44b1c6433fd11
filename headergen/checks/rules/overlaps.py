"""Parts that are welded together touch; none overlaps another."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from headergen.model import Overlap
from headergen.model.finding import Finding
from headergen.words.numbers import INCH, volume_in


def overlaps(pairs: Iterable[Overlap], units: str) -> Iterator[Finding]:
    for each in pairs:
        one, other = each.parts
        yield Finding(
            rule="parts-overlap",
            level="error",
            where=one,
            value=round(each.volume / INCH**3, 5) if units == "in" else round(each.volume, 1),
            limit=0.0,
            unit=f"{units}³",
            message=f"The {one} and the {other} share {volume_in(units, each.volume)} of metal; welded parts touch, "
            f"and share {volume_in(units, 0.0)}.",
        )
