"""What a run leaves for closing it: how far its end piece slides, and where spare length can be left on."""

from __future__ import annotations

from headergen.hand.closing import Meeting, meeting_at
from headergen.hand.tube import RunInPieces


def meeting_of(tube: RunInPieces, joint: int) -> Meeting:
    """A joint of a run as a closing joint, with all the slide and spare there is room for."""
    room = sum(room for _, room in spares_at(tube, joint))
    return meeting_at(tube.chain, joint, tube.hand, slides_of(tube), room)


def slides_of(tube: RunInPieces) -> tuple[float, float]:
    """The limits of the slide of the end piece.

    Out of the bore: what can be left on at the end, and as much as the slip may get shorter. Into it: until the last
    bend meets the sleeve, whose mouth may be cut back as much.
    """
    last, spare = tube.pieces[-1], tube.hand.spare
    shorter = max(tube.collector.slip - tube.hand.slip, 0.0)
    out = max(last.ends[1].room - last.ends[1].leave_on, 0.0) + shorter
    return -min(spare, out), min(spare, max(bend_at(tube) + shorter, 0.0))


def bend_at(tube: RunInPieces) -> float:
    """How far the end piece slides in until its last bend is in the mouth of the sleeve (mm)."""
    last = tube.pieces[-1]
    return (last.legs[1] if last.is_bend else last.length) - tube.collector.slip


def spares_at(tube: RunInPieces, joint: int) -> list[tuple[int, float]]:
    """The pieces, by their numbers, that can have spare at a closing joint, and how much there is room for (mm).

    A straight comes first, else the side with more room; the other has only what that has no room for. Two pieces of
    one bought bend share its room.
    """
    before, after = tube.pieces[joint - 1], tube.pieces[joint]
    sides = [(before, before.ends[1]), (after, after.ends[0])]
    room = [(not piece.is_bend, max(end.room - end.leave_on, 0.0), piece.number) for piece, end in sides]
    first, second = sorted(room, key=lambda each: each[:2], reverse=True)
    is_shared = before.is_bend and after.is_bend and before.item is not None and before.item == after.item
    return [(number, space) for _, space, number in ((first,) if is_shared else (first, second))]
