"""Every part has the room that it needs where it is mounted; each kind defines its needs (parts/table.py)."""

from __future__ import annotations

from collections.abc import Iterator

from headergen.checks.part_findings import length_finding
from headergen.model import Header
from headergen.model.finding import Finding
from headergen.parts.table import KINDS


def part_place(header: Header) -> Iterator[Finding]:
    for kind in KINDS:
        for need in kind.demands(header):
            said = need.found, need.required, need.said
            yield length_finding(header.draft, need.part, said, need.point, rule=f"{kind.role}-place")
