"""The tubes: primaries from a port to a bore, secondaries from the outlet of a collector to a bore of another."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from typing import Literal

from headergen.geometry.curves.centreline import cut_out
from headergen.geometry.plate.flange import tube_from
from headergen.model import Centreline, Header, Run, Tube
from headergen.parts.kind import PartKind, Seated


@dataclass(frozen=True)
class RunSeat:
    """A tube and the centreline of it as it is cut: from where it is seated, or welded on, to the collector plane."""

    tube: Tube
    line: Centreline


def run_seat(header: Header, run: Run, line: Centreline) -> RunSeat:
    begins = tube_from(header.draft.flange, run.port, run.tube) if run.is_primary else 0.0
    return RunSeat(run.tube, cut_out(line, begins, line.length))


def _seats(header: Header, role: Literal["primary", "secondary"]) -> Iterator[Seated]:
    kind = {each.role: each for each in (PRIMARY, SECONDARY)}[role]
    yield from (Seated(kind, run.name, run_seat(header, run, line)) for run, line in header.tubes if run.role == role)


PRIMARY = PartKind("primary", "tube", partial(_seats, role="primary"), is_run=True, follows_runs=True)
SECONDARY = PartKind("secondary", "tube", partial(_seats, role="secondary"), is_run=True, follows_runs=True)
