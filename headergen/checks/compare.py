"""Two banks side by side: how alike they are, and how far apart."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

import numpy as np

from headergen.geometry.between import bodies_to_bodies
from headergen.geometry.body import Body, distance_to_curve, points_along, tube_body
from headergen.geometry.frames import angle_between
from headergen.model import Header, Vec

SAMPLE = 1.0  # mm between the places at which one bank is compared with the mirror image of the other


@dataclass(frozen=True)
class Comparison:
    """`lengths`: primary, first and second developed length. `collectors`: name in each, how far the second stands
    from the mirror image of the first along x, y and z, and the angle between the two axes so mirrored. `gap`: the
    smallest between the tubes of both, with the two primaries. `unlike`: primary, and how far its centreline strays
    from the mirror image of its fellow."""

    lengths: tuple[tuple[int, float, float], ...]
    collectors: tuple[tuple[str, str, Vec, float], ...]
    gap: tuple[float, int, int]
    unlike: tuple[tuple[int, float], ...]


def compare_banks(first: Header, second: Header) -> Comparison:
    """Compare two headers that are meant as mirror images across the plane y = 0."""
    numbers = {line.primary: line for line in second.centrelines}
    common = [(line, numbers[line.primary]) for line in first.centrelines if line.primary in numbers]
    bodies = [[tube_body(line, header.draft.tube.radius) for line in header.centrelines] for header in (first, second)]
    nearest = bodies_to_bodies(list(product(bodies[0], bodies[1])))
    numbers_of_pairs = product(*([line.primary for line in header.centrelines] for header in (first, second)))
    gaps = [(found.value, a, b) for (found, _), (a, b) in zip(nearest, numbers_of_pairs, strict=True)]
    return Comparison(
        lengths=tuple((a.primary, a.length, b.length) for a, b in common),
        collectors=tuple(_collectors(first, second)),
        gap=min(gaps),
        unlike=tuple(
            (a.primary, _strays(bodies[0][first.centrelines.index(a)], bodies[1][second.centrelines.index(b)]))
            for a, b in common
        ),
    )


def _collectors(first: Header, second: Header) -> Iterator[tuple[str, str, Vec, float]]:
    for one, two in zip(first.draft.collectors, second.draft.collectors, strict=False):
        x, y, z = (b - a for a, b in zip(_mirrored(one.frame.origin), two.frame.origin, strict=True))
        yield one.name, two.name, (x, y, z), angle_between(_mirrored(one.frame.z), two.frame.z)


def _mirrored(v: Vec) -> Vec:
    return (v[0], -v[1], v[2])


def _strays(one: Body, two: Body) -> float:
    """The most that the mirror image of one centreline strays from the other, sampled along it."""
    low, high = one.span
    points = points_along(one, np.linspace(low, high, math.ceil((high - low) / SAMPLE) + 1)) * np.array(
        [1.0, -1.0, 1.0]
    )
    return float(np.min([distance_to_curve(curve, points)[0] for curve in two.curves], axis=0).max())
