"""The wall between the two halves of a merge, from an outlet upstream to where the tubes on either side part.

The wall is in a plane through the axis, halfway between two tubes on either side. There the insides of those two tubes
meet: a leaning tube's section square to the axis is an ellipse, and the plane cuts it where `on_ray` says. Past the cut
the wall follows the ruling of the cone between these two lobes, which is straight.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from headergen.geometry.merge.design import AnyMerge
from headergen.geometry.merge.flow import FlowArea, flow_area
from headergen.geometry.merge.lobes import on_ray
from headergen.geometry.merge.measures import Merge, ring_at, spike_point

STEPS = 16  # along the part between the tubes
SAME = 1e-6  # mm
AREA_STEPS = 40  # along the wall, at which areas of a half are computed
SAME_TURN = math.radians(0.5)  # by which a wall may be off the plane between two tubes


@dataclass(frozen=True)
class WallPlace:
    """Where a wall reaches in a section square to the axis, `at` mm after the collector plane: between two distances
    from the axis, on either side of it."""

    at: float
    near: float
    far: float


def why_undivided(merge: AnyMerge, turn: float) -> str:
    """Why a wall cannot be carried on through a merge, in shop words; empty if it can.

    `turn`: the direction of the wall in the collector's plane, in radians from its x.
    """
    if not isinstance(merge, Merge):
        return "a wall goes on only through a merge whose bores stand evenly round its axis"
    if merge.count % 2:
        return f"{merge.count} bores do not pair up"
    off = abs(_off(merge, turn))
    if off > SAME_TURN:
        return f"the wall's plane is {math.degrees(off):.1f}° from the one between its bores; turn the plate by that"
    return ""


def _off(merge: Merge, turn: float) -> float:
    """By how much a direction is off the nearest one that is halfway between two tubes."""
    between = merge.turn + merge.sector
    return math.remainder(turn - between, 2 * merge.sector)


def wall_tip(merge: Merge) -> float:
    """Where the insides of two tubes part on the plane between them, mm after the collector plane."""
    wide, narrow = merge.inner / math.cos(merge.half_angle), merge.inner
    c, s = math.cos(merge.sector), math.sin(merge.sector)
    ring = math.sqrt((wide * s) ** 2 + (narrow * c) ** 2) / s
    return max(merge.mitre + (merge.ring - ring) / math.tan(merge.half_angle), merge.mitre)


def wall_places(merge: Merge, thickness: float) -> tuple[WallPlace, ...]:
    """The wall from its tip to the end of the outlet."""
    tip = wall_tip(merge)
    shares = ((k / STEPS) ** 2 for k in range(STEPS + 1))  # denser near the tip, where it widens fast
    at = [tip + share * (merge.cut - tip) for share in shares]
    closed = merge.mitre + (merge.ring - merge.inner / math.cos(merge.half_angle)) / math.tan(merge.half_angle)
    if tip < closed < merge.cut:
        at = sorted([*at, closed])
    found = [_between_tubes(merge, each) for each in at]
    cut, point = found[-1], merge.cut + spike_point(merge)
    past = [merge.cone_end, *([point] if cut.near > 0.0 and point < merge.cone_end else [])]
    found += [_past_cut(merge, each, cut, thickness) for each in sorted(past)]
    return (*found, WallPlace(merge.end, 0.0, _in_round(merge.end_inner, thickness)))


def wall_outline(merge: Merge, thickness: float) -> tuple[tuple[float, float], ...]:
    """(place after the collector plane, distance from the axis) round the wall, from the end of the outlet on one side
    to that on the other; between the tubes of four and more bores it has a notch."""
    places = wall_places(merge, thickness)[::-1]
    side = [(each.at, each.far) for each in places]
    inner = [(each.at, each.near) for each in reversed(places) if each.near > SAME]
    opens = [next((each.at, 0.0) for each in reversed(places) if each.near <= SAME)]
    half = [*side, *inner, *opens]
    whole = [*half, *((at, -y) for at, y in reversed(half))]
    return (whole[0], *(each for before, each in pairwise(whole) if math.dist(before, each) > SAME))


def _between_tubes(merge: Merge, at: float) -> WallPlace:
    roots = on_ray(ring_at(merge, at), merge.inner, merge.half_angle, merge.sector)
    if roots is None:  # at the tip itself
        c, s = math.cos(merge.sector), math.sin(merge.sector)
        wide, narrow = merge.inner / math.cos(merge.half_angle), merge.inner
        place = ring_at(merge, at) * c / wide**2 / ((c / wide) ** 2 + (s / narrow) ** 2)
        return WallPlace(at, max(place, 0.0), max(place, 0.0))
    return WallPlace(at, max(roots[1], 0.0), roots[0])


def _past_cut(merge: Merge, at: float, cut: WallPlace, thickness: float) -> WallPlace:
    """On the rulings from the cut to the outlet; a middle that is open at the cut is closed by the spike's point."""
    share = (at - merge.cut) / (merge.cone_end - merge.cut)
    far = (1 - share) * cut.far + share * _in_round(merge.outlet_inner, thickness)
    point = spike_point(merge)
    near = cut.near * max(1 - (at - merge.cut) / point, 0.0) if point > 0.0 else 0.0
    return WallPlace(at, near, far)


def _in_round(radius: float, thickness: float) -> float:
    """How far a wall reaches in a round bore with all of its thickness."""
    return math.sqrt(radius**2 - (thickness / 2) ** 2)


def half_of_round(radius: float, thickness: float) -> float:
    """The area, mm², of each half of a round bore beside a wall through its middle."""
    return (math.pi * radius**2 - 2 * thickness * _in_round(radius, thickness)) / 2


def half_areas(merge: Merge, thickness: float) -> tuple[FlowArea, ...]:
    """The flow area, mm², of each half of the gas beside the wall, from its tip to the end of the outlet."""
    places = wall_places(merge, thickness)
    low, high = places[0].at, places[-1].at
    stations = sorted({*(low + (high - low) * k / AREA_STEPS for k in range(AREA_STEPS + 1)), *(p.at for p in places)})
    return tuple(FlowArea(at, (flow_area(merge, at) - thickness * _height(places, at)) / 2) for at in stations)


def _height(places: tuple[WallPlace, ...], at: float) -> float:
    """Of the wall across the gas, on both sides of the axis, between its places by proportion."""
    before = max((p for p in places if p.at <= at + 1e-9), key=lambda p: p.at)
    after = min((p for p in places if p.at >= at - 1e-9), key=lambda p: p.at)
    share = 0.0 if after.at == before.at else (at - before.at) / (after.at - before.at)
    height = [2 * (p.far - p.near) for p in (before, after)]
    return (1 - share) * height[0] + share * height[1]
