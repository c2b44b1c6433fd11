"""The arrival of a run at its bore as equations in the free values, with exact first and second derivatives.

All is in the axes of the bore, so that a closed run ends at (0, 0, 0) with direction (0, 0, 1). A change of a straight
moves all that follows along its tangent. A change of a rotation turns it about the incoming tangent. A change of a
bend's angle turns it about the bend's axis, through the arc's centre. These are the screw motions of a serial chain, so
the second derivatives are exact too: the turn of the earlier value, applied to the first derivative of the later one
(Lynch and Park, Modern Robotics, 2017, sec. 5.1).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.curves.centreline import frame_on, trace
from headergen.geometry.frames import add, cross, dot, scaled, subtract
from headergen.model import Arc, Bend, Centreline, Fit, Frame, Run, Segment, Step, Vec
from headergen.solve.least_change import LeastChange

DEGREE = math.pi / 180  # the unit of change: 1 mm of a length counts as much as 1 degree of an angle or rotation
NEARLY_BACKWARDS = 1e-9  # 1 + cosine below which an end that points back counts as pointing exactly back
NO_TURN: Vec = (0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Chain:
    """A path from a port frame in the axes of its bore, with the free values in travel order."""

    start: Frame
    steps: tuple[Step, ...]
    values: tuple[Fit, ...]
    target: float | None


@dataclass(frozen=True, eq=False)
class Arrival:
    """End (3,) and direction (3,); for each value, how it moves the end and turns the direction (n, 3)."""

    length: float
    end: Array
    direction: Array
    turns: Array
    moves: Array

    @property
    def swings(self) -> Array:
        """(n, 3) derivatives of the direction by each value."""
        return self.turns @ _crosser(self.direction)


def chain_of(run: Run, values: Sequence[Fit], target: float | None) -> Chain:
    """The chain of a primary whose steps hold the guesses; in a bend, the rotation comes before the angle."""
    ordered = tuple(sorted(values, key=lambda fit: (fit.step, fit.what != "rotation")))
    return Chain(_seen_from(run.end.frame, run.start.frame), run.steps, ordered, target)


def problem_of(chain: Chain) -> LeastChange:
    """The equations of a chain in x, the changes from its guesses in mm and degrees, with limits as bounds.

    Lengths and angles never go below 0, whatever the limits.
    """
    guesses = np.array([_guess(chain.steps, fit) for fit in chain.values])
    sizes = np.array([_size(fit) for fit in chain.values])
    low = (np.array([_lowest(fit) for fit in chain.values]) - guesses) / sizes
    high = (np.array([fit.high for fit in chain.values]) - guesses) / sizes
    return LeastChange(
        equations=lambda x: equations(chain, x),
        curvature=lambda x, weights: curvature(chain, x, weights),
        low=low,
        high=np.maximum(low, high),
    )


def changed_steps(chain: Chain, x: Array) -> tuple[Step, ...]:
    """The steps with every value changed by x (n,) from its guess; rounding never takes a value past a limit."""
    steps = list(chain.steps)
    for fit, change in zip(chain.values, x.tolist(), strict=True):
        value = _guess(chain.steps, fit) + change * _size(fit)
        steps[fit.step - 1] = replace(steps[fit.step - 1], **{fit.what: min(max(value, _lowest(fit)), fit.high)})
    return tuple(steps)


def length_slopes(chain: Chain) -> Array:
    """(n,) derivatives of the developed length by each value: 1, R per radian, or 0."""
    return np.array([_length_slope(chain.steps[fit.step - 1], fit) for fit in chain.values])


def equations(chain: Chain, x: Array) -> tuple[Array, Array]:
    """The residuals (m,), which must become zero, and their Jacobian (m, n).

    The end in the bore's axes, mm (3); the direction in the bore's plane, 2·tan(½ of the angular error), in degrees
    (2); with a target, the excess length, mm (1). The direction is a stereographic projection from the point opposite
    the bore's z, so that an end that points straight back is not a solution.
    """
    at = arrive(chain, x)
    lean = max(1.0 + float(at.direction[2]), NEARLY_BACKWARDS)
    flat = at.direction[:2] / lean
    c = np.concatenate([at.end, 2 / DEGREE * flat])
    swings = at.swings
    slopes = np.concatenate([at.moves, 2 / DEGREE / lean * (swings[:, :2] - swings[:, 2:] * flat)], axis=1).T
    if chain.target is None:
        return c, slopes
    return np.append(c, at.length - chain.target), np.concatenate([slopes, length_slopes(chain)[None, :]])


def curvature(chain: Chain, x: Array, weights: Array) -> Array:
    """(n, n) second derivatives of the equations, summed with `weights` (m,); those of the length are zero."""
    at = arrive(chain, x)
    lean = max(1.0 + float(at.direction[2]), NEARLY_BACKWARDS)
    flat = at.direction[:2] / lean
    aim = 2 / DEGREE / lean * weights[3:5]
    slant = float(aim @ flat)
    pull = np.array([aim[0], aim[1], -slant])  # gradient of the weighted equations by the direction
    bent = np.zeros((3, 3))  # and their second derivatives
    bent[:2, 2] = bent[2, :2] = -aim / lean
    bent[2, 2] = 2 * slant / lean
    swings = at.swings
    later = (at.turns @ _crosser(weights[:3]).T) @ at.moves.T + (at.turns @ _crosser(pull).T) @ swings.T
    upper = np.triu(later)
    return np.asarray(upper + np.triu(later, 1).T + swings @ bent @ swings.T)


def arrive(chain: Chain, x: Array) -> Arrival:
    """The end of the changed path in the axes of its bore, and its derivatives by each value."""
    return _arrival(trace(chain.start, changed_steps(chain, x)), chain.values)


def place_moves(line: Centreline, values: Sequence[Fit], at: tuple[int, float]) -> Array:
    """(n, 3) derivatives of a place on a path by each value, in the axes of the line, which may be any.

    `at`: the place's step, counted from 1, and the share of that step before the place.
    """
    step, share = at
    here = line.segments[step - 1]
    place = frame_on(here, share * here.length)[0]
    moves = []
    for fit in values:
        part = share if fit.step == step and fit.what != "rotation" else float(fit.step <= step)
        moves.append(scaled(_screw(line.segments[fit.step - 1], fit, place)[1], part))
    return np.array(moves).reshape(-1, 3)


def _arrival(line: Centreline, values: Sequence[Fit]) -> Arrival:
    last = line.segments[-1]
    end, direction, _ = frame_on(last, last.length)
    screws = [_screw(line.segments[fit.step - 1], fit, end) for fit in values]
    turns, moves = (np.array([screw[k] for screw in screws]).reshape(-1, 3) for k in (0, 1))
    return Arrival(line.length, np.array(end), np.array(direction), turns, moves)


def _screw(segment: Segment, fit: Fit, end: Vec) -> tuple[Vec, Vec]:
    """The rotation vector in radians, and the move of the end, for one unit of a value."""
    if fit.what == "length":
        return NO_TURN, segment.tangent
    assert isinstance(segment, Arc)
    axis, through = segment.tangent, segment.start
    if fit.what == "angle":
        axis = cross(segment.tangent, segment.normal)
        through = add(segment.start, segment.normal, segment.radius)
    turn = scaled(axis, DEGREE)
    return turn, cross(turn, subtract(end, through))


def _crosser(v: Array) -> Array:
    """(3, 3) matrix such that rows @ it = rows × v."""
    x, y, z = v.tolist()
    return np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])


def _guess(steps: Sequence[Step], fit: Fit) -> float:
    return float(getattr(steps[fit.step - 1], fit.what))


def _size(fit: Fit) -> float:
    """One unit of change, in millimetres or radians."""
    return 1.0 if fit.what == "length" else DEGREE


def _lowest(fit: Fit) -> float:
    return fit.low if fit.what == "rotation" else max(fit.low, 0.0)


def _length_slope(step: Step, fit: Fit) -> float:
    if isinstance(step, Bend):
        return step.radius * DEGREE if fit.what == "angle" else 0.0
    return 1.0


def _seen_from(axes: Frame, frame: Frame) -> Frame:
    """A frame in the axes of another frame."""

    def local(v: Vec) -> Vec:
        return dot(v, axes.x), dot(v, axes.y), dot(v, axes.z)

    return Frame(local(subtract(frame.origin, axes.origin)), local(frame.x), local(frame.y), local(frame.z))
