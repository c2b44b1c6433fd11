"""A merge that is not of revolution: its tubes in numbers, its sections, its cuts and its openings.

The bores are anywhere in the collector plane, of one size or of two. Downstream of the plane each collector tube turns
toward one point on the collector's axis, the apex; the farthest bore turns by the half angle, the others by less. Bores
that lean arrive pointing at the apex and do not turn. Everything in which two tubes meet follows from that point: tubes
of one size meet in the plane halfway between their axes, tubes of two sizes in a curve. A section square to the
axis is a union of ellipses. At the cut, one closed outline round the axis, a ruled cone begins, which leads to the
round outlet; corners of the outline go straight to the outlet in the same direction from the axis.

All in the collector's frame: z downstream from the plane. Millimetres and radians.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.frames import add, angle_between, dot, norm, scaled, subtract, unit
from headergen.geometry.merge.ellipses import Ellipse, EllipseArc, Loop, loop_area, loops, outline
from headergen.geometry.merge.measures import LEAST_SPIKE, SEAM, Merge
from headergen.model import Vec

ONE_SIZE = 1e-6  # mm of radius within which tubes are of one size
HALVINGS = 40
LOOKS = 25  # heights between turn and cut, at which openings are looked for
LEAST_HOLE = 1e-3  # mm²
LEAST_EDGE = 1e-6  # of the width of a bundle: a shorter edge between two tubes is a corner
ARC_STEPS = 60  # of each arc where its cone is computed from points


@dataclass(frozen=True)
class MergeTube:
    """One collector tube: its place in the plane, radii, and the unit directions before and after its turn."""

    place: tuple[float, float]
    outer: float
    inner: float
    arrival: Vec
    way: Vec

    @property
    def lean(self) -> float:
        """Between the axis and the tube after its turn."""
        return math.atan2(math.hypot(self.way[0], self.way[1]), self.way[2])

    @property
    def turn(self) -> float:
        """By how much it turns."""
        return angle_between(self.arrival, self.way)


@dataclass(frozen=True)
class UnevenMerge:
    """A merge; lengths along the axis count from the collector plane, those of its sleeves along them.

    `mouth`: where the sleeves begin (negative: upstream); `mitre`: where their centrelines turn; `apex`: where all of
    them meet; `cut`: where the tubes end; `cone_end`, `end`: where the outlet tube begins and ends. `taper_to`: its
    outer radius at the end, if it is not that at its start.
    """

    tubes: tuple[MergeTube, ...]
    half_angle: float
    mouth: float
    mitre: float
    apex: float
    cut: float
    cone_end: float
    end: float
    outlet_outer: float
    outlet_inner: float
    taper_to: float | None = None

    @property
    def count(self) -> int:
        """How many tubes it has."""
        return len(self.tubes)

    @property
    def is_welded(self) -> bool:
        """Whether its tubes are butt-welded to the primaries at the plane, rather than sleeves round them."""
        return self.mouth == 0.0

    @property
    def is_closed(self) -> bool:
        """Its tubes are cut only where they close the middle."""
        return True

    @property
    def leans(self) -> bool:
        """Whether its bores lean, so that no tube turns."""
        return any(tube.arrival[2] < 1.0 for tube in self.tubes)

    @property
    def end_outer(self) -> float:
        """The outer radius at the outlet's end, mm."""
        return self.outlet_outer if self.taper_to is None else self.taper_to

    @property
    def end_inner(self) -> float:
        """The inner radius at the outlet's end, mm; its wall is the same all along."""
        return self.end_outer - (self.outlet_outer - self.outlet_inner)

    @property
    def widest(self) -> float:
        """Distance from the axis to the farthest skin of a sleeve, at the plane."""
        return max(math.hypot(*tube.place) + tube.outer for tube in self.tubes)


def outlet_area(merge: Merge | UnevenMerge, at: float) -> float:
    """Area inside an outlet, mm², `at` mm downstream of the collector plane."""
    if merge.taper_to is None or at <= merge.cone_end:
        return math.pi * merge.outlet_inner**2
    share = min((at - merge.cone_end) / (merge.end - merge.cone_end), 1.0)
    return math.pi * (merge.outlet_inner + share * (merge.end_inner - merge.outlet_inner)) ** 2


def turning_point(merge: UnevenMerge, tube: MergeTube) -> Vec:
    """Where the centreline of a tube turns toward the apex, in the collector's axes."""
    return (*tube.place, merge.mitre)


def mouth_of(merge: UnevenMerge, tube: MergeTube) -> Vec:
    """The middle of the mouth of a sleeve."""
    return add((*tube.place, 0.0), tube.arrival, merge.mouth)


def apart(merge: UnevenMerge) -> UnevenMerge:
    """The merge with its sleeves drawn thinner where they touch.

    Tubes that touch only in a line have no sound common solid; so they stay SEAM apart until they lean together.
    Leaning bores touch nowhere before they meet.
    """
    if merge.leans:
        return merge
    tubes = []
    for tube in merge.tubes:
        rooms = (
            math.dist(tube.place, other.place) - tube.outer - other.outer for other in merge.tubes if other is not tube
        )
        tubes.append(replace(tube, outer=tube.outer - max(SEAM - min(rooms), 0.0) / 2))
    return replace(merge, tubes=tuple(tubes))


def radii(merge: UnevenMerge, inside: bool) -> tuple[float, ...]:
    """The inner radii of the tubes, or the outer ones."""
    return tuple(tube.inner if inside else tube.outer for tube in merge.tubes)


def leaning_ellipse(merge: UnevenMerge, tube: MergeTube, radius: float, at: float) -> Ellipse:
    """The section of a tube past its turn, square to the collector's axis."""
    x, y, _ = add(turning_point(merge, tube), tube.way, (at - merge.mitre) / tube.way[2])
    off = math.hypot(tube.way[0], tube.way[1])
    along = (tube.way[0] / off, tube.way[1] / off) if off > 0.0 else (1.0, 0.0)
    return Ellipse((x, y), along, radius / tube.way[2], radius)


def section(merge: UnevenMerge, inside: bool, at: float) -> list[Ellipse]:
    """The section of every tube; one that is still turning counts as straight."""
    found = []
    for tube, radius in zip(merge.tubes, radii(merge, inside), strict=True):
        if not merge.leans and at <= merge.mitre + radius * math.tan(tube.lean / 2):
            found.append(Ellipse(tube.place, (1.0, 0.0), radius, radius))
        else:
            found.append(leaning_ellipse(merge, tube, radius, at))
    return found


def leaning_section(merge: UnevenMerge, inside: bool, at: float, grown: float = 1.0) -> list[Ellipse]:
    """The section of every tube past its turn, with radii multiplied by `grown`."""
    pairs = zip(merge.tubes, radii(merge, inside), strict=True)
    return [leaning_ellipse(merge, tube, grown * radius, at) for tube, radius in pairs]


@lru_cache(maxsize=256)  # each station of a cone asks for it
def lobes(merge: UnevenMerge, inside: bool, at: float, grown: float = 1.0) -> Loop | None:
    """The outline of the tubes where they are one, round the axis and seen whole from there; None if it is not so.

    It starts with the arc that crosses the direction of x, or ends nearest before it.
    """
    try:
        closed = loops(outline(leaning_section(merge, inside, at, grown)))
    except ValueError:
        return None
    if len(closed) != 1 or not all(_runs_round(piece) for piece in closed[0]):
        return None
    turned = math.fsum(span_of(piece)[1] - span_of(piece)[0] for piece in closed[0])
    return closed[0] if abs(turned - 2 * math.pi) < 1e-6 else None


def _runs_round(piece: EllipseArc) -> bool:
    """Whether a point on the arc always goes counter-clockwise round the axis: place × direction > 0."""
    t = np.linspace(piece.start, piece.end, 33)
    x, y = piece.ellipse.places(t).T
    dx, dy = (piece.ellipse.places(t + math.pi / 2) - np.array(piece.ellipse.centre)).T
    # the derivative of the ellipse is its place a quarter turn on, from its centre
    across = x * dy - y * dx
    return bool(np.all(across > 0.05 * np.hypot(x, y) * np.hypot(dx, dy)))


def span_of(piece: EllipseArc) -> tuple[float, float]:
    """The directions from the axis, as angles from x, of the ends of an arc: those of its part of the outlet."""
    (x0, y0), (x1, y1) = piece.ends
    start = math.atan2(y0, x0)
    return start, start + (math.atan2(y1, x1) - start) % (2 * math.pi) if len_of(piece) else start + 2 * math.pi


def len_of(piece: EllipseArc) -> float:
    """The distance between the ends of an arc, mm; 0 for a whole ellipse."""
    gap = math.dist(*piece.ends)
    return gap if gap > LEAST_EDGE else 0.0


def cone_outline(merge: UnevenMerge, inside: bool, share: float, steps: int = ARC_STEPS) -> Array:
    """(n, 2) the closed outline of the cone at a share of its length, without its first place again.

    On each ruling the outline of the lobes and the outlet are interpolated linearly. Raises ValueError if the tubes are
    not one at the cut.
    """
    found = lobes(merge, inside, merge.cut)
    if found is None:
        raise ValueError("the tubes are not one at the cut")
    narrow, curves = merge.outlet_inner if inside else merge.outlet_outer, []
    for piece in found:
        angles = np.linspace(*span_of(piece), steps + 1)
        arc = narrow * np.column_stack([np.cos(angles), np.sin(angles)])
        curves.append(((1 - share) * piece.points(steps) + share * arc)[:-1])
    return np.concatenate(curves)


def halfway(merge: UnevenMerge, one: MergeTube, other: MergeTube) -> Vec:
    """The normal, toward `other`, of the plane through the apex in which two tubes of one size meet."""
    return unit(subtract(one.way, other.way))


def is_one_size(one: MergeTube, other: MergeTube) -> bool:
    """Whether two tubes have one outside and one wall."""
    return abs(one.outer - other.outer) < ONE_SIZE and abs(one.inner - other.inner) < ONE_SIZE


def neighbours(merge: UnevenMerge, number: int) -> tuple[int, ...]:
    """The tubes of the same size that share an edge with tube `number` (from 0) in a section, by their numbers.

    The planes between tubes meet in the apex, so that every section shows the same cells.
    """
    one = merge.tubes[number]
    width = 4 * merge.widest
    cell = [((width * x, width * y), -1) for x, y in ((-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0))]
    for k, other in enumerate(merge.tubes):
        if k != number and is_one_size(one, other):
            n = halfway(merge, one, other)
            cell = _clipped(cell, (n[0], n[1], n[2] * (merge.cut - merge.apex)), k)
    sides = [(cell[k][0], cell[(k + 1) % len(cell)][0], cell[k][1]) for k in range(len(cell))]
    return tuple(sorted({k for start, end, k in sides if k >= 0 and math.dist(start, end) > LEAST_EDGE * width}))


def _clipped(
    cell: list[tuple[tuple[float, float], int]], line: tuple[float, float, float], label: int
) -> list[tuple[tuple[float, float], int]]:
    """The part of a convex cell where x·n + y·m + c ≤ 0; each corner has the label of the side that follows it."""
    found = []
    for k, (start, side) in enumerate(cell):
        end = cell[(k + 1) % len(cell)][0]
        low, high = (line[0] * x + line[1] * y + line[2] for x, y in (start, end))
        if low <= 0.0:
            found.append((start, side))
        if (low <= 0.0) != (high <= 0.0):
            share = low / (low - high)
            place = (start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1]))
            found.append((place, label if low <= 0.0 else side))
    return found


@dataclass(frozen=True)
class MiddleOpening:
    """The opening that tubes leave between them, up to `closed` mm downstream of the plane.

    `corners`: between every two of them in turn, at that height, where the opening ends; `at_plane`: the same at the
    plane.
    """

    closed: float
    corners: tuple[tuple[float, float], ...]
    at_plane: tuple[tuple[float, float], ...]


@lru_cache(maxsize=64)
def most_openings(merge: UnevenMerge) -> int:
    """How many openings the tubes leave between them past their turn, side by side; leaning ones leave none."""
    return max((len(_holes(merge, at)) for at in _looked_at(merge)), default=0)


@lru_cache(maxsize=64)
def middle_opening(merge: UnevenMerge) -> MiddleOpening | None:
    """The opening between the tubes past their turn, taken as full; None where there is none, or more than one."""
    if most_openings(merge) != 1:
        return None
    heights = _looked_at(merge)
    open_at = [at for at in heights if _holes(merge, at)]
    low, high = open_at[-1], min((at for at in heights if at > open_at[-1]), default=merge.cut)
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if _holes(merge, middle) else (low, middle)
    around = max((_holes(merge, at)[0] for at in open_at), key=len)
    return MiddleOpening(low, _corners(merge, around, low), _corners(merge, around, 0.0))


def _looked_at(merge: UnevenMerge) -> list[float]:
    return [] if merge.leans else np.linspace(merge.mitre, merge.cut, LOOKS).tolist()


def _holes(merge: UnevenMerge, at: float) -> list[Loop]:
    """The holes of a section, without the slivers beside places where tubes only just touch."""
    try:
        closed = loops(outline(leaning_section(merge, False, at)))
    except ValueError:
        return []
    return [loop for loop in closed if loop_area(loop) < -LEAST_HOLE]


def _corners(merge: UnevenMerge, hole: Loop, at: float) -> tuple[tuple[float, float], ...]:
    """Between the middles of neighbouring tubes, in proportion to their radii; counter-clockwise."""
    around, height = [merge.tubes[piece.tube] for piece in reversed(hole)], max(at, merge.mitre)
    corners = []
    for k, one in enumerate(around):
        other = around[(k + 1) % len(around)]
        share = one.outer / (one.outer + other.outer)
        (x, y), (u, v) = (leaning_ellipse(merge, tube, tube.outer, height).centre for tube in (one, other))
        corners.append((x + share * (u - x), y + share * (v - y)))
    return tuple(corners)


def has_room(merge: UnevenMerge) -> bool:
    """Whether the tubes leave one opening, open LEAST_SPIKE past the turn, so that a spike has room."""
    found = middle_opening(merge)
    return found is not None and (merge.is_welded or found.closed - merge.mitre >= LEAST_SPIKE)


def tube_end(merge: UnevenMerge, number: int, radius: float, around: float) -> float:
    """Length from the turn of tube `number` to its end, along its axis, mm, where `radius` and `around` say.

    `around` counts from the side farthest off the collector's axis, `radius` from the tube's own axis. The end is where
    the first neighbour or the cut is met.
    """
    tube = merge.tubes[number]
    out, across = directions_out(tube)
    start = add(
        turning_point(merge, tube),
        add(scaled(out, radius * math.cos(around)), across, radius * math.sin(around)),
    )
    lengths = [(merge.cut - start[2]) / tube.way[2]]
    for k, other in enumerate(merge.tubes):
        if k == number:
            continue
        if is_one_size(tube, other):
            n = halfway(merge, tube, other)
            rate = dot(tube.way, n)
            if rate > 0.0:
                lengths.append(dot(subtract((0.0, 0.0, merge.apex), start), n) / rate)
        else:
            other_radius = radius - tube.outer + other.outer
            entered = into_tube(start, tube.way, (0.0, 0.0, merge.apex), other.way, other_radius)
            lengths += [] if entered is None else [entered]
    return min(lengths)


def uneven_cut_line(merge: UnevenMerge, number: int, steps: int = 36) -> Iterator[tuple[float, float, float]]:
    """As measures.cut_line, for tube `number` (from 0): angle around, mitre, and end, along the leaning tube."""
    tube = merge.tubes[number]
    for k in range(steps + 1):
        around = 2 * math.pi * k / steps
        mitre = -tube.outer * math.tan(tube.turn / 2) * math.cos(around)
        yield around, mitre, tube_end(merge, number, tube.outer, around)


def into_tube(start: Vec, way: Vec, on_axis: Vec, axis: Vec, radius: float) -> float | None:
    """How far along the unit `way` a straight line enters a tube without ends; None if it misses it."""
    off = subtract(start, on_axis)
    p, q = add(way, axis, -dot(way, axis)), add(off, axis, -dot(off, axis))
    a, b, c = dot(p, p), dot(p, q), dot(q, q) - radius**2
    root = b * b - a * c
    return (-b - math.sqrt(root)) / a if a > 0.0 and root > 0.0 else None


def directions_out(tube: MergeTube) -> tuple[Vec, Vec]:
    """Across a tube: away from the collector's axis, and 90° on from there about its way."""
    off = norm((tube.way[0], tube.way[1], 0.0))
    out = unit(add((-tube.way[0], -tube.way[1], 0.0), tube.way, off**2)) if off > ONE_SIZE else (1.0, 0.0, 0.0)
    w = tube.way
    across = (w[1] * out[2] - w[2] * out[1], w[2] * out[0] - w[0] * out[2], w[0] * out[1] - w[1] * out[0])
    return out, across
