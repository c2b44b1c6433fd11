"""The tubes: primaries from a port to a bore, secondaries from the outlet of a collector to a bore of another."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from typing import Literal

from headergen.geometry.curves.centreline import cut_out, locate, segment_starts
from headergen.geometry.curves.stepped import WallSpan, growth_places, is_stepped, wall_spans
from headergen.geometry.plate.flange import bare_from, tube_from
from headergen.model import Centreline, Header, Line, Run, Tube
from headergen.parts.kind import PartKind, Seated


@dataclass(frozen=True)
class RunSeat:
    """A tube and its centreline as cut: from its seat or its weld to the collector plane.

    `walls`: of a stepped tube, its metal along the centreline.
    """

    tube: Tube
    line: Centreline
    walls: tuple[WallSpan, ...] = ()


def run_seat(header: Header, run: Run, line: Centreline) -> RunSeat:
    begins = tube_from(header.draft.flange_of(run.port), run.port, run.tube) if run.is_primary else 0.0
    walls = wall_spans(run, begins) if is_stepped(run) else ()
    return RunSeat(run.tube, cut_out(line, begins, line.length), walls)


def bare_about(header: Header, run: Run, line: Centreline, at: float) -> tuple[float, str]:
    """From a place along a run to the nearer end of the bare straight there, and what is at that end, in shop words.

    Negative if the place is inside something around the tube, 0 in a bend.
    """
    index, _ = locate(line, at)
    if not isinstance(line.segments[index], Line):
        return 0.0, "a bend"
    starts, last = segment_starts(line), len(line.segments) - 1
    slip = next((each.slip for each in header.draft.collectors if each.name == run.end.collector), 0.0)
    before = starts[index], "its start" if index == 0 else _what(line, index - 1)
    after = starts[index + 1], "its end" if index == last else _what(line, index + 1)
    ends = [(at - before[0], before[1]), (after[0] - at, after[1])]
    if run.is_primary:
        on_flange = "the transition" if run.port.transition else "the flange"
        ends.append((at - bare_from(header.draft.flange_of(run.port), run.port, run.tube), on_flange))
    ends += [(max(place.start - at, at - place.end), "a step to a larger tube") for place in growth_places(run)]
    if slip > 0:
        what = run.end.called if run.end.ends_run else f"the slip sleeve of collector {run.end.collector}"
        ends.append((line.length - slip - at, what))
    return min(ends, key=lambda end: end[0])


def _what(line: Centreline, index: int) -> str:
    return "a joint" if isinstance(line.segments[index], Line) else "a bend"


def _seats(header: Header, role: Literal["primary", "secondary"]) -> Iterator[Seated]:
    kind = {each.role: each for each in (PRIMARY, SECONDARY)}[role]
    yield from (Seated(kind, run.name, run_seat(header, run, line)) for run, line in header.tubes if run.role == role)


PRIMARY = PartKind("primary", "tube", partial(_seats, role="primary"), is_run=True, follows_runs=True)
SECONDARY = PartKind("secondary", "tube", partial(_seats, role="secondary"), is_run=True, follows_runs=True)
