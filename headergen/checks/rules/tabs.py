"""The tabs of slip joints have room: on the sleeve before its mitre, and on the tube before its mouth."""

from __future__ import annotations

from collections.abc import Iterator

from headergen.checks.part_findings import length_finding
from headergen.geometry.merge.design import possible_merge
from headergen.model import Header
from headergen.model.finding import Finding
from headergen.parts.tabs import sleeve_room, tab_seats
from headergen.words.say import say_length


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
                f"has sleeves that are straight for {say_length(straight, draft.units)}; their tabs need "
                f"{say_length(needed, draft.units)}"
            )
            yield length_finding(draft, name, (straight, needed, said), point, rule="tab-place")
        hosts = {seat.host for seat in tab_seats(header, collector)}
        arriving = ((run.name, line) for run, line in header.tubes if run.end.collector == collector.name)
        for host, line in arriving:
            if host not in hosts:
                room, apart = line.length - collector.slip, collector.tabs.apart
                said = (
                    f"leaves {say_length(room, draft.units)} of {host} before its sleeve; for a tab "
                    f"{say_length(apart, draft.units)} from the other one more is needed"
                )
                yield length_finding(draft, name, (room, apart, said), point, rule="tab-place")
