"""A wall between two inlets that goes through its transition only: before it, the gas of both halves mixes."""

from __future__ import annotations

from collections.abc import Iterator

from headergen.geometry.merge.design import possible_merge
from headergen.geometry.merge.divided import why_undivided
from headergen.model import Header, OutletPlate
from headergen.model.finding import Finding
from headergen.parts.outlet_plate import wall_turn


def divided(header: Header) -> Iterator[Finding]:
    for collector in header.draft.collectors:
        plate = collector.end
        merge = None if collector.mouth else possible_merge(header.draft.tube, collector)
        if merge is None or not isinstance(plate, OutletPlate) or not plate.divider or not plate.transition:
            continue
        why = why_undivided(merge, wall_turn(plate))
        if why:
            message = (
                f"The wall at the end of collector {collector.name} goes through the transition only, since {why}; "
                "before it, the pulses of both halves mix."
            )
            yield Finding("divided-outlet", "info", collector.name, None, None, "", message)
