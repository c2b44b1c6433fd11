"""Ports and bores that are the same up to a shift or a mirror image: their tubes may be, too.

A family says which tube may be the image of which. Its paths are sought once and then repeated or mirrored
(`search.py`); a chassis that is not the same on both sides may forbid it, which the exact checks decide.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, combinations_with_replacement

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.curves.run import line_of
from headergen.model import Draft, Run
from headergen.solve.route.tidiness import corners_of

SAME_PLACE = 0.05  # mm
SAME_WAY = 1e-3
SAME_PATH = 0.5  # mm that an image may differ from its tube, rounded degrees and all
EVEN = 0.5  # mm that the required lengths of image and tube may differ


@dataclass(frozen=True, eq=False)
class Likeness:
    """One shift or mirror image: x → matrix·x + offset.

    `pairs`: keys of runs, each tube and its image. `bores`: for each bore (collector, number), the one it falls on.
    """

    matrix: Array
    offset: Array
    pairs: tuple[tuple[int | str, int | str], ...]
    bores: dict[tuple[str, int], tuple[str, int]]

    @property
    def is_mirror(self) -> bool:
        return bool(np.linalg.det(self.matrix) < 0.0)

    def image(self, points: Array) -> Array:
        """(n, 3) points moved or mirrored."""
        moved: Array = points @ self.matrix.T + self.offset
        return moved

    def turned(self) -> Likeness:
        """The same the other way round."""
        back = self.matrix.T
        pairs = tuple((twin, lead) for lead, twin in self.pairs)
        return Likeness(back, -back @ self.offset, pairs, {b: a for a, b in self.bores.items()})


Family = tuple[Likeness, ...]  # of the same tubes: each is enough


def families_of(draft: Draft, runs: Sequence[Run]) -> tuple[Family, ...]:
    """The families among tubes to be found: within each collector, and between each two."""
    groups = [[run for run in runs if run.end.collector == c.name] for c in draft.collectors]
    found = (tuple(_likenesses(draft, a, b)) for a, b in combinations_with_replacement([g for g in groups if g], 2))
    return tuple(family for family in found if family)


def strangers(draft: Draft, family: Family) -> int:
    """How many tubes of a family are not the images that they could be, under the likeness that holds best."""
    return min(len(unlike(draft, each)) for each in family)


def unlike(draft: Draft, likeness: Likeness) -> list[tuple[int | str, int | str]]:
    """The pairs of tubes that are not each other's image under a likeness."""
    return [pair for pair in likeness.pairs if not _is_image(draft, likeness, *pair)]


def _is_image(draft: Draft, likeness: Likeness, lead: int | str, twin: int | str) -> bool:
    one, other = (
        corners_of(line_of(run))
        for run in (next(each for each in draft.runs if each.key == key) for key in (lead, twin))
    )
    return one.shape == other.shape and bool(np.abs(likeness.image(one) - other).max() < SAME_PATH)


def _likenesses(draft: Draft, group: Sequence[Run], other: Sequence[Run]) -> Iterator[Likeness]:
    if len(group) != len(other):
        return
    for matrix, offset in _motions(_places(group), _places(other), group is other):
        tubes = _matched(matrix, offset, [run.start.frame for run in group], [run.start.frame for run in other])
        ends = _matched(matrix, offset, [run.end.frame for run in group], [run.end.frame for run in other])
        if tubes is None or ends is None:
            continue
        bores = {_key(group[a]): _key(other[b]) for a, b in enumerate(ends)}
        pairs = [(group[a], other[b]) for a, b in enumerate(tubes) if group is not other or a < b]
        given = draft.routing.bores == "given"
        if pairs and all(_agree(a, b) and not (given and bores[_key(a)] != _key(b)) for a, b in pairs):
            yield Likeness(matrix, offset, tuple((a.key, b.key) for a, b in pairs), bores)


def _agree(one: Run, other: Run) -> bool:
    """Whether two tubes have the same diameter, and ask for the same length."""
    return one.tube == other.tube and abs((one.target or 0.0) - (other.target or 0.0)) < EVEN


def _motions(ports: Array, others: Array, is_same: bool) -> Iterator[tuple[Array, Array]]:
    """Shifts and mirror images (matrix, offset) that bring the middle of one group to that of another."""
    if not is_same:
        yield np.eye(3), others.mean(axis=0) - ports.mean(axis=0)
        yield from _mirrors(ports.mean(axis=0), others.mean(axis=0))
        return
    known: list[Array] = []
    for a, b in combinations(range(len(ports)), 2):
        for matrix, offset in _mirrors(ports[a], ports[b]):
            if all(np.abs(np.append(matrix, offset) - each).max() > SAME_PLACE for each in known):
                known.append(np.append(matrix, offset))
                yield matrix, offset


def _mirrors(point: Array, image: Array) -> Iterator[tuple[Array, Array]]:
    """The mirror image that puts one point on the other, unless they are the same."""
    apart = float(np.linalg.norm(image - point))
    if apart > SAME_PLACE:
        normal, middle = (image - point) / apart, (point + image) / 2
        yield np.eye(3) - 2 * np.outer(normal, normal), 2 * float(normal @ middle) * normal


def _matched(matrix: Array, offset: Array, frames: Sequence[object], others: Sequence[object]) -> list[int] | None:
    """For each frame the other one that its image falls on, in place and direction; None if one falls on none."""
    places, ways = _of(frames, "origin") @ matrix.T + offset, _of(frames, "z") @ matrix.T
    apart = np.linalg.norm(places[:, None] - _of(others, "origin")[None], axis=2)
    turned = np.linalg.norm(ways[:, None] - _of(others, "z")[None], axis=2)
    fits = (apart < SAME_PLACE) & (turned < SAME_WAY)
    if not (fits.sum(axis=1) == 1).all() or not (fits.sum(axis=0) == 1).all():
        return None
    return [int(k) for k in fits.argmax(axis=1)]


def _of(frames: Sequence[object], what: str) -> Array:
    return np.array([getattr(frame, what) for frame in frames])


def _places(group: Sequence[Run]) -> Array:
    return np.array([run.start.frame.origin for run in group])


def _key(run: Run) -> tuple[str, int]:
    return run.end.collector, run.end.number


__all__ = ["Family", "Likeness", "families_of", "strangers"]
