"""Chassis items so far from the header that a figure must be wrong."""

from __future__ import annotations

from collections.abc import Iterator

from headergen.model import MeshRef, Survey
from headergen.model.finding import Finding
from headergen.words.say import say_length, shown_length

FARTHEST = 5000.0  # mm; about the length of a car


def far_items(survey: Survey) -> Iterator[Finding]:
    """Meshes have their own rule, because their units may be in doubt."""
    draft = survey.header.draft
    for item in draft.chassis:
        gaps = [gap for gap in survey.gaps if gap.b == item.name]
        nearest = min(gaps, key=lambda gap: abs(gap.value), default=None)
        if nearest is None or isinstance(item.shape, MeshRef) or abs(nearest.value) <= FARTHEST:
            continue
        away = say_length(abs(nearest.value), draft.units)
        yield Finding(
            rule="far-away",
            level="warning",
            where=item.name,
            value=shown_length(abs(nearest.value), draft.units),
            limit=shown_length(FARTHEST, draft.units),
            unit=draft.units,
            message=f"The {item.name} is {away} from the nearest primary; what is more than "
            f"{say_length(FARTHEST, draft.units)} away cannot be near this header: check the unit, the zero and "
            "the signs of its figures.",
            point=nearest.points[1],
        )
