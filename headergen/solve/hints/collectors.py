"""A collector moved clear of what its parts are too near to: the shortest shift, with its tubes closed again."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from headergen.checks.envelopes import Obstacle, item_gap, obstacle_of
from headergen.checks.measure import Meshes, round_bodies, surfaces_of
from headergen.checks.moves import way_off
from headergen.geometry.distance.convex import moved
from headergen.geometry.frames import add, norm, scaled
from headergen.model import ChassisItem, Draft, Gap, Header, Plane, Vec
from headergen.parts.kind import Envelope
from headergen.parts.table import envelopes_of
from headergen.solve.collector_at import with_collector_at
from headergen.solve.hints.primaries import closed_past

FARTHEST = 250.0  # mm; a larger shift is not a small correction
ROUNDS = 8  # of moving and measuring again
SLANTING = 0.3  # share of a shift by which a gap must grow for the direction to be continued
SPARE = 0.05  # mm added to the requirement, against rounding
LEAST = 1e-6  # mm by which a gap may fall short of its requirement
MOST_TRIED = 3  # of the shortest shifts
WAYS: tuple[Vec, ...] = tuple(
    (sign * (axis == 0), sign * (axis == 1), sign * (axis == 2)) for axis in range(3) for sign in (1.0, -1.0)
)

Key = tuple[str, str]  # a part, and the thing it is too near to


@dataclass(frozen=True)
class Shifted:
    """A shift that clears its gaps; `blocked` names an item that it brings the collector too near to."""

    shift: Vec
    blocked: str = ""


@dataclass(frozen=True, eq=False)
class Surroundings:
    """The pieces of one collector's parts, and the chassis around them."""

    pieces: tuple[Envelope, ...]
    around: tuple[tuple[ChassisItem, Obstacle], ...]


def collector_of(header: Header, part: str) -> str | None:
    """The collector of a part; None if it may not be moved, because a secondary or a run is connected to it."""
    owner = next((each.collector for each in envelopes_of(header) if each.name == part), "")
    tied = {
        name
        for run in header.runs
        if not run.is_primary or run.end.ends_run
        for name in (run.source, run.end.collector)
    }
    return owner if owner and owner not in tied else None


def surroundings_of(header: Header, meshes: Meshes, name: str) -> Surroundings:
    """The parts of a collector as envelopes, and the chassis as it is measured."""
    surfaces, chassis = surfaces_of(header, meshes), header.draft.chassis
    plain = [item for item in chassis if item.name not in surfaces and not isinstance(item.shape, Plane)]
    rounds = {item.name: round_bodies(item) for item in plain}
    pieces = tuple(each for each in envelopes_of(header) if each.collector == name)
    return Surroundings(pieces, tuple((item, obstacle_of(item, surfaces, rounds)) for item in chassis))


def ways_clear(around: Surroundings, required: Sequence[Key]) -> list[Shifted]:
    """Shifts that make the gaps `required` large enough, along each axis and straight off, the shortest first.

    First those that bring nothing else too near, then the others, which name what they do bring too near.
    """
    now = {_key(gap): gap for gap in _gaps(around, (0.0, 0.0, 0.0))}
    found = [
        shift for way in (*WAYS, *_straight_off(now, required)) if (shift := _grown(around, way, required)) is not None
    ]
    tried = sorted(found, key=norm)[:MOST_TRIED]
    return sorted((Shifted(shift, _blocked(around, shift, now, required)) for shift in tried), key=_rank)


def led_there(header: Header, name: str, shift: Vec) -> Draft | None:
    """The draft with a collector shifted, and its tubes without values to fit closed on it again.

    None if one of them does not reach it.
    """
    frame = next(each.frame for each in header.draft.collectors if each.name == name)
    draft = with_collector_at(header.draft, name, replace(frame, origin=add(frame.origin, shift)))
    settled = {primary.name: primary.steps for primary in header.primaries}
    primaries = []
    for primary in draft.primaries:
        if primary.end.collector == name and not primary.fits:
            led = closed_past(draft, replace(primary, steps=settled[primary.name]), [])
            if led is None or primary.locked:
                return None
            primary = led
        primaries.append(primary)
    return draft.with_primaries(primaries)


def _rank(each: Shifted) -> tuple[bool, float]:
    return each.blocked != "", round(norm(each.shift), 6)


def _straight_off(now: dict[Key, Gap], required: Sequence[Key]) -> Iterator[Vec]:
    """The direction away from the nearest points of all gaps together, if there is one."""
    ways = [way_off(now[key].points, now[key].value) for key in required if key in now and not now[key].inside]
    missing = [now[key].required - now[key].value for key in required if key in now and not now[key].inside]
    told = [scaled(way, weight) for way, weight in zip(ways, missing, strict=True) if way is not None]
    if told:
        x, y, z = np.sum(told, axis=0).tolist()
        size = math.hypot(x, y, z)
        if size > LEAST:
            yield (x / size, y / size, z / size)


def _grown(around: Surroundings, way: Vec, required: Sequence[Key]) -> Vec | None:
    """The shift along a direction at which no gap of `required` is too small; None if it leads nowhere near.

    No gap grows by more than the shift, so it is always safe to go by the missing amount. If gaps grow by less, the
    next step is longer in proportion.
    """
    parts, items = {part for part, _ in required}, {other for _, other in required}
    some = Surroundings(
        tuple(piece for piece in around.pieces if piece.name in parts),
        tuple(pair for pair in around.around if pair[0].name in items),
    )
    size, step, before = 0.0, 0.0, math.inf
    for _ in range(ROUNDS):
        short = [gap.required - gap.value for gap in _gaps(some, scaled(way, size)) if _key(gap) in required]
        missing = max((each for each in short if each > LEAST), default=0.0)
        if not missing:
            return scaled(way, size)
        gained = (before - missing) / step if step else 1.0
        if gained < SLANTING:
            return None
        step, before = (missing + SPARE) / min(gained, 1.0), missing
        size += step
        if size > FARTHEST:
            return None
    return None


def _blocked(around: Surroundings, shift: Vec, now: dict[Key, Gap], required: Sequence[Key]) -> str:
    """The worst thing that a shift brings too near to the collector, or nearer if it is too near already."""
    worse = []
    for gap in _gaps(around, shift):
        key = _key(gap)
        least = gap.required if key in required or key not in now else min(gap.required, now[key].value)
        if gap.value < least - LEAST:
            worse.append((gap.value - gap.required, gap.b))
    return min(worse, default=(0.0, ""))[1]


def _gaps(around: Surroundings, shift: Vec) -> list[Gap]:
    """The smallest gap of each part to each item that may be too near, with the collector shifted."""
    least: dict[Key, Gap] = {}
    for piece in around.pieces:
        there = replace(piece, solid=moved(piece.solid, shift))
        for item, obstacle in around.around:
            gap = item_gap(there, item, obstacle)
            if gap is not None and (_key(gap) not in least or gap.value < least[_key(gap)].value):
                least[_key(gap)] = gap
    return list(least.values())


def _key(gap: Gap) -> Key:
    return gap.a, gap.b
