"""The order in which the tube parts of a mock are assembled, found by taking it apart.

A part can come off if no part of its own run follows it, nor of a run after its collector. It moves along its joint by
the length of its spigot, then straight away in one of a set of directions, without touching the remaining parts.
Removal only makes room. So any part that comes off is as good a choice as another, and parts of one run are kept
together. Tubes are modelled as balls along their centrelines: the end of a run is rounded, any other end reaches a
radius too far.

A fishmouth on another run slides along that run and off it, but not sideways. Where both ends of a tube are on others,
nothing goes between those: the part on which it ends goes on after it, along itself through the fishmouth.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from types import MappingProxyType

import numpy as np
from scipy.spatial import cKDTree

from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.curves.sides import SideJoint
from headergen.geometry.frames import cross, unit, vec
from headergen.geometry.mesh.triangles import Points
from headergen.model import Centreline

SPACING = 3.0  # mm between balls along a tube: 0.03 mm off between two tubes of 42 mm
STEP = 6.0  # mm between the tested places of a move; a tube cannot pass a tube between two of them
TOUCH = 0.3  # mm by which balls may overlap
AWAY = 1.5  # distance to which a part is taken away, in sizes of the whole
FORWARD = 0.2  # least cosine between a direction and the joint
NONE = np.empty((0, 3))
NEAR_JOINT = 3.0  # radii from its joint within which a part does not count its own primary and plate as obstacles
ASIDE = 0.05  # of a move: how far it may press a fishmouth onto its run, or lead it sideways


@dataclass(frozen=True, eq=False)
class Going:
    """A tube part to be mounted: the piece between two lengths of its run; `after`: the runs that go on before it.

    `sits`: its ends on the side of other runs; one where it begins is pinned there.
    """

    name: str
    line: Centreline
    start: float
    end: float
    radius: float
    after: frozenset[str] = frozenset()
    sits: tuple[SideJoint, ...] = ()

    def carries(self, joint: SideJoint) -> bool:
        return joint.host == self.line.run and self.start < joint.at < self.end


@dataclass(frozen=True)
class _Meeting:
    """A fishmouth beside a part: the joint, the run that the part meets there, and whether what carries it is there."""

    joint: SideJoint
    run: str
    is_carried: bool

    def lets(self, way: Points) -> bool:
        """Whether a move of the part leads the fishmouth along its run or off it; of the run, the other way round.

        Where what carries it is gone, the parts before that are there, and it may not come nearer to them.
        """
        joint = self.joint
        if not self.is_carried:
            return float(way @ np.array(joint.way)) >= -ASIDE
        aside = unit(cross(joint.way, joint.out))
        branch = way if self.run == joint.host else -way  # as the branch moves, seen from the run
        off = float(branch @ np.array(cross(aside, joint.way)))
        return off >= -ASIDE and abs(float(branch @ np.array(aside))) <= max(off, 0.0) + ASIDE


@dataclass(frozen=True)
class Order:
    """Names in the order of assembly, the `way` from which each comes, and the names for which none was found."""

    names: tuple[str, ...]
    ways: tuple[tuple[float, float, float], ...]
    stuck: tuple[str, ...]


def order_of(
    parts: Sequence[Going], plates: Points, spigot: float, collectors: Mapping[str, Points] = MappingProxyType({})
) -> Order:
    """One order for all parts; those of each run are given from its start on.

    `plates`: (n, 3) points on them; `collectors`: by run, on the printed collectors that are there when it goes on.
    Runs that are given last go on last where they can.
    """
    balls = {part.name: _balls(part) for part in parts}
    walls = {part.name: np.concatenate([plates, collectors.get(part.line.run, NONE)]) for part in parts}
    chains: dict[str, list[Going]] = {}
    for part in parts:
        chains.setdefault(part.line.run, []).append(part)
    whole = np.concatenate([*balls.values(), plates, *collectors.values()])
    size = float(np.linalg.norm(np.ptp(whole, axis=0)))
    off: list[tuple[Going, tuple[float, float, float]]] = []
    while any(chains.values()):
        holding = {run for chain in chains.values() for part in chain for run in part.after}
        there = [part for chain in chains.values() for part in chain]
        pinned = [joint for part in there for joint in part.sits if joint.at_start]
        ends = [chain[-1] for chain in _in_turn(chains, off) if chain[-1].line.run not in holding]
        for part in (part for part in ends if not any(map(part.carries, pinned))):
            meetings = _meetings(part, there)
            rest = _around(part, chains, balls, meetings)
            way = _way_off(part, balls[part.name], (*rest, walls[part.name]), (spigot, AWAY * size), meetings)
            if way is not None:
                off.append((part, way))
                chains[part.line.run].pop()
                break
        else:
            break
    on = off[::-1]
    stuck = tuple(part.name for chain in chains.values() for part in chain)
    return Order(tuple(part.name for part, _ in on), tuple(way for _, way in on), stuck)


def _in_turn(chains: dict[str, list[Going]], off: Sequence[tuple[Going, object]]) -> list[list[Going]]:
    """The runs that have parts left: first the one that is being taken off, then the last ones."""
    now = off[-1][0].line.run if off else ""
    left = [name for name in reversed(chains) if chains[name]]
    return [chains[name] for name in sorted(left, key=lambda name: name != now)]


def _balls(part: Going) -> Points:
    """(n, 3) centres of balls along a part; the last ball of a run is on its end."""
    end = part.end if part.end < part.line.length - 1e-6 else max(part.end - part.radius, part.start)
    count = max(1, math.ceil((end - part.start) / SPACING))
    places = np.linspace(part.start, end, count + 1).tolist()
    return np.array([frame_at(part.line, at)[0] for at in places])


def _meetings(part: Going, there: Sequence[Going]) -> list[_Meeting]:
    """The fishmouths of a part, and those of others on it."""
    mine = [_Meeting(joint, joint.host, any(other.carries(joint) for other in there)) for joint in part.sits]
    return mine + [_Meeting(joint, joint.run, True) for other in there for joint in other.sits if part.carries(joint)]


def _around(
    part: Going, chains: dict[str, list[Going]], balls: dict[str, Points], meetings: Sequence[_Meeting]
) -> tuple[dict[float, Points], dict[float, Points]]:
    """The balls, by radius, of the remaining parts of its own run, and of all others but beside its fishmouths."""
    found: tuple[dict[float, list[Points]], dict[float, list[Points]]] = ({}, {})
    for name, chain in chains.items():
        met = [each.joint for each in meetings if each.run == name]
        for each in (each for each in chain if each is not part):
            points = balls[each.name]
            for joint in met:
                apart = np.linalg.norm(points - np.array(joint.place), axis=1)
                points = points[apart > NEAR_JOINT * joint.tube.radius]
            found[name != part.line.run].setdefault(each.radius, []).append(points)
    own, others = ({radius: np.concatenate(some) for radius, some in group.items()} for group in found)
    return own, others


def _way_off(
    part: Going,
    mine: Points,
    around: tuple[dict[float, Points], dict[float, Points], Points],
    sizes: tuple[float, float],
    meetings: Sequence[_Meeting],
) -> tuple[float, float, float] | None:
    """A free direction for a part, or None.

    `mine`: its balls; `around`: balls of its own run, of the others, and points on plates and collectors; `sizes`: of
    its spigot, and how far it is taken away; `meetings`: the fishmouths that it leaves.
    """
    (joint, along, _), (own, others, walls), (spigot, far) = frame_at(part.line, part.start), around, sizes

    def away(points: Points) -> Points:
        # its own support is left along the joint, and in directions that lead away from it
        return np.asarray(points[np.linalg.norm(points - joint, axis=1) > NEAR_JOINT * part.radius])

    reaches = [(away(walls), part.radius), *((away(points), radius + part.radius) for radius, points in own.items())]
    reaches += [(points, radius + part.radius) for radius, points in others.items()]
    trees = [(cKDTree(places), reach) for places, reach in reaches if len(places)]
    pulled = np.outer(np.linspace(0.0, spigot, 5), along)
    if not _lets(meetings, np.array(along)) or not _is_clear(mine, pulled, trees):
        return None
    start = spigot * np.array(along)
    for way in (way for way in _ways(np.array(along)) if _lets(meetings, way)):
        moves = start + np.outer(np.arange(0.0, far, STEP), way)
        # obstacles are usually near
        if all(_is_clear(mine[::2], some, trees) for some in np.split(moves, [8, 32])):
            return vec(way)
    return None


def _lets(meetings: Sequence[_Meeting], way: Points) -> bool:
    return all(each.lets(way) for each in meetings)


def _is_clear(mine: Points, moves: Points, trees: Sequence[tuple[cKDTree, float]]) -> bool:
    places = (mine[None] + moves[:, None]).reshape(-1, 3)
    nearest = (tree.query(places, distance_upper_bound=reach - TOUCH)[0] for tree, reach in trees)
    return not any(np.isfinite(away).any() for away in nearest)


def _ways(along: Points) -> Iterator[Points]:
    """First along the joint, then directions to faces, edges and corners of a cube that lead away, nearest first."""
    yield along
    cube = np.array([way for way in product((-1.0, 0.0, 1.0), repeat=3) if any(way)])
    cube /= np.linalg.norm(cube, axis=1)[:, None]
    cosines = cube @ along
    for k in np.argsort(-cosines, kind="stable"):
        if cosines[k] > FORWARD:
            yield cube[k]
