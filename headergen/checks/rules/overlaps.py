"""Parts that are welded together touch; none overlaps another."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from headergen.model import Overlap
from headergen.model.finding import Finding


def overlaps(pairs: Iterable[Overlap]) -> Iterator[Finding]:
    for each in pairs:
        one, other = each.parts
        yield Finding(
            rule="parts-overlap",
            level="error",
            where=one,
            value=round(each.volume, 1),
            limit=0.0,
            unit="mm³",
            message=f"The {one} and the {other} share {each.volume:.1f} mm³ of metal; welded parts touch, and share "
            "0.0 mm³.",
        )
