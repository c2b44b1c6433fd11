"""Primaries whose closing is known, because the bore was put where a path ends. Truth is geometry.trace alone."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.curves.centreline import frame_on, trace
from headergen.geometry.frames import cross, dot, frame_from_normal, rotated, scaled, subtract
from headergen.model import (
    Bend,
    Bore,
    Collector,
    Draft,
    Fit,
    Flange,
    Frame,
    Job,
    LengthTarget,
    Limits,
    Port,
    PortShape,
    Run,
    Step,
    Straight,
    Tube,
    Vec,
    primary_name,
)
from tests.runs import primary as primary_run

DEGREE = math.pi / 180
REGULAR = 100.0
"""Largest condition number of a planted set, with 1 mm and 1 degree as units: a change of 1 then costs no more than
100 elsewhere. Sets beyond it are nearly dependent, so that two closings lie close together and neither is 'the' one."""


@dataclass(frozen=True)
class Planted:
    """A primary with guesses that are off, and the steps whose end is its bore."""

    primary: Run
    steps: tuple[Step, ...]


def unit_of(fit: Fit) -> float:
    return 1.0 if fit.what == "length" else DEGREE


def value_of(steps: Sequence[Step], fit: Fit) -> float:
    return float(getattr(steps[fit.step - 1], fit.what))


def with_value(steps: Sequence[Step], fit: Fit, value: float) -> tuple[Step, ...]:
    changed = list(steps)
    changed[fit.step - 1] = replace(changed[fit.step - 1], **{fit.what: value})
    return tuple(changed)


def values_of(steps: Sequence[Step], fits: Sequence[Fit]) -> Array:
    """(n,) in millimetres and degrees."""
    return np.array([value_of(steps, fit) / unit_of(fit) for fit in fits])


def with_values(steps: Sequence[Step], fits: Sequence[Fit], values: Array) -> tuple[Step, ...]:
    changed = tuple(steps)
    for fit, value in zip(fits, values.tolist(), strict=True):
        changed = with_value(changed, fit, value * unit_of(fit))
    return changed


def miss_of(primary: Run, steps: Sequence[Step], target: float | None) -> Array:
    """End minus bore in the bore's axes (mm), direction on the bore's x and y (rad), length minus target (mm)."""
    line = trace(primary.port.frame, steps)
    end, direction, _ = frame_on(line.segments[-1], line.segments[-1].length)
    bore = primary.end.frame
    off = subtract(end, bore.origin)
    seen = [dot(off, bore.x), dot(off, bore.y), dot(off, bore.z), dot(direction, bore.x), dot(direction, bore.y)]
    if target is not None:
        seen.append(line.length - target)
    return np.array(seen)


def faces_bore(primary: Run, steps: Sequence[Step]) -> bool:
    line = trace(primary.port.frame, steps)
    _, direction, _ = frame_on(line.segments[-1], line.segments[-1].length)
    return dot(direction, primary.end.frame.z) > 0


def condition_number(primary: Run, steps: Sequence[Step], fits: Sequence[Fit], target: float | None) -> float:
    """Of the derivatives by central differences, in millimetres and degrees throughout."""
    at = values_of(steps, fits)
    columns = []
    for k in range(len(fits)):
        h = np.zeros(len(fits))
        h[k] = 1e-3
        ahead, behind = (miss_of(primary, with_values(steps, fits, at + s * h), target) for s in (1, -1))
        columns.append((ahead - behind) / 2e-3)
    matrix = np.array(columns).T
    matrix[3:5] /= DEGREE
    return float(np.linalg.cond(matrix))


def random_path(chance: random.Random, bends: int) -> tuple[Step, ...]:
    """What is built: straights of 30 to 200 mm between bends of 20 to 110 degrees, of two radii a shop may stock."""
    steps: list[Step] = [Straight(chance.uniform(30, 200))]
    for _ in range(bends):
        angle, rotation = chance.uniform(20, 110) * DEGREE, chance.uniform(-180, 180) * DEGREE
        steps.append(Bend(angle, chance.choice((63.5, 84.8)), rotation))
        steps.append(Straight(chance.uniform(30, 200)))
    return tuple(steps)


def random_frame(chance: random.Random, reach: float = 300.0) -> Frame:
    def vector() -> Vec:
        return (chance.gauss(0, 1), chance.gauss(0, 1), chance.gauss(0, 1))

    return frame_from_normal(scaled(vector(), reach), vector(), vector())


def all_values(steps: Sequence[Step]) -> list[Fit]:
    """Every value of a path, within 5 mm or more for lengths, 3 to 175 degrees for angles, any rotation."""
    fits: list[Fit] = []
    for number, step in enumerate(steps, 1):
        if isinstance(step, Bend):
            fits.append(Fit(number, "angle", 3 * DEGREE, 175 * DEGREE))
            fits.append(Fit(number, "rotation", step.rotation - math.pi, step.rotation + math.pi))
        else:
            fits.append(Fit(number, "length", 5.0, 2000.0))
    return fits


def primary_onto_end(number: int, start: Frame, steps: Sequence[Step], target: float | None = None) -> Run:
    """A primary whose bore stands exactly where its steps end."""
    line = trace(start, steps)
    end, direction, toward = frame_on(line.segments[-1], line.segments[-1].length)
    bore = Bore("main", number, primary_name(number), Frame(end, toward, cross(direction, toward), direction))
    port = Port(number, start, PortShape("round", (38.0,)))
    return primary_run(number, port, bore, steps, target=target)


def regular_set(chance: random.Random, primary: Run, count: int) -> tuple[Fit, ...] | None:
    """`count` values drawn blindly until they are regular at the planted steps; None after 40 draws."""
    values = all_values(primary.steps)
    for _ in range(40):
        fits = tuple(sorted(chance.sample(values, count), key=lambda fit: (fit.step, fit.what)))
        if condition_number(primary, primary.steps, fits, primary.target) <= REGULAR:
            return fits
    return None


def plant(seed: int, extra: int = 0, off: tuple[float, float] = (20.0, 10.0)) -> Planted:
    """A planted primary with as many fits as equations and `extra` more; every second one has a target length.

    Guesses are off by up to 20 mm and 10 degrees, each value on its own.
    """
    chance = random.Random(seed)
    while True:
        steps = random_path(chance, chance.randint(2, 4))
        with_target = seed % 2 == 0
        count = (6 if with_target else 5) + extra
        primary = primary_onto_end(1, random_frame(chance), steps)
        if with_target:
            primary = replace(primary, target=trace(primary.port.frame, steps).length)
        fits = regular_set(chance, primary, count) if count <= len(all_values(steps)) else None
        if fits is not None:
            break
    planted = values_of(steps, fits)
    strayed = [off[0 if fit.what == "length" else 1] * chance.uniform(-1, 1) for fit in fits]
    guesses = with_values(steps, fits, planted + np.array(strayed))
    return Planted(replace(primary, steps=guesses, fits=fits), steps)


def draft_of(*primaries: Run, target: float | None = None, tolerance: float = 2.0) -> Draft:
    """A draft of nothing but primaries, butted on their collector."""
    frame = primaries[0].port.frame
    bores = tuple(primary.end for primary in primaries)
    return Draft(
        job=Job("Bogbean", "A", "2026-03-14"),
        tube=Tube(42.4, 1.5, "304L"),
        stock=None,
        flanges=(Flange(frame, 10.0, (), tuple(primary.port for primary in primaries)),),
        collectors=(Collector("main", bores[0].frame, "weld", 0.0, bores),),
        length=LengthTarget(target, tolerance),
        runs=primaries,
        chassis=(),
        limits=Limits(15.0, 0.5, 0.5 * DEGREE, 6.0, 100.0, 0.1),
    )


def moved(frame: Frame, axis: Vec, angle: float, shift: Vec) -> Frame:
    """A frame turned about an axis through zero, then shifted."""
    x, y, z = (rotated(v, axis, angle) for v in (frame.x, frame.y, frame.z))
    o = rotated(frame.origin, axis, angle)
    return Frame((o[0] + shift[0], o[1] + shift[1], o[2] + shift[2]), x, y, z)
