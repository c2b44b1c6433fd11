"""A header built by the shop's hand: where each run is closed, its spread, and what is left of its gaps."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from headergen.geometry.arrays import Array
from headergen.hand.closing import Closed, Flags, Meeting, close_builds, is_closed
from headergen.hand.gaps import BuiltRun, gaps_by_hand, own_spread
from headergen.hand.open_end import drops_in, missed, piece_spreads, shares_of
from headergen.hand.otherwise import otherwise
from headergen.hand.spares import bend_at, meeting_of, spares_at
from headergen.hand.stations import ONE_IN_TEN
from headergen.hand.tube import Builds, RunInPieces, gaps_of, tubes_of
from headergen.model import NINE_IN_TEN, ByHand, Candidate, Closing, Gap, Header, RunByHand, Shop

AS_GOOD = 0.02  # of the builds: a joint may close this many fewer than the best and still be chosen for its gaps
NEARLY_ALL = 0.99  # of the builds, for which the spare is enough
UP_TO = 0.5  # mm to which spare is rounded up


def by_hand(header: Header, shop: Shop, gaps: Sequence[Gap], gaps_too: bool = True) -> ByHand:
    """Spreads, closing joints and gaps of all runs made of pieces; `gaps` are those of the survey.

    They choose between joints in any case; what builds leave of them is measured only with `gaps_too`.
    """
    runs, made = [], {}
    for tube in tubes_of(header, shop):
        found, made[tube.run.name] = _run(tube, gaps_of(tube.run.name, gaps))
        runs.append(found)
    return ByHand(tuple(runs), tuple(gaps_by_hand(made, gaps, header.draft)) if gaps_too else ())


def _run(tube: RunInPieces, gaps: Sequence[Gap]) -> tuple[RunByHand, BuiltRun]:
    judged = [gap for gap in gaps if gap.required > 0 and not gap.together]
    tried = [(_candidate(tube, meeting, judged), meeting) for meeting in _meetings(tube)]
    best = max((each.closes for each, _ in tried), default=0.0)
    near = [pair for pair in tried if pair[0].closes >= best - AS_GOOD]
    chosen = max(near, key=lambda pair: (_spare_of(pair[0]), pair[0].closes), default=None)
    end = tube.builds.forward[1][-1]
    made, closing = BuiltRun(tube, None, None), None
    if chosen is not None:
        closed, met = _closed(chosen[1], tube, tube.builds)
        made, closing = BuiltRun(tube, chosen[1], closed), _closing(tube, *chosen, (closed, met))
    found = RunByHand(
        tube.run.name,
        tuple(piece_spreads(tube.chain, tube.made, tube.spreads)),
        shares_of(tube.chain, tube.made, tube.spreads),
        missed(tube.chain, end),
        drops_in(tube.chain, end, tube.collector, tube.hand),
        closing,
        tuple(candidate for candidate, _ in tried),
        None if chosen is None or chosen[0].closes >= NINE_IN_TEN else otherwise(tube, chosen[1]),
    )
    return found, made


def _spare_of(candidate: Candidate) -> float:
    """Rounded as in the report, so that a negligible difference decides nothing."""
    return math.inf if candidate.to_spare is None else round(candidate.to_spare, 1)


def _meetings(tube: RunInPieces) -> Iterator[Meeting]:
    """Every joint that a torch reaches; if it reaches none, all joints."""
    joints = range(1, tube.chain.size)
    free = [joint for joint in joints if joint not in tube.blocked] or list(joints)
    yield from (meeting_of(tube, joint) for joint in free)


def _closed(meeting: Meeting, tube: RunInPieces, builds: Builds) -> tuple[Closed, Flags]:
    closed = close_builds(meeting, builds.forward[1][meeting.joint - 1], builds.backward[0][meeting.joint], tube.hand)
    return closed, is_closed(closed, meeting, tube.hand)


def _candidate(tube: RunInPieces, meeting: Meeting, gaps: Sequence[Gap]) -> Candidate:
    spare = [gap.value - gap.required - ONE_IN_TEN * own_spread(tube, meeting, gap) for gap in gaps]
    shares = [float(np.mean(_closed(meeting, tube, builds)[1])) for builds in (tube.builds, tube.saddled)]
    return Candidate(meeting.joint, shares[0], shares[1], min(spare, default=None))


def _closing(tube: RunInPieces, candidate: Candidate, meeting: Meeting, builds: tuple[Closed, Flags]) -> Closing:
    """`builds`: how they close, and which of them do; if none does, what they would need."""
    closed, met = builds
    use = met if met.any() else np.ones_like(met)
    turn, slide, kink, step = (
        float(np.quantile(np.abs(each[use]), 0.9)) for each in (closed.turn, closed.slide, closed.kink, closed.step)
    )
    last = tube.pieces[-1].ends[1]
    spares = (_spare(-closed.slide[use], last.room - last.leave_on), _spare(closed.missing[use], meeting.missing))
    shares = (candidate.closes, candidate.closes_with_saddles)
    needed, spare_on = (turn, slide, kink, step), tuple(_shared_out(spares[1], spares_at(tube, meeting.joint)))
    return Closing(meeting.joint, *shares, *needed, *spares, spare_on, meeting.slides, bend_at(tube))


def _shared_out(spare: float, sides: Sequence[tuple[int, float]]) -> Iterator[tuple[int, float]]:
    """The first piece has as much as there is room for, the other has the rest."""
    (number, room), *others = sides
    yield number, min(spare, room)
    for other, _ in others:
        if spare > room:
            yield other, spare - room


def _spare(needed: Array, room: float) -> float:
    """Enough for nearly all builds, rounded up, as far as there is room."""
    enough = math.ceil(max(float(np.quantile(needed, NEARLY_ALL)), 0.0) / UP_TO) * UP_TO
    return min(enough, room)
