"""The merge of a collector in numbers: its tubes, where they are cut, and the unrolled shape of the cuts.

The bores are on a ring in the collector plane, square to it. On the plane, each collector tube turns by the half angle
toward the axis (a mitre of half that angle). It runs straight, is trimmed by its neighbours on the planes halfway
between them, and ends on a plane square to the axis, the cut. From there a ruled cone leads from the outline of the
lobes to the round outlet. In a section square to the axis, a tube of radius r is an ellipse with semi-axes r/cos α
(radially) and r (across).

All in the collector's frame: z downstream from the plane, the first bore at `turn` from x.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from headergen.geometry.merge.lobes import crossings

SEAM = 0.1  # mm that neighbouring sleeves stay apart or, where they touch, are grown into each other
LEAST_SPIKE = 2.0  # mm of open middle past the mitre below which a spike is not worth welding
SPIKE_DEPTH = 30.0  # mm of the star-shaped opening between the tubes that a spike fills
PLUG_DEPTH = 10.0  # mm that a spike reaches in between the ends of primaries that are welded on
SLENDER = 2.0  # length of a spike's point over the side of a square with its foot's area


@dataclass(frozen=True)
class Merge:
    """A merge, in millimetres and radians; lengths along the axis count from the collector plane.

    `ring`: radius of the circle of bores; `outer`, `inner`: radii of the collector tubes; `mouth`: where they begin
    (negative: upstream); `mitre`: where their centrelines turn inward; `cut`, `cut_ring`: where they end, and how far
    their centres are from the axis there; `cone_end`, `end`: where the outlet tube begins and ends. `taper_to`: its
    outer radius at the end, if it is not that at its start.
    """

    count: int
    half_angle: float
    ring: float
    turn: float
    outer: float
    inner: float
    mouth: float
    mitre: float
    cut: float
    cut_ring: float
    cone_end: float
    end: float
    outlet_outer: float
    outlet_inner: float
    taper_to: float | None = None

    @property
    def end_outer(self) -> float:
        """The outer radius at the outlet's end, mm."""
        return self.outlet_outer if self.taper_to is None else self.taper_to

    @property
    def end_inner(self) -> float:
        """The inner radius at the outlet's end, mm; its wall is the same all along."""
        return self.end_outer - (self.outlet_outer - self.outlet_inner)

    @property
    def sector(self) -> float:
        """Half the angle (rad) between neighbours, seen from the axis: π / count."""
        return math.pi / self.count

    @property
    def is_welded(self) -> bool:
        """Whether its tubes are butt-welded to the primaries at the plane, rather than sleeves round them."""
        return self.mouth == 0.0

    @property
    def is_closed(self) -> bool:
        """Whether the tubes meet in the middle before the cut, by half a wall; if not, a spike has to close it."""
        return self.cut_ring <= (self.outer + self.inner) / 2 / math.cos(self.half_angle)


def with_seams(merge: Merge) -> Merge:
    """The merge with its tubes grown where they would only just touch."""
    apart = merge.ring * math.sin(merge.sector) - merge.outer
    return replace(merge, outer=merge.outer + apart + SEAM) if abs(apart) < SEAM else merge


def ring_at(merge: Merge, at: float) -> float:
    """Distance of the tubes' centres from the axis, `at` mm downstream of the plane."""
    return merge.ring - max(at - merge.mitre, 0.0) * math.tan(merge.half_angle)


def star_area(merge: Merge, radius: float) -> float:
    """Area, mm², of the open middle between tubes of `radius` at the cut; 0 where they meet on the axis."""
    found = crossings(merge.cut_ring, radius, merge.half_angle, merge.sector)
    if found is None or found[1] is None:
        return 0.0
    a, b, near = radius / math.cos(merge.half_angle), radius, found[1]
    return merge.count * (merge.cut_ring * b * math.sin(near) - a * b * (math.pi - near))


def star_start(merge: Merge, radius: float) -> float | None:
    """Parameter t of a tube's ellipse at the cut at which the open middle begins; None where there is none."""
    found = crossings(merge.cut_ring, radius, merge.half_angle, merge.sector)
    return None if found is None else found[1]


def middle_closed(merge: Merge) -> float:
    """Where the leaning tubes, taken as solid, close the middle, mm downstream of the plane."""
    return merge.mitre + (merge.ring - merge.outer / math.cos(merge.half_angle)) / math.tan(merge.half_angle)


def has_spike_room(merge: Merge) -> bool:
    """Whether the middle is open far enough past the mitre for a spike; if welded on, it is open upstream too."""
    drawn = with_seams(merge)
    return merge.count > 2 and (merge.is_welded or middle_closed(drawn) - drawn.mitre >= LEAST_SPIKE)


def spike_point(merge: Merge) -> float:
    """How far downstream of the cut the spike of an open middle ends in a point, mm."""
    return min(SLENDER * math.sqrt(star_area(merge, merge.outer)), merge.cone_end - merge.cut)


def tube_cut(merge: Merge, radius: float, around: float) -> float:
    """Length from the middle of the mitre to the end of a collector tube, along the tube's axis, mm.

    `around` counts from the side farthest off the collector's axis, `radius` from the tube's own axis. The end is at
    the plane halfway to a neighbour or at the cut, whichever comes first.
    """
    half = merge.half_angle
    out, across = radius * math.cos(around), abs(radius * math.sin(around))
    to_cut = (merge.cut - merge.mitre - out * math.sin(half)) / math.cos(half)
    behind = 0.0 if merge.count == 2 else across / math.tan(merge.sector)
    return min(to_cut, (merge.ring + out * math.cos(half) - behind) / math.sin(half))


def cut_line(merge: Merge, steps: int = 36) -> Iterator[tuple[float, float, float]]:
    """For a wrap template on the outside of a collector tube: angle around, mitre, and end.

    The angle counts from the side farthest off the collector's axis. Both lengths run along the leaning tube from the
    middle of its mitre. The mitre is at −r·tan(α/2)·cos φ (so on the straight part, counted the same way, at
    +r·tan(α/2)·cos φ); the end is that of tube_cut.
    """
    for k in range(steps + 1):
        around = 2 * math.pi * k / steps
        mitre = -merge.outer * math.tan(merge.half_angle / 2) * math.cos(around)
        yield around, mitre, tube_cut(merge, merge.outer, around)
