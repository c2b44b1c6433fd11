"""Where a header is cut: at a joint between every two steps, except those that the spec makes in one piece."""

from __future__ import annotations

from itertools import groupby, pairwise

from headergen.geometry.curves.centreline import frame_on, segment_starts
from headergen.geometry.frames import cross
from headergen.model import Bend, Centreline, Frame, Header, Joint, Piece, Run


def pieces_of(header: Header) -> tuple[Piece, ...]:
    """Every piece, by run and along it."""
    return tuple(piece for run, line in header.tubes for piece in run_pieces(run, line))


def joints_of(header: Header) -> tuple[Joint, ...]:
    """Every joint, by run and along it."""
    return tuple(joint for run, line in header.tubes for joint in run_joints(run, line))


def run_pieces(run: Run, line: Centreline) -> tuple[Piece, ...]:
    """The pieces of one run. A step joined to the step before is in the same piece."""
    starts = segment_starts(line)
    places = {segment.step: (start, end) for segment, (start, end) in zip(line.segments, pairwise(starts), strict=True)}
    pieces: list[list[int]] = []
    for number in range(1, len(run.steps) + 1):
        if pieces and number in run.joined:
            pieces[-1].append(number)
        else:
            pieces.append([number])
    return tuple(
        Piece(run.name, count, places[steps[0]][0], places[steps[-1]][1], tuple(steps))
        for count, steps in enumerate(pieces, 1)
    )


def run_joints(run: Run, line: Centreline) -> tuple[Joint, ...]:
    """The joints between the pieces of one run."""
    by_step = {step: list(group) for step, group in groupby(line.segments, key=lambda segment: segment.step)}
    joints = []
    for before, after in pairwise(run_pieces(run, line)):
        last = by_step[before.steps[-1]][-1]
        point, tangent, toward = frame_on(last, last.length)
        step = run.steps[after.steps[0] - 1]
        turn = step.rotation if isinstance(step, Bend) else 0.0
        frame = Frame(point, toward, cross(tangent, toward), tangent)
        joints.append(Joint(run.name, before.number, before.end, frame, turn))
    return tuple(joints)
