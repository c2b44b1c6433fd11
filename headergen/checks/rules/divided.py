"""A wall between two inlets that goes through its transition only: before it, the gas of both halves mixes."""

from __future__ import annotations

import math
from collections.abc import Iterator

from headergen.geometry.merge.design import possible_merge
from headergen.geometry.merge.divided import half_of_round, why_undivided
from headergen.geometry.plate.outline import area, port_outline
from headergen.model import Collector, Draft, Header, OutletPlate
from headergen.model.finding import Finding
from headergen.parts.outlet_plate import openings_of, wall_turn
from headergen.words.numbers import area as said_area


def divided(header: Header) -> Iterator[Finding]:
    for collector in header.draft.collectors:
        plate = collector.end
        if collector.mouth and isinstance(plate, OutletPlate) and plate.divider and plate.transition:
            yield _at_end(collector, plate, header.draft)
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


def _at_end(collector: Collector, plate: OutletPlate, draft: Draft) -> Finding:
    """At the end of a run: one tube comes to the wall, and its gas is shared out there."""
    [bore] = collector.bores
    tube = bore.tube or collector.arriving or draft.tube
    inner = tube.radius - tube.wall
    half, (_, opening) = half_of_round(inner, plate.divider), openings_of(plate)[0]
    message = (
        f"The wall at the end of {bore.run} goes through the transition only, since one tube comes to it; before it, "
        f"the pulses of both halves mix. Where it begins, each half has {said_area(draft.units, half)}, "
        f"{half / (math.pi * inner**2 / 2):.2f} times half of the tube; in the plate it has "
        f"{said_area(draft.units, area(port_outline(opening)))}."
    )
    return Finding("divided-outlet", "info", bore.run, None, None, "", message)
