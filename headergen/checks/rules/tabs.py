"""The tabs of slip joints have room: on the sleeve before its mitre, and on the tube before its mouth."""

from __future__ import annotations

from collections.abc import Iterator

from headergen.checks.part_findings import length_finding
from headergen.checks.words import say_length
from headergen.finding import Finding
from headergen.geometry.merging import possible_merge
from headergen.geometry.secondary import secondary_line
from headergen.geometry.tabs import sleeve_room, tab_seats
from headergen.model import Centreline, Collector, Header


def tab_place(header: Header) -> Iterator[Finding]:
    draft = header.draft
    for collector in draft.collectors:
        merge = possible_merge(draft.tube, collector)
        if collector.tabs is None or merge is None:
            continue
        name, point = f"collector {collector.name}", collector.frame.origin
        straight, needed = sleeve_room(merge, collector.tabs)
        if straight < needed:
            said = (
                f"has sleeves that are straight for {say_length(straight, draft.units)}; their tabs want "
                f"{say_length(needed, draft.units)}"
            )
            yield length_finding(draft, name, (straight, needed, said), point, rule="tab-place")
        hosts = {seat.host for seat in tab_seats(header, collector)}
        for host, line in _arriving(header, collector):
            if host not in hosts:
                room, apart = line.length - collector.slip, collector.tabs.apart
                tube = host if isinstance(host, str) else f"primary {host}"
                said = (
                    f"leaves {say_length(room, draft.units)} of {tube} before its sleeve; for a tab "
                    f"{say_length(apart, draft.units)} from the other one more is wanted"
                )
                yield length_finding(draft, name, (room, apart, said), point, rule="tab-place")


def _arriving(header: Header, collector: Collector) -> Iterator[tuple[int | str, Centreline]]:
    for primary, line in zip(header.primaries, header.centrelines, strict=True):
        if primary.bore.collector == collector.name:
            yield primary.number, line
    for each in header.secondaries:
        if each.bore.collector == collector.name:
            yield each.name, secondary_line(each)
