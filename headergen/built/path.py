"""The centreline of a run as built, and the nearest path of a spec: bends that meet their straights without a kink."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from headergen.built.chain import ANGLE, FIRST, TURN, VALUES, BuiltPiece, Pose, motions_of, poses, turned_into
from headergen.built.state import HalfBuilt
from headergen.geometry.arrays import Array
from headergen.geometry.curves.centreline import cut_out, frame_at, frame_on, trace
from headergen.hand.chain import about_y
from headergen.model import Arc, Bend, Centreline, CutPiece, Frame, Line, Run, Segment, Step, Straight, Vec

ROUNDS, CLOSED = 20, 1e-9
LEVER = 100.0  # mm
EVERY = 4.0  # mm along a tube, at which two centrelines are compared
LEAST = 1e-6  # mm of a straight that is a segment of its own


class PathError(ValueError):
    """No path of the spec's own steps runs as the tube does; the message says why."""


def line_as_built(half: HalfBuilt, slide: float) -> Centreline:
    """The centreline from the start of the run to its collector plane, with every kink; `slide`: of its end (mm)."""
    tube = half.tube
    segments: list[Segment] = list(cut_out(tube.line, 0.0, tube.begins).segments) if tube.begins > 0 else []
    for pose, piece, cut in zip(half.ends(), half.pieces, tube.pieces, strict=False):
        segments += _segments(pose, piece, cut, tube.run)
    last = segments[-1]
    if isinstance(last, Line) and last.length > slide:
        segments[-1] = replace(last, length=last.length - slide)
    return Centreline(tube.run.name, tuple(segments))


def _segments(pose: Pose, piece: BuiltPiece, cut: CutPiece, run: Run) -> Iterator[Segment]:
    axes, at = turned_into(pose, piece)
    step = _step_at(cut, run)
    if piece.first > LEAST:
        yield Line(_straight_by(run, step, -1), _vec(at), _vec(axes[:, 2]), _vec(axes[:, 0]), piece.first)
    at = at + piece.first * axes[:, 2]
    if piece.angle <= 0:
        return
    arc = Arc(step, _vec(at), _vec(axes[:, 2]), _vec(axes[:, 0]), piece.radius, piece.angle)
    yield arc
    if piece.last > LEAST:
        point, tangent, _ = frame_on(arc, arc.length)
        yield Line(_straight_by(run, step, 1), point, tangent, _vec((axes @ about_y(piece.angle))[:, 0]), piece.last)


def _step_at(cut: CutPiece, run: Run) -> int:
    """The step of a piece: its bend, or for a straight the one in which its middle is."""
    if cut.step is not None:
        return cut.step
    middle, passed = (cut.start + cut.end) / 2, 0.0
    for number, step in enumerate(run.steps, 1):
        passed += step.length if isinstance(step, Straight) else step.angle * step.radius
        if middle <= passed:
            return number
    return len(run.steps)


def _straight_by(run: Run, step: int, side: int) -> int:
    """The straight beside a bend, or the step itself."""
    if isinstance(run.steps[step - 1], Straight):
        return step
    beside = step + side
    inside = 1 <= beside <= len(run.steps)
    return beside if inside and isinstance(run.steps[beside - 1], Straight) else step


def _vec(values: Array) -> Vec:
    x, y, z = (float(each) for each in values)
    return (x, y, z)


def path_as_built(half: HalfBuilt, line: Centreline) -> tuple[tuple[Step, ...], float]:
    """The path that is nearest to a tube as built and ends exactly where it does, and how far apart the two are (mm).

    It has the steps of the planned path: bends keep their measured radius, and what kinks add is shared out among all
    values by the least change. Raises PathError if there is no such path.
    """
    run = half.tube.run
    steps = _measured_steps(half, line)
    links, owners = _as_links(steps)
    frame = run.start.frame
    start = (np.array([frame.x, frame.y, frame.z]).T, np.array(frame.origin))
    end = frame_on(line.segments[-1], line.segments[-1].length)
    found = _to_end(links, start, (np.array(end[0]), np.array(end[1])))
    steps = tuple(_settled(step, found, owners, number) for number, step in enumerate(steps))
    if any(isinstance(step, Straight) and step.length <= 0 for step in steps):
        raise PathError("a straight would have no length")
    return steps, _apart(found, line, start)


def _measured_steps(half: HalfBuilt, line: Centreline) -> tuple[Step, ...]:
    """The steps of the run with the lengths, angles and turns of the pieces as they are."""
    run = half.tube.run
    made: list[Step] = []
    for number, step in enumerate(run.steps, 1):
        own = [each for each in line.segments if each.step == number]
        if isinstance(step, Straight):
            made.append(Straight(sum(each.length for each in own if isinstance(each, Line)) or step.length))
            continue
        pieces = [p for p, cut in zip(half.pieces, half.tube.pieces, strict=True) if cut.step == number]
        angle = sum(piece.angle for piece in pieces) or step.angle
        turned = sum(
            piece.turn - link.clocking
            for piece, link, cut in zip(half.pieces, half.tube.chain.links, half.tube.pieces, strict=True)
            if cut.step == number
        )
        radius = pieces[0].radius if pieces else step.radius
        made.append(Bend(angle, radius, step.rotation + turned))
    return tuple(made)


def _as_links(steps: Sequence[Step]) -> tuple[list[BuiltPiece], list[tuple[int, int]]]:
    """A link for each bend with the straight before it, and one for the last straight; (straight, bend) of each."""
    links, owners, before = [], [], -1
    for number, step in enumerate(steps):
        if isinstance(step, Straight):
            before = number
            continue
        first = steps[before]
        length = first.length if before >= 0 and isinstance(first, Straight) else 0.0
        links.append(BuiltPiece(step.rotation, length, step.angle, step.radius, 0.0))
        owners.append((before, number))
        before = -1
    last = steps[before]
    if before >= 0 and isinstance(last, Straight):
        links.append(BuiltPiece(0.0, last.length, 0.0, 0.0, 0.0))
        owners.append((before, -1))
    return links, owners


def _to_end(links: Sequence[BuiltPiece], start: Pose, end: tuple[Array, Array]) -> list[BuiltPiece]:
    """The links changed the least, 1 mm and 1° alike, so that they end at a place in a direction."""
    made = list(links)
    weights = np.ones((len(links), VALUES))
    weights[:, [TURN, ANGLE]] = 180 / math.pi
    use = np.zeros((len(links), VALUES), bool)
    for k, link in enumerate(links):
        use[k, FIRST] = link.first > 0
        use[k, [TURN, ANGLE]] = link.angle > 0
    x = np.cross(end[1], [1.0, 0, 0] if abs(end[1][0]) < 0.9 else [0, 1.0, 0])
    across = np.array([x / np.linalg.norm(x), np.cross(end[1], x / np.linalg.norm(x))])
    for _ in range(ROUNDS):
        at = poses(start, made)
        off = np.concatenate([at[-1][1] - end[0], LEVER * (across @ at[-1][0][:, 2])])
        if np.abs(off).max() < CLOSED:
            return made
        moves = np.concatenate([motions_of(pose, link) for pose, link in zip(at, made, strict=False)])
        turn, shift = moves[:, :3], moves[:, 3:]
        slopes = np.column_stack(
            [shift + np.cross(turn, at[-1][1]), LEVER * (np.cross(turn, at[-1][0][:, 2]) @ across.T)]
        ).T
        scaled = (slopes / weights.ravel()) * use.ravel()
        step = np.linalg.lstsq(scaled, -off, rcond=1e-9)[0] / weights.ravel() * use.ravel()
        made = [link.changed(row) for link, row in zip(made, step.reshape(-1, VALUES), strict=True)]
    raise PathError("its values do not reach the end of the tube")


def _settled(step: Step, links: Sequence[BuiltPiece], owners: Sequence[tuple[int, int]], number: int) -> Step:
    for link, (straight, bend) in zip(links, owners, strict=True):
        if number == straight:
            return Straight(link.first)
        if number == bend and isinstance(step, Bend):
            return Bend(link.angle, step.radius, link.turn)
    return step


def _apart(links: Sequence[BuiltPiece], line: Centreline, start: Pose) -> float:
    """The largest distance of the tube's centreline from that of the path."""
    steps: list[Step] = []
    for link in links:
        steps += [Straight(link.first)] if link.first > 0 else []
        steps += [Bend(link.angle, link.radius, link.turn)] if link.angle > 0 else []
    frame = Frame(_vec(start[1]), _vec(start[0][:, 0]), _vec(start[0][:, 1]), _vec(start[0][:, 2]))
    smooth = trace(frame, steps, line.run)
    fine = _points(smooth, EVERY / 8)
    return float(max(np.linalg.norm(fine - point, axis=1).min() for point in _points(line, EVERY)))


def _points(line: Centreline, every: float) -> Array:
    count = max(int(line.length / every), 1)
    return np.array([frame_at(line, line.length * k / count)[0] for k in range(count + 1)])
