"""The thickness of the parts and the load on them: each run is a cantilever, a primary held by the flange.

At every section, the weight of all parts beyond it acts, a set weight hangs on the far end, and beyond that the run's
share of a printed collector and what follows it. Gravity is taken
perpendicular to the line from the section to their centre of mass, which is the worst case, so the stress M/W is never
more than stated. Layers are about perpendicular to a tube, and bending pulls them apart.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from manifold3d import CrossSection, Manifold

from headergen.geometry.frames import WORLD, add, dot, norm, point_in, subtract
from headergen.mock.solid import inverse
from headergen.mock.wording import said
from headergen.model import Frame, MockSettings, Vec

GRAVITY = 9.80665  # m/s²
ALLOWED = 5.0  # MPa; printed layers of polylactic acid fail at several times that: our own figure
SAME = 1e-9  # by which axes of frames along one straight, or their places beside it in mm, may differ
ROUND = 64  # sides of the circle within which a section is taken


Station = tuple[str, Frame, float]  # run, axes of a section, and the mm of tube that it represents


@dataclass(frozen=True)
class TubeSection:
    """A section perpendicular to a tube: `place` in the axes of the solid, area mm², modulus mm³.

    `length`: the mm of tube that it represents.
    """

    run: str
    place: Vec
    area: float
    modulus: float
    length: float


@dataclass(frozen=True)
class Load:
    """Something that hangs: its mass, g, and its centre in engine axes."""

    mass: float
    at: Vec


@dataclass(frozen=True)
class Neck:
    """The most stressed section of a part: `mass`, g, hangs beyond, with its centre `lever` mm away; stress in MPa."""

    area: float
    mass: float
    lever: float
    stress: float


def section_at(solid: Manifold, frame: Frame, reach: float, run: str = "", length: float = 0.0) -> TubeSection:
    """The section in the plane z = 0 of a frame, within `reach` mm of its origin."""
    return sections_at(solid, [(run, frame, length)], reach)[0]


def sections_at(solid: Manifold, stations: Sequence[Station], reach: float) -> tuple[TubeSection, ...]:
    """A section at each station; consecutive frames along a straight use the same turned solid."""
    around, found = CrossSection.circle(reach, ROUND), []
    base, turned = WORLD, solid
    for run, frame, length in stations:
        height = _height_along(base, frame)
        if height is None:
            base, turned, height = frame, solid.transform(inverse(frame)), 0.0
        seen = turned.slice(height) ^ around
        found.append(TubeSection(run, frame.origin, float(seen.area()), modulus(seen), length))
    return tuple(found)


def _height_along(base: Frame, frame: Frame) -> float | None:
    """How far along the axis of `base` a frame with the same axes is; None if its axes differ."""
    if (
        max(abs(a - b) for v, w in zip(_axes(base), _axes(frame), strict=True) for a, b in zip(v, w, strict=True))
        > SAME
    ):
        return None
    off = subtract(frame.origin, base.origin)
    height = dot(off, base.z)
    return height if norm(add(off, base.z, -height)) <= SAME * (1.0 + abs(height)) else None


def _axes(frame: Frame) -> tuple[Vec, Vec, Vec]:
    return frame.x, frame.y, frame.z


def modulus(section: CrossSection) -> float:
    """The smaller section modulus about its two principal axes, mm³; 0 for an empty section.

    Moments of area of polygons by Green's theorem.
    """
    polygons = section.to_polygons()
    if not polygons or section.area() <= 0.0:
        return 0.0
    corners = np.concatenate(polygons)
    start = corners.mean(axis=0)
    area, first, second = 0.0, np.zeros(2), np.zeros((2, 2))
    for polygon in polygons:
        a, b = polygon - start, np.roll(polygon, -1, axis=0) - start
        turn = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
        area += turn.sum() / 2
        first += (turn[:, None] * (a + b)).sum(axis=0) / 6
        weighed_a, weighed_b = (turn * a.T, turn * b.T)
        mixed = weighed_a @ b
        second += (mixed + mixed.T + 2 * (weighed_a @ a + weighed_b @ b)) / 24
    middle = first / area
    moments, axes = np.linalg.eigh(second - area * np.outer(middle, middle))
    off = np.abs((corners - start - middle) @ axes).max(axis=0)
    return float(min(moments / off))


def placed_sections(sections: Sequence[TubeSection], home: Frame) -> list[TubeSection]:
    """The sections with their places in engine axes."""
    return [
        TubeSection(each.run, point_in(home, each.place), each.area, each.modulus, each.length) for each in sections
    ]


def loads_of(sections: Sequence[TubeSection], density: float) -> tuple[Load, ...]:
    """The weights of what these sections, in engine axes, represent."""
    return tuple(Load(each.area * each.length * density / 1000, each.place) for each in sections)


def necks(
    chain: Sequence[tuple[str, TubeSection]], settings: MockSettings, hung: Sequence[Load] = ()
) -> dict[str, Neck]:
    """The most stressed section of each part of one run.

    `chain`: all its sections with the names of their parts, in engine axes, from the start on; `hung`: what hangs on
    its end besides the weight that is set.
    """
    if not chain:
        return {}
    places = np.array([section.place for _, section in chain])
    masses = np.array([each.mass for each in loads_of([section for _, section in chain], settings.density)])
    beyond = np.array([each.mass for each in hung])
    off = np.array([each.at for each in hung]).reshape(-1, 3)
    found: dict[str, Neck] = {}
    for k, (name, section) in enumerate(chain):
        mass = float(masses[k:].sum() + beyond.sum()) + settings.weight
        pull = masses[k:] @ (places[k:] - places[k]) + settings.weight * (places[-1] - places[k])
        pull = pull + beyond @ (off - places[k])
        moment = float(np.linalg.norm(pull)) * GRAVITY / 1000  # N mm
        stress = moment / section.modulus if section.modulus > 0.0 else math.inf
        if name not in found or stress > found[name].stress:
            found[name] = Neck(section.area, mass, moment / (mass * GRAVITY / 1000), stress)
    return found


def said_of(neck: Neck | None, units: str = "mm") -> tuple[str, ...]:
    """A note if a section is too thin for its load."""
    if neck is None or neck.stress <= ALLOWED:
        return ()
    return (
        f"thin neck: {neck.area:.0f} mm² bear {neck.mass:.0f} g, {said(neck.lever, units, 0)} off, with "
        f"{neck.stress:.1f} MPa; {ALLOWED:g} is allowed. Support the mock beyond it, or print with a thicker `wall`",
    )
