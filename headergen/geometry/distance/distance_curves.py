"""The smallest gap of many pairs of bodies in one search, for sides and for rims of flat ends, with a certified bound.

Of two curves one is sampled, and the distance to the other is in closed form. Let g(s) be the squared distance at the
place s of the sampled curve. Then g″ is at most M, whatever the nearest point q: M = 2 along a line, and
2·(p−c)·(q−c)/R² ≤ 2·(1 + d/R) along an arc about c. So between two samples h apart, g is at most M·h²·t·(1−t)/2 below
their chord. It falls throughout where g′ < −M·h at the first sample, and rises throughout where g′ > M·h at the last. A
few rounds of splitting rule out nearly every cell. Two lines, and two arcs about one axis, are not split, because g may
be constant along them: the least is at an end of one of the curves, or for lines at the place where they pass each
other.

With flat ends, the distance is between the discs at both places. Rims are sampled as tubes of radius zero. The inside
of an end disc is nearest to a side that runs perpendicular to the disc's axis.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields

import numpy as np

from headergen.geometry.arrays import Array, Mask
from headergen.geometry.curves.body import Body, Curve, Rows, rim
from headergen.geometry.distance.rows import (
    Curves,
    about_one_axis,
    crosses,
    dots,
    in_rows,
    lengths,
    nearest_into,
    nearest_on,
    places,
)

SPLITS = (8, 32, 32, 32, 32)  # parts of a cell in each round, as long as any cell may matter: from 100 mm to 1e-4
SURE = 1e-9  # mm; a gain smaller than this is not searched for
TIE = 1e-10  # mm; gaps equal within this count as a tie, and the first place is reported
TINY = 1e-30  # mm²; stands in for a width of zero
MOST_CELLS = 4096  # cells kept for a round; only arcs almost about one axis come near it
ONE_AXIS = 1e-9  # sine of the angle, and mm, within which two arcs have one axis
PARALLEL = 1e-12  # squared sine of the angle between lines below which they count as parallel
SQUARE = 1e-7  # cosine below which a tube counts as perpendicular to an axis


@dataclass(frozen=True, eq=False)
class Facing:
    """For each of n pairs: the gap (n,), lengths along both (n, 2), points (n, 2, 3). The gap is inf if nothing faces.

    `points` are on the centrelines; with flat ends, on the skins.
    """

    value: Array
    at: Array
    points: Array


def facing(pairs: Sequence[tuple[Body, Body]], flat: bool) -> Facing:
    """The smallest gap of each pair: with round ends, or with flat ends but without end against end.

    With flat ends only a gap above zero is valid: the search does not tell how deep bodies cross.
    """
    rows = _rows_of(pairs, flat)
    search = _Search(len(pairs), rows, flat)
    over = _over_ends(rows, len(pairs)) if flat else None
    if over is not None:
        search.least = over.value.copy()
    search.search()
    found = search.found()
    if over is not None:
        kept = over.value <= search.least
        found.at[kept], found.points[kept] = over.at[kept], over.points[kept]
    return found


@dataclass(frozen=True, eq=False)
class _Rows:
    """Pairs of curves: the pair of bodies each belongs to, and whether the sampled curve is the second body's."""

    pair: Rows
    walked: Curves
    other: Curves
    disc: Array  # radius of the sampled tube, 0 for a rim
    skin: Array  # radius of the other tube
    rounded: Mask  # (n, 2) whether the sampled body and the other have round ends and corners
    swapped: Mask

    def __getitem__(self, rows: Rows | Mask) -> _Rows:
        return _Rows(*(getattr(self, each.name)[rows] for each in fields(self)))


class _Search:
    """Rows sorted by pair, and for each pair the least gap so far with its row and place."""

    def __init__(self, count: int, rows: _Rows, flat: bool) -> None:
        self.rows, self.flat = rows, flat
        self.least = np.full(count, np.inf)
        self.row = np.zeros(count, dtype=np.intp)
        self.into = np.zeros(count)

    def offer(self, rows: Rows, into: Array) -> tuple[Array, Array]:
        """Measure from places (n, k) along the sampled curves of some rows. Returns g and g′ there, (n, k) each."""
        mine = self.rows[rows]
        points, along = places(mine.walked, into)
        onto, travel = nearest_on(mine.other, points)
        away = onto - points
        g = dots(away, away)
        ahead = dots(away, along)
        if self.flat:
            value = lengths(_between_discs(mine, away, along, travel)[1])
        else:
            value = np.sqrt(g) - (mine.disc + mine.skin)[:, None]
        least = value.min(axis=1)
        first = (value <= least[:, None] + TIE).argmax(axis=1)
        self._take(rows, least, into[np.arange(len(into)), first])
        return g, -2.0 * ahead

    def _take(self, rows: Rows, value: Array, into: Array) -> None:
        """Keep the least value of each pair; of values equal within TIE, the earlier row."""
        pair = self.rows.pair[rows]
        if not len(pair):
            return
        starts = _starts(pair)
        least = np.full(len(self.least), np.inf)
        least[pair[starts]] = np.minimum.reduceat(value, starts)
        tied = np.flatnonzero(value <= least[pair] + TIE)
        first = tied[_starts(pair[tied])]
        better = first[value[first] < self.least[pair[first]] - TIE]
        pair = pair[better]
        self.least[pair], self.row[pair], self.into[pair] = value[better], rows[better], into[better]

    def may_matter(self, bound: Array, rows: Rows) -> Mask:
        """Which rows may still beat the best of their pair, given the lower bound `bound` of their squared distance."""
        radii = self.rows.disc[rows] + self.rows.skin[rows]
        return np.asarray(np.sqrt(np.maximum(bound, 0.0)) - radii < self.least[self.rows.pair[rows]] - SURE)

    def search(self) -> None:
        """Measure at both curves' ends and where lines pass; then split the cells between, unless g may be constant."""
        walked, other = self.rows.walked, self.rows.other
        zero = np.zeros(len(self.rows.pair))
        opposite = nearest_into(walked, places(other, np.column_stack([zero, other.length]))[0])
        into = np.sort(np.column_stack([zero, walked.length, opposite, _passing(walked, other)]), axis=1)
        cells = self._unlevel(*self._cells(np.arange(len(zero)), into))
        for parts in SPLITS:
            rows, low, width = cells
            if not len(rows):
                return
            into = low[:, None] + (width / parts)[:, None] * np.arange(parts + 1)
            cells = self._cells(rows, into)

    def _cells(self, rows: Rows, into: Array) -> tuple[Rows, Array, Array]:
        """Measure at places (n, k + 1); return the cells between that may still matter: row, start and width."""
        g, slope = self.offer(rows, into)
        rows = np.repeat(rows, into.shape[1] - 1)
        low, width = into[:, :-1].ravel(), np.diff(into, axis=1).ravel()
        bound = _least_between(g, slope, width, self.rows.walked.turning[rows])
        kept = np.flatnonzero(self.may_matter(bound, rows) & (width > 0.0))
        if len(kept) > MOST_CELLS:
            kept = np.sort(kept[np.argsort(bound[kept], kind="stable")[:MOST_CELLS]])
        return rows[kept], low[kept], width[kept]

    def _unlevel(self, rows: Rows, low: Array, width: Array) -> tuple[Rows, Array, Array]:
        """Without the cells of rows whose least is at an end."""
        walked, other = self.rows.walked[rows], self.rows.other[rows]
        level = (other.radius == 0.0) & (walked.radius == 0.0) | about_one_axis(walked, other, ONE_AXIS)
        return rows[~level], low[~level], width[~level]

    def found(self) -> Facing:
        mine, into = self.rows[self.row], self.into[:, None]
        on_walked, along = places(mine.walked, into)
        onto = nearest_into(mine.other, on_walked)
        on_other, travel = places(mine.other, onto)
        if self.flat:
            step, across = _between_discs(mine, on_other - on_walked, along, travel)
            on_walked += step
            on_other = on_walked + across
        on_tube = np.where(mine.disc > 0.0, self.into, 0.0)  # round a rim the length along the tube does not change
        at = np.column_stack([mine.walked.start + on_tube, mine.other.start + onto[:, 0]])
        points = np.stack([on_walked[..., 0].T, on_other[..., 0].T], axis=1)
        at[mine.swapped], points[mine.swapped] = at[mine.swapped, ::-1], points[mine.swapped, ::-1]
        return Facing(self.least, at, points)


def _between_discs(rows: _Rows, away: Array, along: Array, travel: Array) -> tuple[Array, Array]:
    """The vectors from the sampled centreline to a point of its disc, and on to a point of the other disc; (3, n, k).

    Both points are in their bodies, so they are never nearer than the gap; where sides face each other they are its
    ends.
    """
    step = _within(away, along, rows.disc, rows.rounded[:, 0])
    back = step - away
    onto = _within(back, travel, rows.skin, rows.rounded[:, 1])
    return step, onto - back


def _within(w: Array, axis: Array, radius: Array, rounded: Mask) -> Array:
    """The point nearest to w on a disc about the origin; on a ball where the body is rounded."""
    flat = np.where(rounded, 0.0, 1.0)[:, None]
    beside = w - (flat * dots(w, axis)) * axis
    return np.asarray(beside * np.minimum(1.0, radius[:, None] / np.maximum(lengths(beside), SURE)))


def _over_ends(rows: _Rows, count: int) -> Facing:
    """For each pair, the gap from the inside of an end disc to a side perpendicular to its axis, or to a corner."""
    mine = rows[rows.disc == 0.0]
    centre, axis, other = mine.walked.origin, crosses(mine.walked.u, mine.walked.v), mine.other
    turn = np.arctan2(dots(other.v, axis), dots(other.u, axis)) % np.pi
    level = np.column_stack([turn, turn + np.pi]) * other.radius[:, None]
    into = np.where(other.radius[:, None] > 0.0, level, dots(centre - other.origin, other.v)[:, None])
    into = np.clip(into, 0.0, other.length[:, None])
    corners = np.column_stack([np.zeros(len(turn)), other.length])
    into = np.concatenate([into, corners], axis=1)
    points, travel = places(other, into)
    axis = axis[..., None]
    w = points - centre[..., None]
    height = dots(w, axis)
    beside = w - height * axis
    square = np.abs(dots(travel, axis)) <= SQUARE
    square[:, 2:] |= mine.rounded[:, 1:]  # a round corner faces every direction
    above = square & (height > 0.0) & (lengths(beside) <= mine.walked.radius[:, None])
    gap = height - mine.skin[:, None]
    value = np.where(above, gap, np.inf)
    feet = centre[..., None] + beside
    points = np.stack([feet, feet + gap * axis])
    at = np.stack(np.broadcast_arrays(mine.walked.start[:, None], other.start[:, None] + into))
    best = Facing(np.full(count, np.inf), np.zeros((count, 2)), np.zeros((count, 2, 3)))
    for row, k in np.argwhere(np.isfinite(value)):  # few: a tube seldom ends facing a side
        pair, order = mine.pair[row], -1 if mine.swapped[row] else 1
        if value[row, k] < best.value[pair]:
            best.value[pair], best.at[pair] = value[row, k], at[::order, row, k]
            best.points[pair] = points[::order, :, row, k]
    return best


def _passing(a: Curves, b: Curves) -> Array:
    """(n,) lengths into each line of `a` at which the line of `b` passes it; meaningless for arcs."""
    w = b.origin - a.origin
    cosine, ahead, beside = dots(a.v, b.v), dots(w, a.v), dots(w, b.v)
    into = (ahead - cosine * beside) / np.maximum(1.0 - cosine * cosine, PARALLEL)
    return np.asarray(np.minimum(np.maximum(into, 0.0), a.length))


def _least_between(g: Array, slope: Array, width: Array, turning: Array) -> Array:
    """A lower bound of g in each cell between samples (n, k + 1); inf where it only falls or only rises."""
    g0, g1, s0, s1 = (each.ravel() for each in (g[:, :-1], g[:, 1:], slope[:, :-1], slope[:, 1:]))
    most = 2.0 * (1.0 + turning * (np.sqrt(np.minimum(g0, g1)) + width))
    bend, rise = most * np.maximum(width * width, TINY), g1 - g0
    # the minimum of the chord less M·h²·t·(1−t)/2
    inside = (g0 + g1) / 2.0 - bend / 8.0 - rise * rise / (2.0 * bend)
    bound = np.where(np.abs(rise) < bend / 2.0, inside, np.minimum(g0, g1))
    slack = 1.001 * most * width
    return np.where((s0 < -slack) | (s1 > slack), np.inf, bound)


def _rows_of(pairs: Sequence[tuple[Body, Body]], flat: bool) -> _Rows:
    """All pairs of curves that may be near enough; rims are among them where ends are flat."""
    bodies = {id(body): body for pair in pairs for body in pair}
    curves: list[Curve] = []
    owners: list[tuple[float, bool]] = []  # radius, 0 for a rim, and whether ends are round
    sides: dict[int, tuple[int, int]] = {}  # the first index, and how many
    rims: dict[int, tuple[int, int]] = {}
    for key, body in bodies.items():
        edges = tuple(_rims(body)) if flat else ()
        for known, new, radius in ((sides, body.curves, body.radius), (rims, edges, 0.0)):
            known[key] = len(curves), len(new)
            curves += new
            owners += [(radius, not body.ends)] * len(new)
    packed, (disc, rounded) = in_rows(curves), np.array(owners).T
    pair, swapped, walked, other = _combined(pairs, sides, rims)
    apart = lengths(packed.middle[:, walked] - packed.middle[:, other])
    radii = disc[walked] + disc[other]
    # both middles are in their bodies, so the distance between them is an upper bound of the gap
    first = _starts(pair)
    most = np.minimum.reduceat(np.where(disc[walked] > 0, apart - (0.0 if flat else radii), np.inf), first)
    near = apart - packed.reach[walked] - packed.reach[other] - radii <= most[pair] + SURE
    pair, swapped, walked, other = pair[near], swapped[near], walked[near], other[near]
    # sample the line if there is one, except for rims: seen from an arc about it, a line is equally far everywhere
    turned = (packed.radius[walked] > 0) & (packed.radius[other] == 0) & (disc[walked] > 0)
    walked, other = np.where(turned, other, walked), np.where(turned, walked, other)
    ends = np.column_stack([rounded[walked], rounded[other]]) > 0
    return _Rows(pair, packed[walked], packed[other], disc[walked], disc[other], ends, swapped ^ turned)


def _combined(
    pairs: Sequence[tuple[Body, Body]], sides: dict[int, tuple[int, int]], rims: dict[int, tuple[int, int]]
) -> tuple[Rows, Mask, Rows, Rows]:
    """Every side with every side, and every rim with every side: pair, whether the sampled one is b's, both curves."""
    parts: list[tuple[int, ...]] = []
    for number, (a, b) in enumerate(pairs):
        side_a, side_b = sides[id(a)], sides[id(b)]
        parts.append((number, False, *side_a, *side_b))
        parts.append((number, False, *rims[id(a)], *side_b))
        parts.append((number, True, *rims[id(b)], *side_a))
    blocks = np.array(parts)
    sizes = blocks[:, 3] * blocks[:, 5]
    number, swapped, one, _, two, wide = np.repeat(blocks, sizes, axis=0).T
    row, column = np.divmod(np.arange(len(number)) - np.repeat(np.cumsum(sizes) - sizes, sizes), wide)
    return number, swapped > 0, one + row, two + column


def _rims(body: Body) -> Iterator[Curve]:
    """The edges of the flat ends as half circles; their length from the flange is that of the end."""
    for end, place in zip(body.ends, body.span, strict=False):
        yield from rim(end, body.radius, place)


def _starts(pair: Rows) -> Rows:
    """The index where each run of equal numbers begins."""
    return np.flatnonzero(np.concatenate([[True], pair[1:] != pair[:-1]])) if len(pair) else np.zeros(0, np.intp)
