"""The centreline of a run as built, and the nearest path of a spec: bends that meet their straights without a kink."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from headergen.built.chain import ANGLE, FIRST, TURN, VALUES, BuiltPiece, Pose, motions_of, poses, turned_into
from headergen.built.state import HalfBuilt, cut_back
from headergen.geometry.arrays import Array
from headergen.geometry.curves.centreline import cut_out, frame_at, frame_on, trace
from headergen.geometry.curves.stepped import growth_places, step_length
from headergen.geometry.frames import vec
from headergen.hand.chain import about_y
from headergen.model import Arc, Bend, Centreline, CutPiece, Frame, Line, Run, Segment, Step, Straight
from headergen.shop.sizes import SAME

ROUNDS, CLOSED = 30, 1e-9
SETTLED = 1e-6  # mm and degrees, between two rounds
FAINT = 0.03  # weight of a change by 1 mm or 1° beside 1 mm from the tube
LEVER = 100.0  # mm
EVERY = 4.0  # mm along a tube, at which two centrelines are compared
LEAST = 1e-6  # mm of a straight that is a segment of its own


class PathError(ValueError):
    """No path of the spec's own steps runs as the tube does; the message says why."""


def line_as_built(half: HalfBuilt, slide: float) -> Centreline:
    """The centreline from the start of the run to its collector plane, with every kink; `slide`: of its end (mm)."""
    tube = half.tube
    segments: list[Segment] = list(cut_out(tube.line, 0.0, tube.begins).segments) if tube.begins > 0 else []
    for pose, piece, cut in zip(half.ends(), cut_back(half), tube.pieces, strict=False):
        segments += _segments(pose, piece, cut, tube.run)
    last = segments[-1]
    if isinstance(last, Line) and last.length > slide:
        segments[-1] = replace(last, length=last.length - slide)
    line = Centreline(tube.run.name, tuple(segments))
    if tube.begins < 0:  # one sawn to the lean of its port may begin before the run, straight on
        line = cut_out(line, -tube.begins, math.inf)
    return line


def _segments(pose: Pose, piece: BuiltPiece, cut: CutPiece, run: Run) -> Iterator[Segment]:
    axes, at = turned_into(pose, piece)
    step = _step_at(cut, run)
    for straight, length in _straights(cut, run, piece.first, step):
        yield Line(straight, vec(at), vec(axes[:, 2]), vec(axes[:, 0]), length)
        at = at + length * axes[:, 2]
    if piece.angle <= 0:
        return
    arc = Arc(step, vec(at), vec(axes[:, 2]), vec(axes[:, 0]), piece.radius, piece.angle)
    yield arc
    if piece.last > LEAST:
        point, tangent, _ = frame_on(arc, arc.length)
        yield Line(_straight_by(run, step, 1), point, tangent, vec((axes @ about_y(piece.angle))[:, 0]), piece.last)


def _straights(cut: CutPiece, run: Run, first: float, step: int) -> Iterator[tuple[int, float]]:
    """The steps of the straight that a piece begins with, each with its length: a slip joint is one of its own."""
    slips = (place for place in growth_places(run) if place.by == "slip" and abs(place.start - cut.start) < SAME)
    taken = 0.0
    for slip in slips:
        taken = min(slip.end - slip.start, first)
        yield slip.step, taken
        step = step if cut.step is not None else max(step, slip.step + 1)
    if first - taken > LEAST:
        yield _straight_by(run, step, -1), first - taken


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


def path_as_built(half: HalfBuilt, line: Centreline) -> tuple[tuple[Step, ...], float]:
    """The path that is nearest to a tube as built and ends exactly where it does, and how far apart the two are (mm).

    It has the steps of the planned path: bends keep their measured radius, and kinks are shared out among all values so
    that bends end as near as can be to where they do on the tube. Raises PathError if there is no such path.
    """
    run = half.tube.run
    steps = _measured_steps(half, line)
    links, owners = _as_links(steps)
    frame = run.start.frame
    start = (np.array([frame.x, frame.y, frame.z]).T, np.array(frame.origin))
    end = frame_on(line.segments[-1], line.segments[-1].length)
    fixed = [isinstance(step, Straight) and step.growth is not None for step in steps]
    kept = np.array([straight >= 0 and fixed[straight] for straight, _ in owners])
    near = [_place(line, 1 + (straight if bend < 0 else bend)) for straight, bend in owners]
    found = _to_end(links, kept, start, (np.array(end[0]), np.array(end[1])), near)
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
            length = sum(each.length for each in own if isinstance(each, Line)) or step.length
            made.append(step if step.growth is not None else Straight(length))
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
    """A link for each bend with the straight before it, and one for any other straight; (straight, bend) of each."""
    links, owners, before = [], [], -1
    for number, step in enumerate(steps):
        if isinstance(step, Straight):
            if before >= 0:
                links.append(_of_straight(steps[before]))
                owners.append((before, -1))
            before = number
            continue
        first = steps[before]
        length = first.length if before >= 0 and isinstance(first, Straight) else 0.0
        links.append(BuiltPiece(step.rotation, length, step.angle, step.radius, 0.0))
        owners.append((before, number))
        before = -1
    if before >= 0:
        links.append(_of_straight(steps[before]))
        owners.append((before, -1))
    return links, owners


def _of_straight(step: Step) -> BuiltPiece:
    return BuiltPiece(0.0, step_length(step), 0.0, 0.0, 0.0)


def _place(line: Centreline, step: int) -> Array | None:
    """(3,) where a step ends on the line; None if it has none of it."""
    own = [each for each in line.segments if each.step == step]
    return np.array(frame_on(own[-1], own[-1].length)[0]) if own else None


def _to_end(
    links: Sequence[BuiltPiece],
    kept: Array,
    start: Pose,
    end: tuple[Array, Array],
    near: Sequence[Array | None],
) -> list[BuiltPiece]:
    """The links that end at a place in a direction, each as near as can be to where its bend ends on the tube.

    `kept`: links whose straight, in which the tube grows, stays as long as it is. What the places leave open is changed
    the least, 1 mm and 1° alike.
    """
    made, use = list(links), _may_change(links, kept)
    scale = np.where([value in (TURN, ANGLE) for value in range(VALUES)], math.radians(1), 1.0)
    scales = np.tile(scale, len(links))[use]
    x = np.cross(end[1], [1.0, 0, 0] if abs(end[1][0]) < 0.9 else [0, 1.0, 0])
    across = np.array([x / np.linalg.norm(x), np.cross(end[1], x / np.linalg.norm(x))])
    changed = np.zeros(int(use.sum()))
    for _ in range(ROUNDS):
        at = poses(start, made)
        moves = np.concatenate([motions_of(pose, link) for pose, link in zip(at, made, strict=False)])
        turn, shift = moves[use, :3], moves[use, 3:]
        off = np.concatenate([at[-1][1] - end[0], LEVER * (across @ at[-1][0][:, 2])])
        met = np.vstack([(shift + np.cross(turn, at[-1][1])).T, LEVER * (np.cross(turn, at[-1][0][:, 2]) @ across.T).T])
        rows, slopes = [FAINT * changed], [FAINT * np.eye(len(changed))]
        for k, place in enumerate(near[:-1]):
            if place is not None:
                before = (np.repeat(np.arange(len(links)), VALUES) <= k)[use]
                rows.append(at[k + 1][1] - place)
                slopes.append(((shift + np.cross(turn, at[k + 1][1])) * before[:, None]).T * scales)
        step = _least_with(np.vstack(slopes), -np.concatenate(rows), met * scales, -off)
        if np.abs(off).max() < CLOSED and np.abs(step).max() < SETTLED:
            return made
        changed = changed + step
        by = np.zeros(len(links) * VALUES)
        by[use] = step * scales
        made = [link.changed(row) for link, row in zip(made, by.reshape(-1, VALUES), strict=True)]
    raise PathError("its values do not reach the end of the tube")


def _may_change(links: Sequence[BuiltPiece], kept: Array) -> Array:
    """(7 n,) whether each value of each link is one of its path."""
    use = np.zeros((len(links), VALUES), bool)
    for k, link in enumerate(links):
        use[k, FIRST] = link.first > 0 and not kept[k]
        use[k, [TURN, ANGLE]] = link.angle > 0
    found: Array = use.ravel()
    return found


def _least_with(slopes: Array, goal: Array, met: Array, to: Array) -> Array:
    """The values with the least squares of slopes @ values - goal, of those with met @ values = to."""
    any_of = np.linalg.lstsq(met, to, rcond=1e-9)[0]
    _, sizes, ways = np.linalg.svd(met)
    free = ways[int((sizes > 1e-9 * sizes.max(initial=1e-300)).sum()) :].T
    found: Array = any_of + free @ np.linalg.lstsq(slopes @ free, goal - slopes @ any_of, rcond=None)[0]
    return found


def _settled(step: Step, links: Sequence[BuiltPiece], owners: Sequence[tuple[int, int]], number: int) -> Step:
    for link, (straight, bend) in zip(links, owners, strict=True):
        if number == straight and isinstance(step, Straight):
            return replace(step, length=link.first)
        if number == bend and isinstance(step, Bend):
            return Bend(link.angle, step.radius, link.turn)
    return step


def _apart(links: Sequence[BuiltPiece], line: Centreline, start: Pose) -> float:
    """The largest distance of the tube's centreline from that of the path."""
    steps: list[Step] = []
    for link in links:
        steps += [Straight(link.first)] if link.first > 0 else []
        steps += [Bend(link.angle, link.radius, link.turn)] if link.angle > 0 else []
    frame = Frame(vec(start[1]), vec(start[0][:, 0]), vec(start[0][:, 1]), vec(start[0][:, 2]))
    smooth = trace(frame, steps, line.run)
    fine = _points(smooth, EVERY / 8)
    return float(max(_from_chords(fine, point) for point in _points(line, EVERY)))


def _from_chords(corners: Array, point: Array) -> float:
    """The distance of a point from a row of chords."""
    start, way = corners[:-1], np.diff(corners, axis=0)
    share = np.clip(((point - start) * way).sum(axis=1) / (way * way).sum(axis=1), 0.0, 1.0)
    return float(np.linalg.norm(start + share[:, None] * way - point, axis=1).min())


def _points(line: Centreline, every: float) -> Array:
    count = max(int(line.length / every), 1)
    return np.array([frame_at(line, line.length * k / count)[0] for k in range(count + 1)])
