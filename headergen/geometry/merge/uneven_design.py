"""The design of a merge that is not of revolution: above all, where its tubes are cut.

As for bores round an axis (geometry/merge/design.py), the cut is placed late enough that the tubes are one outline
round the axis and close the middle, and early enough that neither they nor the cone are narrower than the outlet.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from headergen.geometry.arrays import Array, polygon_area
from headergen.geometry.frames import unit
from headergen.geometry.merge.ellipses import union_area
from headergen.geometry.merge.lobes import MergeError
from headergen.geometry.merge.uneven import (
    MergeTube,
    UnevenMerge,
    cone_outline,
    leaning_section,
    lobes,
    outlet_area,
    section,
    span_of,
)

CLOSED = 0.92  # of the radii at which the tubes just are one outline: there they certainly are
MORE_AREA = 1.15  # of the outlet's area: the least flow area required at the cut
STEEPEST = math.radians(15)  # slope of the cone where it opens toward the outlet
LEAST_CONE, LEAD = 15.0, 5.0  # mm; of straight tube before a turn
NEAR_APEX = 0.02  # of the way to the apex: there the tubes are one, if they ever are
HALVINGS = 14
TRIALS, STATIONS = 8, 12
SAME_AREA, SAME_PLACE = 1e-6, 1e-3  # mm², mm
WALL_STEPS = 24  # of each arc
LEAST_WALL = 0.6  # of the wall that is left where inside and outside are ruled


@dataclass(frozen=True)
class MergeInputs:
    """What a spec asks of a merge: `places` of its bores in the plane, radii of its tubes, and the outlet.

    `lean`: by how much the bores lean to the axis; 0: they are square to the plane, and the tubes turn by `half_angle`.
    """

    places: tuple[tuple[float, float], ...]
    outer: tuple[float, ...]
    inner: tuple[float, ...]
    half_angle: float
    lean: float
    slip: float
    is_welded: bool
    outlet: float
    wall: float
    outlet_length: float
    taper_to: float | None


def uneven_merge(inputs: MergeInputs) -> UnevenMerge:
    """The merge. Raises MergeError where the bores or the outlet allow none."""
    uncut = _uncut(inputs)
    first = _earliest(uncut)
    last = _last_enough(uncut, first)
    outlet = math.pi * min(uncut.outlet_inner, uncut.end_inner) ** 2
    best, most = None, -math.inf
    for at in np.linspace((first + last) / 2, first, TRIALS).tolist():
        merge = _cut_at(uncut, at)
        if merge is None:
            continue
        least = min(_cone_areas(merge))
        if least >= outlet - SAME_AREA:
            return merge
        if least > most + SAME_AREA:
            best, most = merge, least
    if best is None:
        wall = uncut.outlet_outer - uncut.outlet_inner
        raise MergeError("no cut leaves its cone a wall of", LEAST_WALL * wall, "its spec has", wall)
    return best


def _uncut(inputs: MergeInputs) -> UnevenMerge:
    """The merge before its cut is chosen; the cut is put at the apex."""
    _refuse(inputs)
    ring = max(math.hypot(*place) for place in inputs.places)
    half = inputs.half_angle
    if inputs.lean > 0.0:
        mitre = 0.0
    else:
        shortest = max(inputs.outer) * math.tan(half / 2) + LEAD
        if not inputs.is_welded and inputs.slip < shortest:
            raise MergeError("its tubes go in by", inputs.slip, "its mitres require at least", shortest)
        mitre = shortest if inputs.is_welded else 0.0
    rise = ring / math.tan(half)
    tubes = []
    for (x, y), outer, inner in zip(inputs.places, inputs.outer, inputs.inner, strict=True):
        way = unit((-x, -y, rise))
        tubes.append(MergeTube((x, y), outer, inner, way if inputs.lean > 0.0 else (0.0, 0.0, 1.0), way))
    apex = mitre + rise
    return UnevenMerge(
        tubes=tuple(tubes),
        half_angle=half,
        mouth=-inputs.slip,
        mitre=mitre,
        apex=apex,
        cut=apex,
        cone_end=apex,
        end=apex + inputs.outlet_length,
        outlet_outer=inputs.outlet / 2,
        outlet_inner=inputs.outlet / 2 - inputs.wall,
        taper_to=None if inputs.taper_to is None else inputs.taper_to / 2,
    )


def _refuse(inputs: MergeInputs) -> None:
    """Raises MergeError for bores and outlets of which no merge is possible."""
    narrow = min(inputs.outlet, inputs.outlet if inputs.taper_to is None else inputs.taper_to)
    if narrow <= 4 * inputs.wall:
        raise MergeError("its outlet is as wide as", narrow, "its wall wants more than", 4 * inputs.wall)
    if (beside := _beside(inputs.places)) > SAME_PLACE:
        raise MergeError("its axis is beside its bores, not among them, by", beside, *_NONE)
    for k, one in enumerate(inputs.places):
        for i, other in enumerate(inputs.places[:k]):
            spaced, least = math.dist(one, other), inputs.outer[k] + inputs.outer[i]
            if inputs.lean > 0.0:
                least *= math.cos(inputs.lean)
            if spaced < least - SAME_PLACE:
                raise MergeError(
                    f"its bores {i + 1} and {k + 1} are spaced by", spaced, "their tubes require at least", least
                )
    if inputs.lean > 0.0:
        (x, y), (u, v) = inputs.places
        off = math.hypot(x + u, y + v)
        if off > SAME_PLACE:
            raise MergeError("its bores lean to its axis from places that are not opposite each other, by", off, *_NONE)


def _beside(places: Sequence[tuple[float, float]]) -> float:
    """How far the axis is from the convex hull of the bores' places; 0 within it."""
    angles = sorted(math.atan2(y, x) for x, y in places)
    gaps = [after - before for before, after in zip(angles, [*angles[1:], angles[0] + 2 * math.pi], strict=True)]
    if max(gaps) < math.pi:
        return 0.0
    return min(_off_segment(one, other) for k, one in enumerate(places) for other in places[: k + 1])


def _off_segment(start: tuple[float, float], end: tuple[float, float]) -> float:
    """Distance of the axis from a segment."""
    way = end[0] - start[0], end[1] - start[1]
    size = way[0] ** 2 + way[1] ** 2
    share = min(max(-(start[0] * way[0] + start[1] * way[1]) / size, 0.0), 1.0) if size > 0.0 else 0.0
    return math.hypot(start[0] + share * way[0], start[1] + share * way[1])


_NONE = ("allowed is", 0.0)


def _earliest(uncut: UnevenMerge) -> float:
    """The first height at which the tubes are surely one outline round the axis and reach past the outlet.

    Toward the apex the tubes come ever nearer to each other: where they are one, they remain so.
    """
    low, high = _first_possible(uncut), uncut.apex - NEAR_APEX * (uncut.apex - uncut.mitre)
    if uncut.leans and not low < high:
        spaced = math.dist(*(tube.place for tube in uncut.tubes))
        least = spaced * low / high
        raise MergeError("its bores are spaced by", spaced, "leaning as they do they require at least", least)
    if not low < high or not _is_one(uncut, high):
        off = min(math.hypot(*tube.place) for tube in uncut.tubes)
        raise MergeError("its tubes do not close round its axis: the nearest bore is off it by", off, *_NONE)
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (low, middle) if _is_one(uncut, middle) else (middle, high)
    if uncut.outlet_outer > (crest := _crest(uncut, high)):
        raise MergeError("its outlet is as wide as", 2 * uncut.outlet_outer, "its bores suit at most", 2 * crest)
    return high


def _first_possible(uncut: UnevenMerge) -> float:
    """The height past which every tube is past its turn; past its end in the plane, if it leans."""
    if uncut.leans:
        return max(tube.outer * math.sin(tube.lean) for tube in uncut.tubes) + LEAD
    return uncut.mitre + max(tube.outer * math.tan(tube.lean / 2) for tube in uncut.tubes)


def _is_one(uncut: UnevenMerge, at: float) -> bool:
    return all(lobes(uncut, inside, at, grown) for inside in (True, False) for grown in (CLOSED, 1.0))


def _crest(merge: UnevenMerge, at: float) -> float:
    found = lobes(merge, False, at)
    assert found is not None
    return max(float(np.hypot(*piece.points(30).T).max()) for piece in found)


def _last_enough(uncut: UnevenMerge, first: float) -> float:
    """The last height with MORE_AREA of the outlet's; `first` if there is none past it."""
    required = MORE_AREA * math.pi * uncut.outlet_inner**2
    low, high = first, uncut.apex
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        enough = union_area(leaning_section(uncut, True, middle)) >= required
        low, high = (middle, high) if enough else (low, middle)
    return low


def _cut_at(uncut: UnevenMerge, at: float) -> UnevenMerge | None:
    """The merge cut there, with the cone that follows; None if inside and outside would come too near in it."""
    steep, length = max(uncut.half_angle, STEEPEST), uncut.end - uncut.cone_end
    found = lobes(uncut, False, at)
    if found is None or not _is_one(uncut, at):
        return None
    cone = LEAST_CONE
    for piece in found:
        angles = np.linspace(*span_of(piece), 31)
        start, end = piece.points(30), uncut.outlet_outer * np.column_stack([np.cos(angles), np.sin(angles)])
        gone = np.hypot(*(end - start).T)
        opens = np.hypot(*start.T) < uncut.outlet_outer
        cone = max(cone, float(np.max(gone / np.tan(np.where(opens, steep, uncut.half_angle)))))
    merge = replace(uncut, cut=at, cone_end=at + cone, end=at + cone + length)
    return merge if _least_wall(merge) >= LEAST_WALL * (uncut.outlet_outer - uncut.outlet_inner) else None


def _least_wall(merge: UnevenMerge) -> float:
    """The least distance between inside and outside in sections of the cone."""
    shares, least = (0.0, 0.25, 0.5, 0.75, 1.0), math.inf
    for share in shares:
        inside, outside = (cone_outline(merge, each, share, WALL_STEPS) for each in (True, False))
        least = min(least, _distance(inside, outside))
    return least


def _distance(inside: Array, outside: Array) -> float:
    """From the places of one closed outline to the sides of another around it; negative where they are outside it."""
    start, side = outside, np.roll(outside, -1, axis=0) - outside
    off = inside[:, None, :] - start[None]
    along = np.clip(np.sum(off * side, axis=2) / np.sum(side**2, axis=1), 0.0, 1.0)
    gap = np.hypot(*np.moveaxis(off - along[:, :, None] * side[None], 2, 0))
    nearest = np.argmin(gap, axis=1)
    rows = np.arange(len(inside))
    inward = side[nearest, 0] * off[rows, nearest, 1] - side[nearest, 1] * off[rows, nearest, 0]
    return float(np.min(np.where(inward >= 0.0, 1.0, -1.0) * gap[rows, nearest]))


def _cone_areas(merge: UnevenMerge) -> Sequence[float]:
    return [uneven_flow_area(merge, at) for at in np.linspace(merge.cut, merge.cone_end, STATIONS).tolist()]


def uneven_flow_area(merge: UnevenMerge, at: float) -> float:
    """Flow area, mm², in the section square to the axis `at` mm downstream of the plane.

    A tube that is still turning counts as straight. In the cone it is that of the ruled outline.
    """
    if at <= merge.cut:
        return union_area(section(merge, True, at))
    if at >= merge.cone_end:
        return outlet_area(merge, at)
    return polygon_area(cone_outline(merge, True, (at - merge.cut) / (merge.cone_end - merge.cut), 240))
