"""The room that tools and sensors need, and what is nearest to it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from headergen.checks.envelopes import Envelope, item_gap, lowest_gap, obstacle_of, part_gap
from headergen.geometry.body import Body, tube_body
from headergen.geometry.convex import frustum_solid
from headergen.geometry.convex_gaps import gap_to_body
from headergen.geometry.fittings import rooms
from headergen.geometry.index import TriangleIndex
from headergen.model import Header, PartGap

NEAR = 10.0  # mm within which what stands beside a tool is measured at all


def reach_gaps(
    header: Header, surfaces: Mapping[str, TriangleIndex], round_items: Mapping[str, list[Body]]
) -> Iterator[PartGap]:
    """For each tool and sensor, what is nearest to it, if that is within NEAR; the tube with a sensor's boss is not."""
    draft = header.draft
    around = [
        (replace(item, clearance=NEAR), obstacle_of(item, surfaces, round_items))
        for item in draft.chassis
        if item.role != "enclosure" and item.free_from_flange == 0  # bolts and plugs stand on what tubes start on
    ]
    hosts = {f"sensor in {boss.name}": boss.host for boss in draft.bosses}
    bodies = {line.primary: tube_body(line, draft.tube.radius) for line in header.centrelines}
    for room in rooms(header):
        part = Envelope(room.what, frustum_solid(room.shape))
        found = [item_gap(part, item, obstacle) for item, obstacle in around]
        found += [
            part_gap(part, f"primary {number}", 0.0, gap_to_body(part.solid, body), False)
            for number, body in bodies.items()
            if number != hosts.get(room.what) and lowest_gap(part.solid, body) < NEAR
        ]
        near = [gap for gap in found if gap is not None and gap.value < NEAR]
        if near:
            yield replace(min(near, key=lambda gap: round(gap.value, 6)), required=0.0)
