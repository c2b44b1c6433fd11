"""A run with the data for its builds by hand: its chain, spreads, simulated builds and gaps."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from zlib import crc32

from headergen.geometry.arrays import Array
from headergen.geometry.curves.centreline import frame_at, frame_on
from headergen.hand.chain import PieceChain, chain_of, motions, spreads_of
from headergen.hand.draws import Poses, draw, from_bore, from_flange
from headergen.hand.stations import piece_of
from headergen.model import Centreline, Collector, CutPiece, Frame, Gap, HandSettings, Header, Run, Shop

BUILDS = 2000  # simulated, of each run


@dataclass(frozen=True, eq=False)
class RunInPieces:
    """A run of pieces with its chain; `made`: (n, 7, 6), the motion of all that follows for each error.

    `sawn`: how much of its first straight is inside the cut at a flange that it leans on (mm).
    """

    run: Run
    line: Centreline
    pieces: tuple[CutPiece, ...]
    chain: PieceChain
    made: Array
    collector: Collector
    hand: HandSettings
    blocked: frozenset[int]  # joints for which a torch has no room, or that are in the slip
    sawn: float = 0.0

    @cached_property
    def spreads(self) -> Array:
        return spreads_of(self.chain, self.hand)

    @property
    def begins(self) -> float:
        return self.pieces[0].start

    @cached_property
    def builds(self) -> Builds:
        return builds_of(self.chain, self.spreads, self.run.name)

    @cached_property
    def saddled(self) -> Builds:
        return builds_of(self.chain, spreads_of(self.chain, self.hand, saddles=True), self.run.name)

    def piece_at(self, at: float) -> tuple[int, float]:
        """The piece at a place along the run, counted from 0, and how far into it."""
        return piece_of(self.chain, self.begins, at)


@dataclass(frozen=True, eq=False)
class Builds:
    """Simulated builds of a run: their errors, and start and end of each piece, from the flange and from the bore."""

    errors: Array
    forward: tuple[list[Poses], list[Poses]]
    backward: tuple[list[Poses], list[Poses]]


def builds_of(chain: PieceChain, spreads: Array, name: str, count: int = BUILDS) -> Builds:
    """The same builds for the same name, in any process."""
    errors = draw(spreads, count, crc32(name.encode()))
    return Builds(errors, from_flange(chain, errors), from_bore(chain, errors))


def tubes_of(header: Header, shop: Shop) -> tuple[RunInPieces, ...]:
    """The runs of a header that are made of pieces."""
    collectors = {each.name: each for each in header.draft.collectors}
    sawn = {cut.run: cut.sides[0] - cut.sides[1] for cut in shop.lean_cuts}
    found = []
    for run, line in header.tubes:
        pieces = shop.plan.of_run(run.name)
        if not pieces:
            continue
        begins = pieces[0].start
        # one sawn to the lean of its port may begin before the run, straight on
        point = frame_at(line, begins)[0] if begins >= 0 else frame_on(line.segments[0], begins)[0]
        start = Frame(point, run.start.frame.x, run.start.frame.y, run.start.frame.z)
        turns = [mark.angle for mark in shop.turns if mark.run == run.name]
        chain = chain_of(run.name, start, pieces, turns)
        blocked = frozenset(joint.number for joint in shop.plan.joints_of(run.name) if joint.blocked)
        own = collectors[run.end.collector], header.draft.hand, blocked, sawn.get(run.name, 0.0)
        found.append(RunInPieces(run, line, pieces, chain, motions(chain), *own))
    return tuple(found)


def gaps_of(run: str, gaps: Iterable[Gap]) -> list[Gap]:
    return [gap for gap in gaps if run in (gap.a, gap.b) and gap.places]
