"""What nine of ten builds keep of each gap: to first order by the gradient of the gap, and in simulated builds."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.curves.stepped import tube_at
from headergen.geometry.distance.ramp import ramp_of
from headergen.hand.closing import Closed, Flags, Meeting, turned
from headergen.hand.draws import place_after
from headergen.hand.stations import (
    ONE_IN_TEN,
    closed_moves,
    covariance_of,
    held_conditions,
    held_covariance,
    open_moves,
    spread_along,
)
from headergen.hand.tube import RunInPieces
from headergen.model import Draft, Gap, GapByHand

WINDOW, STEP = 60.0, 4.0  # mm along a tube, on both sides of a gap to the chassis, in which it is searched for again
REACH = 10.0  # mm by which tubes are farther apart than where they are nearest, beyond which builds are not searched
DRAWN, BLOCK = 2000, 250  # builds in which gaps are measured, and how many at a time
WIDE = 15.0  # mm that nine of ten builds keep beyond the requirement, above which no builds are simulated


@dataclass(frozen=True, eq=False)
class BuiltRun:
    """A run as made by the sheets, closed at a joint, in each of its simulated builds; None if it has no such joint."""

    tube: RunInPieces
    meeting: Meeting | None
    closed: Closed | None


@dataclass(frozen=True, eq=False)
class _Side:
    """A run at one side of a gap: the place along it, and the direction in which it moves toward the other side."""

    made: BuiltRun
    at: float
    toward: Array

    @property
    def tube(self) -> RunInPieces:
        return self.made.tube

    @property
    def meeting(self) -> Meeting | None:
        return self.made.meeting


def gaps_by_hand(tubes: Mapping[str, BuiltRun], gaps: Sequence[Gap], draft: Draft) -> Iterator[GapByHand]:
    """For each gap of runs made of pieces; of tubes that converge, by their share of the full gap."""
    for gap in gaps:
        names = [place.run for place in gap.places]
        if not names or not all(name in tubes for name in names):
            continue
        sides = _sides(gap, tubes)
        free, held, closed = (gap.value - ONE_IN_TEN * spread for spread in _spreads(sides))
        drawn = None
        if closed - gap.required < WIDE:
            drawn = gap.value + float(np.quantile(_changes(gap, sides, draft), 0.1))
        full = draft.limits.between_tubes
        share = gap.required / full if gap.together and full > 0 else 1.0
        yield GapByHand(gap.a, gap.b, gap.value, free, held, closed, drawn, gap.required > 0, gap.points[0], share)


def own_spread(tube: RunInPieces, meeting: Meeting, gap: Gap) -> float:
    """Standard deviation (mm) of a gap from the errors of one of its runs alone, closed at a joint."""
    line = tube.line
    at = next(place.at for place in gap.places if place.run == tube.run.name)
    middle = np.array(frame_at(line, at)[0])
    point = np.array(gap.points[1 if gap.a == tube.run.name else 0])
    moves = closed_moves(tube.chain, tube.made, meeting, *tube.piece_at(at))
    return spread_along(covariance_of(moves, tube.spreads), _unit(point - middle))


def _unit(vector: Array) -> Array:
    """A unit vector; zero for a tube whose centre is on the other's skin."""
    found: Array = vector / max(float(np.linalg.norm(vector)), 1e-9)
    return found


def _sides(gap: Gap, tubes: Mapping[str, BuiltRun]) -> list[_Side]:
    lines = [np.array(frame_at(tubes[place.run].tube.line, place.at)[0]) for place in gap.places]
    ends = lines[::-1] if len(lines) == 2 else [np.array(gap.points[1])]
    return [
        _Side(tubes[place.run], place.at, _unit(end - line))
        for place, line, end in zip(gap.places, lines, ends, strict=True)
    ]


def _spread(moves: Array, side: _Side) -> float:
    return spread_along(covariance_of(moves, side.tube.spreads), side.toward)


def _spreads(sides: Sequence[_Side]) -> tuple[float, float, float]:
    """Standard deviation of the gap: welded open, held at both ends, closed as planned; runs err independently."""
    squares = np.zeros(3)
    for side in sides:
        tube = side.tube
        place = tube.piece_at(side.at)
        free = open_moves(tube.chain, tube.made, *place)
        held = held_covariance(free, held_conditions(tube.chain, tube.made), tube.spreads)
        closed = free if side.meeting is None else closed_moves(tube.chain, tube.made, side.meeting, *place)
        squares += np.square([_spread(free, side), spread_along(held, side.toward), _spread(closed, side)])
    first, second, third = np.sqrt(squares)
    return float(first), float(second), float(third)


def _changes(gap: Gap, sides: Sequence[_Side], draft: Draft) -> Array:
    """(d,) the change of the gap in each simulated build; its place is searched for again.

    Between tubes that is wherever they are planned nearly as near, at the chassis it is beside the planned place.
    """
    if len(sides) == 2:
        return _changes_between(gap, sides[0], sides[1], draft)
    [side] = sides
    middle, point = np.array(frame_at(side.tube.line, side.at)[0]), np.array(gap.points[1])
    low, high = max(side.at - WINDOW, side.tube.begins, 0.0), min(side.at + WINDOW, side.tube.line.length)
    return _to_plane(_built(side, _stations(side, low, high)), point, side.toward, middle)


def _stations(side: _Side, low: float, high: float) -> Array:
    """Places along a tube, including the gap's own."""
    reach = [np.arange(side.at, end, sign * STEP) for end, sign in ((low, -1.0), (high, 1.0))]
    return np.unique(np.concatenate([*reach, [side.at]]))


def _changes_between(gap: Gap, one: _Side, two: _Side, draft: Draft) -> Array:
    """(d,) for two tubes; where they converge, of what is left above the gap required at each place."""
    spans = [_stations(side, max(side.tube.begins, 0.0), side.tube.line.length) for side in (one, two)]
    both = [
        (np.array([frame_at(side.tube.line, at)[0] for at in span]), _radii(side, span))
        for side, span in zip((one, two), spans, strict=True)
    ]
    counts = _counts(gap, (one, two), spans, draft.limits.together)
    taken = _sum_of(both[0][1], both[1][1]) + (_required(draft, (one, two), spans) if gap.together else 0.0)
    planned = np.where(counts, _apart(both[0][0][None], both[1][0][None])[0], np.inf) - taken
    near = planned <= planned.min() + REACH
    rows, columns = near.any(axis=1), near.any(axis=0)
    built = [_built(side, span[use]) for side, span, use in zip((one, two), spans, (rows, columns), strict=True)]
    aside = (taken - np.where(counts, 0.0, np.inf))[np.ix_(rows, columns)]
    blocks = (slice(first, first + BLOCK) for first in range(0, len(built[0]), BLOCK))
    found = np.concatenate([(_apart(built[0][each], built[1][each]) - aside).min(axis=(1, 2)) for each in blocks])
    changes: Array = found - planned.min()
    return changes


def _required(draft: Draft, sides: tuple[_Side, _Side], spans: Sequence[Array]) -> Array:
    """(m, n) the gap required of the places of two tubes that converge: the one farther from the collector decides."""
    ramp = ramp_of(draft, sides[0].tube.run, sides[1].tube.run)
    one, two = (ramp.required(side.tube.line.length - span) for side, span in zip(sides, spans, strict=True))
    return np.maximum(one[:, None], two[None, :])


def _counts(gap: Gap, sides: tuple[_Side, _Side], spans: Sequence[Array], together: float) -> Flags:
    """(m, n) the places of two tubes that are measured: tubes of a collector converge along the last of both."""
    ends = [side.tube.run.end.collector for side in sides]
    if ends[0] != ends[1] or together <= 0:
        return np.ones((len(spans[0]), len(spans[1])), bool)
    last = [span > side.tube.line.length - together for side, span in zip(sides, spans, strict=True)]
    converge: Flags = last[0][:, None] & last[1][None, :]
    return converge if gap.together else ~converge


def _radii(side: _Side, span: Array) -> Array:
    return np.array([tube_at(side.tube.run, float(at)).radius for at in span])


def _sum_of(one: Array, two: Array) -> Array:
    found: Array = one[:, None] + two[None, :]
    return found


def _built(side: _Side, span: Array) -> Array:
    """(d, m, 3) the centres of the tube in simulated builds, closed if the run has a closing joint."""
    tube, meeting, closed = side.tube, side.meeting, side.made.closed
    found: list[Array] = []
    for k, into in (tube.piece_at(float(at)) for at in span):
        stands = meeting is not None and k >= meeting.joint
        starts = (tube.builds.backward if stands else tube.builds.forward)[0][k]
        place = place_after(starts, tube.chain, k, tube.builds.errors, into, DRAWN)
        if meeting is not None and closed is not None and stands:
            end, along = meeting.bore
            place = end + turned(place - end, along, closed.turn[:DRAWN]) + closed.slide[:DRAWN, None] * along
        found.append(place)
    return np.stack(found, axis=1)


def _apart(one: Array, two: Array) -> Array:
    """(d, m, n) the distances between two rows of places (d, m, 3), (d, n, 3)."""
    squares = (one**2).sum(-1)[:, :, None] + (two**2).sum(-1)[:, None, :] - 2 * one @ two.transpose(0, 2, 1)
    found: Array = np.sqrt(np.maximum(squares, 0.0))
    return found


def _to_plane(places: Array, point: Array, toward: Array, planned: Array) -> Array:
    """(d,) how much nearer (negative) than planned the tube is to a point of the chassis.

    The chassis is taken as flat there.
    """
    nearest = np.square(places - point).sum(axis=2).argmin(axis=1)
    reached = places[np.arange(len(places)), nearest]
    found: Array = (planned - reached) @ toward
    return found
