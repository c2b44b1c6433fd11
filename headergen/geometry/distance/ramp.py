"""The gap required of two tubes that come together at a collector, by the length before its plane.

Along the straight that arrives in the bores it is what the bores leave, less what both ends may miss; from there it
grows in proportion to the length, up to the full gap where the tubes are no longer together. Of two places the one
farther from the plane decides. Since the requirement never falls with that length, two tubes keep it exactly if every
place of either of them keeps its own requirement to the other tube. The gap of a place is that of a ball there of the
tube's size, which is never larger than that of the disc.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.curves.body import Body, distance_to_body, points_along, surface_point
from headergen.geometry.curves.stepped import last_tube
from headergen.geometry.distance.distance_triangles import Nearest
from headergen.geometry.distance.profile import Profile, least_along, stretches_below
from headergen.geometry.frames import norm, subtract
from headergen.model import Draft, Run, Stretch


@dataclass(frozen=True)
class Ramp:
    """The required gap (mm): `at_bores` up to `begins` (mm before the plane), `full` from `ends` on."""

    at_bores: float
    full: float
    begins: float
    ends: float

    def required(self, before: Array) -> Array:
        """The gap (n,) required at lengths (n,) before the plane."""
        grown = np.clip((before - self.begins) / max(self.ends - self.begins, 1e-9), 0.0, 1.0)
        return np.asarray(self.at_bores + (self.full - self.at_bores) * grown)

    @property
    def slope(self) -> float:
        """Growth in mm for each mm along the tube."""
        return (self.full - self.at_bores) / max(self.ends - self.begins, 1e-9)


def ramp_begins(draft: Draft, collector: str) -> float:
    """The length before the plane of a collector over which its tubes must be straight, and cannot diverge yet."""
    slip = next(each.slip for each in draft.collectors if each.name == collector)
    return min(max(slip, draft.limits.collector_straight), draft.limits.together)


def ends_may_miss(draft: Draft) -> float:
    """By how much (mm) two tubes may be nearer than their bores, with both ends as far off as is allowed."""
    return 2 * draft.limits.end_position


def ramp_of(draft: Draft, a: Run, b: Run) -> Ramp:
    """The ramp of two tubes that end in one collector."""
    limits = draft.limits
    apart = norm(subtract(a.end.frame.origin, b.end.frame.origin)) - last_tube(a).radius - last_tube(b).radius
    left = min(max(apart - ends_may_miss(draft), 0.0), limits.between_tubes)
    return Ramp(left, limits.between_tubes, ramp_begins(draft, a.end.collector), limits.together)


@dataclass(frozen=True, eq=False)
class OnRamp:
    """The place with the least to spare: `nearest` from the first tube, `at_b` on the second; `before` the plane."""

    nearest: Nearest
    at_b: float
    before: float


def tightest_on_ramp(parts: tuple[Body, Body], lengths: tuple[float, float], ramp: Ramp) -> OnRamp:
    """Where two parts of tubes have the least to spare; `lengths` are those of both whole tubes."""
    (a, b), found = parts, []
    for body, other, length in ((a, b, lengths[0]), (b, a, lengths[1])):
        at, spare = least_along(_to_spare(body, other, length, ramp), body.span)
        found.append((spare, body is b, at, length - at))
    _, swapped, at, before = min(found)
    body, other = (b, a) if swapped else (a, b)
    middle = points_along(body, np.array([at]))
    value, theirs = (float(each[0]) for each in distance_to_body(other, middle))
    value -= body.radius
    point = surface_point(other, theirs, middle[0], value + body.radius)
    away = middle[0] - point if value < -body.radius else point - middle[0]
    skin = middle[0] + body.radius * away / max(float(np.linalg.norm(away)), 1e-9)
    if swapped:
        return OnRamp(Nearest(value, theirs, skin, -1, point), at, before)
    return OnRamp(Nearest(value, at, point, -1, skin), theirs, before)


def stretches_on_ramp(parts: tuple[Body, Body], length: float, ramp: Ramp) -> tuple[Stretch, ...]:
    """The stretches of the first of two parts that are nearer to the second than the ramp requires."""
    spare, steepest = _to_spare(*parts, length, ramp), 1.0 + ramp.slope
    return stretches_below(lambda at: spare(at) / steepest, parts[0].span, 0.0)


def _to_spare(body: Body, other: Body, length: float, ramp: Ramp) -> Profile:
    return lambda at: distance_to_body(other, points_along(body, at))[0] - body.radius - ramp.required(length - at)
