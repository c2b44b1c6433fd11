"""Exact centrelines of tubes, made of straight lines and circular arcs, and the two ways a shop writes them down.

LRA: lengths of the straights, rotations between bend planes, bend angles. XYZ: the points where neighbouring straights
would meet, with a centre-line radius at each inner point. Rotation is right-handed about the incoming travel direction.
The first rotation counts from the x axis of the start frame: a bend of rotation 0 turns toward that axis.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from headergen.geometry.frames import add, angle_between, cross, dot, norm, rotated, scaled, subtract, unit
from headergen.model import Arc, Bend, Centreline, Frame, Line, Place, Segment, Step, Straight, Vec

STRAIGHT_ENOUGH = 1e-9  # rad; a corner flatter than this has no bend


class PointsError(ValueError):
    """Points and radii that no tube can follow; `corner` counts the given points from 1.

    `message` has a {} for each of `lengths` (mm), so that it can be worded in any unit; as text the lengths are in mm.
    """

    def __init__(self, message: str, corner: int, lengths: Sequence[float] = ()) -> None:
        super().__init__(message.format(*(f"{length:.1f} mm" for length in lengths)))
        self.message, self.corner, self.lengths = message, corner, tuple(lengths)


def trace(start: Frame, steps: Sequence[Step], run: str = "") -> Centreline:
    """The exact centreline of `steps` from `start`: z is the first direction of travel, x the zero of rotation."""
    point, tangent, normal = start.origin, start.z, start.x
    segments: list[Segment] = []
    for number, step in enumerate(steps, 1):
        if isinstance(step, Straight):
            segment: Segment = Line(number, point, tangent, normal, step.length)
        else:
            normal = _square(rotated(normal, tangent, step.rotation), tangent)
            segment = Arc(number, point, tangent, normal, step.radius, step.angle)
        segments.append(segment)
        point, tangent, normal = frame_on(segment, segment.length)
    return Centreline(run, tuple(segments))


def frame_on(segment: Segment, at: float) -> tuple[Vec, Vec, Vec]:
    """Point, tangent and the direction that faces the bend's centre, `at` millimetres into the segment."""
    if isinstance(segment, Line):
        return add(segment.start, segment.tangent, at), segment.tangent, segment.normal
    turn = at / segment.radius
    c, s = math.cos(turn), math.sin(turn)
    # 1 − cos written as 2·sin²(½), so that flat bends keep their digits
    sagitta = 2 * math.sin(turn / 2) ** 2
    point = add(add(segment.start, segment.tangent, segment.radius * s), segment.normal, segment.radius * sagitta)
    tangent = unit(add(scaled(segment.tangent, c), segment.normal, s))
    normal = _square(add(scaled(segment.normal, c), segment.tangent, -s), tangent)
    return point, tangent, normal


def _square(normal: Vec, tangent: Vec) -> Vec:
    """`normal` without the component along `tangent` left by rounding: frames stay square over any number of bends."""
    return unit(add(normal, tangent, -dot(normal, tangent)))


def locate(centreline: Centreline, at: float) -> tuple[int, float]:
    """Index of the segment at a length from the flange, and how far into it. At a joint: the earlier segment.

    A length before the start or past the end (rounding included) is clipped to the nearest end.
    """
    starts = centreline.starts
    at = min(max(at, 0.0), starts[-1])
    for index, segment in enumerate(centreline.segments):
        if at <= starts[index + 1]:
            return index, min(at - starts[index], segment.length)
    last = len(centreline.segments) - 1
    return last, centreline.segments[last].length


def frame_at(centreline: Centreline, at: float) -> tuple[Vec, Vec, Vec]:
    """Point, tangent and bend-plane normal at a length from the flange.

    On a straight the normal is carried over from the bend before it (or from the start frame).
    """
    index, into = locate(centreline, at)
    point, tangent, normal = frame_on(centreline.segments[index], into)
    return point, tangent, cross(tangent, normal)


def place_at(centreline: Centreline, at: float) -> Place:
    """A length (mm) from the start as a place in shop words: which run, how far along it, and in which step."""
    index, _ = locate(centreline, at)
    return Place(centreline.run, at, centreline.segments[index].step)


def lengthened(centreline: Centreline, by: float) -> Centreline:
    """The same centreline with a straight added at its end."""
    last = centreline.segments[-1]
    point, tangent, normal = frame_on(last, last.length)
    return Centreline(centreline.run, (*centreline.segments, Line(last.step, point, tangent, normal, by)))


def backwards(centreline: Centreline) -> Centreline:
    """The same centreline travelled from its end to its start."""
    turned: list[Segment] = []
    for segment in reversed(centreline.segments):
        point, tangent, normal = frame_on(segment, segment.length)
        turned.append(replace(segment, start=point, tangent=scaled(tangent, -1.0), normal=normal))
    return Centreline(centreline.run, tuple(turned))


def cut_out(centreline: Centreline, start: float, end: float) -> Centreline:
    """The part of a centreline between two lengths from the flange. Steps keep their numbers, frames their zero."""
    kept: list[Segment] = []
    for segment, begins in zip(centreline.segments, centreline.starts, strict=False):
        low, high = max(start - begins, 0.0), min(end - begins, segment.length)
        if high <= low:
            continue
        point, tangent, normal = frame_on(segment, low)
        if isinstance(segment, Line):
            kept.append(Line(segment.step, point, tangent, normal, high - low))
        else:
            angle = (high - low) / segment.radius
            kept.append(Arc(segment.step, point, tangent, normal, segment.radius, angle))
    return Centreline(centreline.run, tuple(kept))


def setback(radius: float, angle: float) -> float:
    """Tangent length of a bend, R·tan(θ/2): from the end of the bend to the corner where the straights would meet."""
    return radius * math.tan(angle / 2)


def corner_points(centreline: Centreline) -> tuple[Vec, ...]:
    """XYZ: the start, the corner of each bend, the end. Raises ValueError for a bend of 180°, which has no corner."""
    points = [centreline.segments[0].start]
    for segment in centreline.segments:
        if isinstance(segment, Arc):
            if math.pi - segment.angle < 1e-6:
                raise ValueError(f"step {segment.step} bends by 180°: its straights never meet")
            points.append(add(segment.start, segment.tangent, setback(segment.radius, segment.angle)))
    points.append(frame_on(centreline.segments[-1], centreline.segments[-1].length)[0])
    return tuple(points)


def steps_from_points(points: Sequence[Vec], radii: Sequence[float], x: Vec) -> tuple[Step, ...]:
    """LRA from XYZ: the steps of a path through `points`, rounded with one radius at each inner point.

    `x` is the zero of the first rotation (made square to the first leg). At a corner without a bend, the two straights
    become one. Raises PointsError where points coincide, where the path doubles back, or where a bend does not fit its
    legs; the message gives the missing millimetres.
    """
    if len(points) < 2 or len(radii) != len(points) - 2:
        raise PointsError(f"{len(points)} points need {max(len(points) - 2, 0)} radii, got {len(radii)}", 1)
    legs = [subtract(b, a) for a, b in pairwise(points)]
    lengths = [norm(leg) for leg in legs]
    for index, length in enumerate(lengths):
        if length < 1e-6:
            raise PointsError(f"points {index + 1} and {index + 2} are the same place", index + 2)
    directions = [unit(leg) for leg in legs]
    angles = [_corner_angle(directions, index) for index in range(len(radii))]
    backs = [setback(radius, angle) for radius, angle in zip(radii, angles, strict=True)]
    spare = _spare_lengths(lengths, backs)
    return _as_steps(directions, spare, angles, radii, x)


def _corner_angle(directions: Sequence[Vec], index: int) -> float:
    angle = angle_between(directions[index], directions[index + 1])
    if math.pi - angle < 1e-4:
        raise PointsError(f"the path doubles back at point {index + 2}: no bend fits there", index + 2)
    return angle if angle > STRAIGHT_ENOUGH else 0.0


def _spare_lengths(lengths: Sequence[float], backs: Sequence[float]) -> list[float]:
    """What is left of each leg after the setbacks at its two ends."""
    spare = []
    for index, length in enumerate(lengths):
        before = backs[index - 1] if index > 0 else 0.0
        after = backs[index] if index < len(backs) else 0.0
        left = length - before - after
        if left < -1e-9:
            raise PointsError(
                f"the leg from point {index + 1} to point {index + 2} is {{}} long, but its bends need "
                "{} of it: {} are missing",
                index + 2,
                (length, before + after, -left),
            )
        spare.append(max(left, 0.0))
    return spare


def _as_steps(
    directions: Sequence[Vec], spare: Sequence[float], angles: Sequence[float], radii: Sequence[float], x: Vec
) -> tuple[Step, ...]:
    steps: list[Step] = []
    straight = spare[0]
    reference = _square(x, directions[0])
    for index, (angle, radius) in enumerate(zip(angles, radii, strict=True)):
        if angle == 0.0:
            straight += spare[index + 1]
            continue
        if straight > 1e-9:
            steps.append(Straight(straight))
        tangent, after = directions[index], directions[index + 1]
        normal = _square(after, tangent)
        rotation = math.atan2(dot(cross(reference, normal), tangent), dot(reference, normal))
        steps.append(Bend(angle, radius, rotation))
        reference = _square(scaled(tangent, -1.0), after)  # points to the bend's centre at the end of the bend
        straight = spare[index + 1]
    if straight > 1e-9:
        steps.append(Straight(straight))
    return tuple(steps)
