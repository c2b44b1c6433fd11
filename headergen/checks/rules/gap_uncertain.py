"""A gap to a scan whose margin is smaller than the uncertainty of the scan."""

from __future__ import annotations

from collections.abc import Iterator

from headergen.model import Survey
from headergen.model.finding import Finding
from headergen.words.say import capital, say_length, say_place, shown_length


def gap_uncertain(survey: Survey) -> Iterator[Finding]:
    units = survey.header.draft.units
    known = {facts.item: facts for facts in survey.meshes}
    for gap in survey.gaps:
        if gap.is_between_runs or gap.is_too_small or gap.value - gap.uncertainty >= gap.required:
            continue
        facts = known[gap.b]
        why = [f"its points are up to {say_length(facts.spacing, units)} apart"] if facts.spacing else []
        placing = gap.uncertainty - facts.spacing
        why += [f"its placement by points may be off by {say_length(placing, units)} there"] if placing > 0 else []
        yield Finding(
            rule="gap-uncertain",
            level="warning",
            where=gap.a,
            value=shown_length(gap.value, units),
            limit=shown_length(gap.required, units),
            unit=units,
            message=(
                f"{capital(gap.a)} is {say_length(gap.value, units)} from {gap.b}, "
                f"{say_place(survey.header, gap.place)}: more than the {say_length(gap.required, units)} required, but "
                f"the difference is less than the scan's uncertainty, since {' and '.join(why)}."
            ),
            point=gap.points[1],
            against=gap.b,
        )
