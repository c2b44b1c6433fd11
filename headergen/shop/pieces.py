"""Where a header is cut: a joint between every two steps, but for those the spec makes of one piece."""

from __future__ import annotations

from itertools import groupby, pairwise

from headergen.geometry.centreline import frame_on, segment_starts
from headergen.geometry.frames import cross
from headergen.model import Bend, Centreline, Frame, Header, Joint, Piece, Primary


def pieces_of(header: Header) -> tuple[Piece, ...]:
    """Every piece, by primary and along it."""
    pairs = zip(header.primaries, header.centrelines, strict=True)
    return tuple(piece for primary, line in pairs for piece in primary_pieces(primary, line))


def joints_of(header: Header) -> tuple[Joint, ...]:
    """Every joint, by primary and along it."""
    pairs = zip(header.primaries, header.centrelines, strict=True)
    return tuple(joint for primary, line in pairs for joint in primary_joints(primary, line))


def primary_pieces(primary: Primary, line: Centreline) -> tuple[Piece, ...]:
    """The pieces of one primary. A step joined to the one before it goes into the same piece."""
    starts = segment_starts(line)
    places = {segment.step: (start, end) for segment, (start, end) in zip(line.segments, pairwise(starts), strict=True)}
    pieces: list[list[int]] = []
    for number in range(1, len(primary.steps) + 1):
        if pieces and number in primary.joined:
            pieces[-1].append(number)
        else:
            pieces.append([number])
    return tuple(
        Piece(primary.number, count, places[steps[0]][0], places[steps[-1]][1], tuple(steps))
        for count, steps in enumerate(pieces, 1)
    )


def primary_joints(primary: Primary, line: Centreline) -> tuple[Joint, ...]:
    """The joints between the pieces of one primary."""
    by_step = {step: list(group) for step, group in groupby(line.segments, key=lambda segment: segment.step)}
    joints = []
    for before, after in pairwise(primary_pieces(primary, line)):
        last = by_step[before.steps[-1]][-1]
        point, tangent, toward = frame_on(last, last.length)
        step = primary.steps[after.steps[0] - 1]
        turn = step.rotation if isinstance(step, Bend) else 0.0
        frame = Frame(point, toward, cross(tangent, toward), tangent)
        joints.append(Joint(primary.number, before.number, before.end, frame, turn))
    return tuple(joints)
