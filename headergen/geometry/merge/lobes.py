"""Sections of leaning tubes round an axis: ellipses, and the lobe of each between its neighbours.

A tube of radius r leans by α toward the axis. Its section square to the axis is an ellipse with semi-axes r/cos α
(radially) and r (across), its centre `ring` from the axis. Planes at ±`sector` separate it from its neighbours.
Millimetres and radians.
"""

from __future__ import annotations

import math


class MergeError(ValueError):
    """Bores that allow no merge: `what` is `value` mm, and `bound` says how that compares with `limit` mm."""

    def __init__(self, what: str, value: float, bound: str, limit: float) -> None:
        super().__init__(f"{what} {value:.1f} mm; {bound} {limit:.1f} mm")
        self.what, self.value, self.bound, self.limit = what, value, bound, limit


def lobe_area(ring: float, radius: float, half_angle: float, sector: float) -> float:
    """Area, mm², of one lobe in a section square to the axis: its ellipse between the planes to its neighbours.

    The ellipse is ((x − ring)/a)² + (y/b)² = 1 with a = r/cos α, b = r, between the rays at ±sector. By Green's
    theorem, an arc from −t to t contributes a·b·t + ring·b·sin t, and the rays through the axis contribute nothing.
    """
    a, b = radius / math.cos(half_angle), radius
    found = crossings(ring, radius, half_angle, sector)
    if found is None:
        return math.pi * a * b
    far, near = found
    area = a * b * far + ring * b * math.sin(far)
    if near is not None:
        area += a * b * (math.pi - near) - ring * b * math.sin(near)
    return area


def crossings(ring: float, radius: float, half_angle: float, sector: float) -> tuple[float, float | None] | None:
    """Parameters t at which the ellipse crosses the ray at `sector`: far and near; None where it misses the ray.

    There is no near crossing when the axis is inside the ellipse.
    """
    roots = on_ray(ring, radius, half_angle, sector)
    if roots is None or roots[0] <= 0.0:
        return None
    a, b, c, s = radius / math.cos(half_angle), radius, math.cos(sector), math.sin(sector)
    far, near = (math.atan2(q * s / b, (q * c - ring) / a) for q in roots)
    return far, (near if roots[1] > 0.0 else None)


def on_ray(ring: float, radius: float, half_angle: float, sector: float) -> tuple[float, float] | None:
    """Distances from the axis, far and near, at which the ellipse meets the line at `sector`; None if it does not."""
    a, b, c, s = radius / math.cos(half_angle), radius, math.cos(sector), math.sin(sector)
    p, half_q, r = (c / a) ** 2 + (s / b) ** 2, -ring * c / a**2, (ring / a) ** 2 - 1
    root = half_q**2 - p * r
    if root <= 0.0:
        return None
    return (-half_q + math.sqrt(root)) / p, (-half_q - math.sqrt(root)) / p


def valley(ring: float, radius: float, half_angle: float, sector: float) -> float:
    """Distance from the axis at which neighbouring lobes meet. Raises MergeError where they do not."""
    roots = on_ray(ring, radius, half_angle, sector)
    if roots is None:
        raise MergeError("at the cut its bores are off the axis by", ring, "to meet they may be", radius)
    return roots[0]


def lobe_end(ring: float, radius: float, half_angle: float, sector: float) -> float:
    """Parameter t at which the outline of a lobe ends at its neighbour's; the outline runs from −t to t.

    Raises MergeError where the two do not meet.
    """
    found = crossings(ring, radius, half_angle, sector)
    if found is None:
        raise MergeError("at the cut its bores are off the axis by", ring, "to meet they may be", radius)
    return found[0]
