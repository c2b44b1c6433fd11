"""Where a run closes too rarely: how much longer a slip would do, which straight could be made to measure, and at which
joint it would close if its path gave that room."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from headergen.geometry.arrays import Array
from headergen.hand.closing import Meeting, close_builds, is_closed
from headergen.hand.spares import meeting_of
from headergen.hand.tube import RunInPieces
from headergen.model import NINE_IN_TEN, AnotherJoint, MadeToMeasure, Otherwise

LONGEST, BY = 30.0, 1.0  # mm by which a slip is tried longer, and the steps


def otherwise(tube: RunInPieces, meeting: Meeting) -> Otherwise:
    """What would close the run in nine of ten builds, with its figures; None for what does not."""
    ends, starts = tube.builds.forward[1][meeting.joint - 1], tube.builds.backward[0][meeting.joint]
    closed = close_builds(meeting, ends, starts, tube.hand)
    step, kink = (float(np.quantile(each, NINE_IN_TEN)) for each in (closed.step, closed.kink))
    return Otherwise(_slip_longer(tube, meeting), _made_to_measure(tube), _with_room(tube), step, kink)


def _slip_longer(tube: RunInPieces, meeting: Meeting) -> float | None:
    """The least by which the slip is longer, and the end piece slides farther both ways (mm)."""
    ends, starts = tube.builds.forward[1][meeting.joint - 1], tube.builds.backward[0][meeting.joint]
    low, high = meeting.slides
    if tube.collector.slip <= 0:
        return None
    for more in np.arange(BY, LONGEST + BY / 2, BY):
        longer = replace(meeting, slides=(low - float(more), high + float(more)))
        closed = close_builds(longer, ends, starts, tube.hand)
        if np.mean(is_closed(closed, longer, tube.hand)) >= NINE_IN_TEN:
            return float(more)
    return None


def _with_room(tube: RunInPieces) -> AnotherJoint | None:
    """The joint, of those that no torch reaches as the path is, at which most builds close; none within the slip."""
    slip_from = tube.pieces[-1].end - tube.collector.slip
    tried = []
    for joint in sorted(tube.blocked & set(range(1, tube.chain.size))):
        if tube.pieces[joint].start >= slip_from:
            continue
        meeting = meeting_of(tube, joint)
        closed = close_builds(meeting, tube.builds.forward[1][joint - 1], tube.builds.backward[0][joint], tube.hand)
        tried.append(AnotherJoint(joint, float(np.mean(is_closed(closed, meeting, tube.hand)))))
    best = max(tried, key=lambda each: each.closes, default=None)
    return best if best is not None and best.closes >= NINE_IN_TEN else None


def _made_to_measure(tube: RunInPieces) -> MadeToMeasure | None:
    """The longest straight piece between two joints that a torch reaches, as nine of ten builds need it.

    Its line is from one tacked end to the other, so that it always fits; the mitre at each end is half the angle there.
    """
    inner = range(1, tube.chain.size - 1)
    free = [k for k in inner if not tube.pieces[k].is_bend and not {k, k + 1} & tube.blocked]
    if not free:
        return None
    k = max(free, key=lambda each: tube.pieces[each].length)
    before, after = tube.builds.forward[1][k - 1], tube.builds.backward[0][k + 1]
    between = after[1] - before[1]
    length = np.linalg.norm(between, axis=1)
    way = between / length[:, None]
    kink = np.maximum(_angle(before[0][:, :, 2], way), _angle(way, after[0][:, :, 2]))
    shortest, longest = np.quantile(length, (0.05, 0.95))
    return MadeToMeasure(k + 1, float(shortest), float(longest), float(np.quantile(kink, NINE_IN_TEN)) / 2)


def _angle(one: Array, two: Array) -> Array:
    found: Array = np.arccos(np.clip((one * two).sum(axis=1), -1.0, 1.0))
    return found
