"""The thickness of the parts and the load on them: each run is a cantilever, a primary held by the flange.

At every section, the weight of all parts beyond it acts, a set weight hangs on the far end, and beyond that the run's
share of a printed collector and what follows it. Gravity is taken
perpendicular to the line from the section to their centre of mass, which is the worst case, so the stress M/W is never
more than stated. Layers are about perpendicular to a tube, and bending pulls them apart.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from manifold3d import CrossSection, Manifold

from headergen.geometry.arrays import Array
from headergen.geometry.frames import WORLD, add, dot, norm, point_in, subtract
from headergen.geometry.mesh.triangles import Faces, Points
from headergen.mock.solid import inverse
from headergen.model import Frame, MockSettings, Vec
from headergen.words.numbers import area_in, with_unit

GRAVITY = 9.80665  # m/s²
ALLOWED = 5.0  # MPa; printed layers of polylactic acid fail at several times that: our own figure
SAME = 1e-9  # by which axes of frames along one straight, or their places beside it in mm, may differ
ROUND = 64  # sides of the circle within which a section is taken

Edges = Array  # (n, 2, 2): start and end of each, in a plane
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
    """A section at each station, from the edges in which its plane cuts the skin.

    Where such edges lead out of `reach`, or all round it, the solid itself is cut.
    """
    skin = solid.to_mesh64()
    corners, faces = np.asarray(skin.vert_properties)[:, :3], np.asarray(skin.tri_verts).astype(np.int64)
    edges = [_within(_edges_at(corners, faces, frame), reach) for _, frame, _ in stations]
    unclear = (frame for (_, frame, _), mine in zip(stations, edges, strict=True) if mine is None)
    sliced = _sliced(solid, unclear, reach)
    found = []
    for (run, frame, length), mine in zip(stations, edges, strict=True):
        outline = next(sliced) if mine is None else mine
        found.append(TubeSection(run, frame.origin, _area(outline), _modulus(outline), length))
    return tuple(found)


def _edges_at(corners: Points, faces: Faces, frame: Frame) -> Edges:
    """The edges in which the plane z = 0 of a frame cuts a closed mesh, in its x and y; metal is on their left.

    A triangle across the plane has one side that goes up through it and one that goes down.
    """
    height = corners @ np.array(frame.z) - dot(frame.origin, frame.z)
    one, two, three = (height < 0.0)[faces.T]
    across = (one | two | three) & ~(one & two & three)
    crossed, under = faces[across], np.stack([one, two, three], axis=1)[across]
    x, y = ((corners[crossed] - np.array(frame.origin)) @ np.array(axis) for axis in (frame.x, frame.y))
    after = np.roll(under, -1, axis=1)
    rows = np.arange(len(crossed))
    up, down = np.argmax(under & ~after, axis=1), np.argmax(~under & after, axis=1)
    ends = []
    for low, high in (((down + 1) % 3, down), (up, (up + 1) % 3)):
        a, b = height[crossed[rows, low]], height[crossed[rows, high]]
        share = a / (a - b)
        ends.append(np.stack([c[rows, low] + share * (c[rows, high] - c[rows, low]) for c in (x, y)], axis=1))
    return np.stack(ends, axis=1)


def _within(edges: Edges, reach: float) -> Edges | None:
    """The edges within a circle round zero; None if one crosses it, or those beyond go all round it."""
    inside = (np.hypot(edges[..., 0], edges[..., 1]) < reach * math.cos(math.pi / ROUND)).all(axis=1)
    a, b = edges[~inside, 0], edges[~inside, 1]
    way = b - a
    share = np.clip(-(a * way).sum(axis=1) / np.maximum((way * way).sum(axis=1), 1e-300), 0.0, 1.0)[:, None]
    if (np.linalg.norm(a + share * way, axis=1) <= reach).any():
        return None
    turns = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1)).sum() / (2 * math.pi)
    return None if round(float(turns)) else edges[inside]


def _sliced(solid: Manifold, frames: Iterable[Frame], reach: float) -> Iterator[Edges]:
    """The outline at each frame, cut to a circle; consecutive frames along a straight use the same turned solid."""
    around = CrossSection.circle(reach, ROUND)
    base, turned = WORLD, solid
    for frame in frames:
        height = _height_along(base, frame)
        if height is None:
            base, turned, height = frame, solid.transform(inverse(frame)), 0.0
        yield outline_of(turned.slice(height) ^ around)


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


def outline_of(section: CrossSection) -> Edges:
    """The edges of a section, with the metal on their left."""
    polygons = [np.asarray(polygon) for polygon in section.to_polygons()]
    return np.concatenate([np.empty((0, 2, 2)), *(np.stack([p, np.roll(p, -1, axis=0)], axis=1) for p in polygons)])


def modulus(section: CrossSection) -> float:
    """The smaller section modulus about its two principal axes, mm³; 0 for an empty section."""
    return _modulus(outline_of(section))


def _area(edges: Edges) -> float:
    return float((edges[:, 0, 0] * edges[:, 1, 1] - edges[:, 0, 1] * edges[:, 1, 0]).sum()) / 2


def _modulus(edges: Edges) -> float:
    """Moments of area by Green's theorem, edge by edge in any order."""
    if _area(edges) <= 0.0:
        return 0.0
    start = edges[:, 0].mean(axis=0)
    a, b = edges[:, 0] - start, edges[:, 1] - start
    turn = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    area = turn.sum() / 2
    mixed = (turn * a.T) @ b
    second = (mixed + mixed.T + 2 * ((turn * a.T) @ a + (turn * b.T) @ b)) / 24
    middle = (turn[:, None] * (a + b)).sum(axis=0) / 6 / area
    moments, axes = np.linalg.eigh(second - area * np.outer(middle, middle))
    off = np.abs((a - middle) @ axes).max(axis=0)
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
        f"thin neck: {area_in(units, neck.area)} bear {neck.mass:.0f} g, {with_unit(neck.lever, units, 0)} off, with "
        f"{neck.stress:.1f} MPa; {ALLOWED:g} is allowed. Support the mock beyond it, or print with a thicker "
        "`tube_wall`, or in a joint with a thicker `wall`",
    )
