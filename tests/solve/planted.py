"""Primaries with a planted closing: a random path whose own end becomes its bore, then guesses moved off it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from headergen.geometry.centreline import frame_on, trace
from headergen.geometry.frames import frame_from_normal
from headergen.model import Bend, Bore, Fit, Port, PortShape, Primary, Step, Straight
from headergen.solve.closing import Task, equations, with_values

REGULAR = 0.5  # least singular value (mm a mm or degree) of a planted task: less would leave the values themselves open


def planted(rng: np.random.Generator, unknowns: int, with_length: bool) -> tuple[Task, Task]:
    """A task that is closed as it stands, and the same with guesses up to 20 mm and 10° off."""
    while True:
        steps = random_path(rng)
        fits = some_fits(rng, steps, unknowns)
        if fits is None:
            continue
        true = as_task(rng, steps, fits, with_length)
        slopes = equations(true, true.guesses)[1]
        if unknowns > len(slopes) or np.linalg.svd(slopes, compute_uv=False)[-1] > REGULAR:
            low, high = true.bounds
            off = np.array([rng.uniform(-20, 20) if f.what == "length" else rng.uniform(-10, 10) for f in fits])
            return true, replace(true, primary=with_values(true, np.clip(true.guesses + off, low, high)))


def random_path(rng: np.random.Generator) -> list[Step]:
    steps: list[Step] = [Straight(float(rng.uniform(30, 90)))]
    for _ in range(rng.integers(2, 5)):
        angle, rotation = math.radians(rng.uniform(20, 110)), math.radians(rng.uniform(-170, 170))
        steps += [Bend(angle, 63.5, rotation), Straight(float(rng.uniform(25, 200)))]
    return steps


def some_fits(rng: np.random.Generator, steps: list[Step], count: int) -> tuple[Fit, ...] | None:
    every: list[Fit] = []
    for number, step in enumerate(steps, 1):
        if isinstance(step, Straight):
            every.append(Fit(number, "length", 10.0, 1e6))
        else:
            every.append(Fit(number, "angle", math.radians(5), math.radians(170)))
            every.append(Fit(number, "rotation", step.rotation - 2.0, step.rotation + 2.0))
    if len(every) < count:
        return None
    return tuple(every[k] for k in sorted(rng.choice(len(every), count, replace=False)))


def as_task(rng: np.random.Generator, steps: list[Step], fits: tuple[Fit, ...], with_length: bool) -> Task:
    start = frame_from_normal(tuple(rng.uniform(-200, 200, 3)), tuple(rng.normal(size=3)), tuple(rng.normal(size=3)))
    line = trace(start, steps, 1)
    point, tangent, _ = frame_on(line.segments[-1], line.segments[-1].length)
    bore = Bore("main", 1, 1, frame_from_normal(point, tangent))
    target = line.length if with_length else None
    primary = Primary(1, Port(1, start, PortShape("round", (38.0,))), bore, tuple(steps), target, fits=fits)
    return Task(primary, fits, target)


def miss_of(primary: Primary, target: float | None) -> tuple[float, float, float]:
    """How far a primary ends from its bore (mm), off its axis (rad), and off its length (mm), from its steps alone."""
    line = trace(primary.port.frame, primary.steps)
    point, tangent, _ = frame_on(line.segments[-1], line.segments[-1].length)
    off = float(np.linalg.norm(np.subtract(point, primary.bore.frame.origin)))
    cross, dot = np.cross(tangent, primary.bore.frame.z), np.dot(tangent, primary.bore.frame.z)
    return off, math.atan2(float(np.linalg.norm(cross)), float(dot)), 0.0 if target is None else line.length - target
