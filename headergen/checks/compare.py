"""Two banks compared: how far they differ from mirror images, and how far they are apart."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import product

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.curves.body import Body, distance_to_curve, points_along, tube_body
from headergen.geometry.curves.run import run_bodies
from headergen.geometry.distance.cones import exact_groups
from headergen.geometry.frames import add, angle_between
from headergen.model import Header, Plane, Vec
from headergen.model.evidence import Comparison

MIDDLE = Plane((0.0, 0.0, 0.0), (0.0, 1.0, 0.0))  # the plane between the banks, unless a spec says otherwise
SAMPLE = 1.0  # mm between the points at which one bank is compared with the mirror image of the other


def compare_banks(first: Header, second: Header) -> Comparison:
    """Compare two headers that are meant as mirror images.

    The mirror plane is the one that either spec gives between the banks, else y = 0.
    """
    plane = second.draft.between_banks or first.draft.between_banks or MIDDLE
    numbers = {line.run: line for line in second.centrelines}
    common = [(line, numbers[line.run]) for line in first.centrelines if line.run in numbers]
    bodies = [[tube_body(line, run.tube.radius) for run, line in header.tubes] for header in (first, second)]
    outsides = [[run_bodies(run, line) for run, line in header.tubes] for header in (first, second)]
    nearest = exact_groups([list(product(one, other)) for one, other in product(*outsides)])
    numbers_of_pairs = product(*([line.run for line in header.centrelines] for header in (first, second)))
    gaps = [
        (min(each.value for each, _ in found), a, b) for found, (a, b) in zip(nearest, numbers_of_pairs, strict=True)
    ]
    return Comparison(
        lengths=tuple((a.run, a.length, b.length) for a, b in common),
        collectors=tuple(_collectors(first, second, plane)),
        gap=min(gaps),
        unlike=tuple(
            (a.run, _deviation(bodies[0][first.centrelines.index(a)], bodies[1][second.centrelines.index(b)], plane))
            for a, b in common
        ),
        plane=plane,
        units=first.draft.units,
        alone=tuple(_alone(first, second)),
    )


def _alone(first: Header, second: Header) -> Iterator[tuple[str, str]]:
    here, there = ([run.name for run in header.runs] for header in (first, second))
    yield from ((name, "first") for name in here if name not in there)
    yield from ((name, "second") for name in there if name not in here)
    one, two = ([collector.name for collector in header.draft.collectors] for header in (first, second))
    yield from ((f"collector {name}", "first") for name in one[len(two) :])
    yield from ((f"collector {name}", "second") for name in two[len(one) :])


def _collectors(first: Header, second: Header, plane: Plane) -> Iterator[tuple[str, str, Vec, float]]:
    for one, two in zip(first.draft.collectors, second.draft.collectors, strict=False):
        ends = np.array([one.frame.origin, add(one.frame.origin, one.frame.z)])
        start, end = _reflected(ends, plane.origin, plane.normal)
        x, y, z = (np.array(two.frame.origin) - start).tolist()
        axis = (end - start).tolist()
        yield one.name, two.name, (x, y, z), angle_between((axis[0], axis[1], axis[2]), two.frame.z)


def _reflected(points: Array, origin: Vec, normal: Vec) -> Array:
    """(n, 3) points mirrored in a plane with a unit normal."""
    reflected: Array = points - 2 * np.outer((points - np.array(origin)) @ np.array(normal), normal)
    return reflected


def _deviation(one: Body, two: Body, plane: Plane) -> float:
    """The largest deviation of one centreline's mirror image from the other centreline, sampled along it."""
    low, high = one.span
    points = points_along(one, np.linspace(low, high, math.ceil((high - low) / SAMPLE) + 1))
    points = _reflected(points, plane.origin, plane.normal)
    return float(np.min([distance_to_curve(curve, points)[0] for curve in two.curves], axis=0).max())
