"""The tubes: primaries from a port to a bore, secondaries from the outlet of a collector to a bore of another."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from typing import Literal

from headergen.geometry.curves.centreline import cut_out
from headergen.geometry.curves.sides import SideJoint
from headergen.geometry.curves.stepped import WallSpan, is_stepped, wall_spans
from headergen.geometry.plate.flange import run_from
from headergen.model import Centreline, Header, Run, Tube
from headergen.parts.kind import PartKind, Seated
from headergen.parts.side import SideCut, side_cuts, sound_joints


@dataclass(frozen=True)
class RunSeat:
    """A tube and its centreline as cut: from its seat or its weld to the collector plane.

    `walls`: of a stepped tube, its metal along the centreline. `cuts`: what is cut out of it where tubes stand on each
    other's sides.
    """

    tube: Tube
    line: Centreline
    walls: tuple[WallSpan, ...] = ()
    cuts: tuple[SideCut, ...] = ()


def run_seat(header: Header, run: Run, line: Centreline, joints: tuple[SideJoint, ...] = ()) -> RunSeat:
    begins = run_from(header.draft, run)
    walls = wall_spans(run, begins) if is_stepped(run) else ()
    return RunSeat(run.tube, cut_out(line, begins, line.length), walls, side_cuts(joints, run.name))


def _seats(header: Header, role: Literal["primary", "secondary"]) -> Iterator[Seated]:
    kind, joints = {each.role: each for each in (PRIMARY, SECONDARY)}[role], sound_joints(header)
    yield from (
        Seated(kind, run.name, run_seat(header, run, line, joints)) for run, line in header.tubes if run.role == role
    )


PRIMARY = PartKind("primary", "tube", partial(_seats, role="primary"), is_run=True, follows_runs=True)
SECONDARY = PartKind("secondary", "tube", partial(_seats, role="secondary"), is_run=True, follows_runs=True)
