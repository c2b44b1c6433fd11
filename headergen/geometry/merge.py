"""The merge of a collector in numbers: how its tubes stand, where they are cut, and what the cuts look like unrolled.

The bores stand on a ring in the collector plane, square to it. On the plane each collector tube turns by the half
angle toward the axis (a mitre of half that angle), runs straight, is trimmed by its neighbours on the planes halfway
between them, and ends on a plane square to the axis, the cut. From there a ruled cone leads from the outline of the
lobes to the round outlet. In a section square to the axis a tube of radius r is an ellipse, r/cos α out from the axis
and r across.

All in the collector's frame: z downstream from the plane, the first bore at `turn` from x.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from headergen.geometry.frames import axes_matrix, subtract
from headergen.geometry.lobes import MergeError, crossings, lobe_area, valley
from headergen.model import Collector, Tube

FEWEST, MOST = 2, 6  # bores of one merge
ON_RING = 1e-3  # mm by which a bore may stand off the ring
CLOSED = 0.92  # of the ring radius at which the bores just meet on the axis: so far in, the middle is surely closed
MORE_AREA = 1.15  # of the outlet's: the least flow area at the cut, so that the outlet stays the smallest place
FREE_CREST = 0.05  # of a tube's radius by which its lobe stands out over the outlet at the cut
STEEPEST = math.radians(15)  # of a valley between lobes, where it opens toward the outlet
LEAST_CONE = 15.0  # mm
SLENDER = 2.0  # length of a spike's point by the side of a square as large as its foot
LEAD = 5.0  # mm of straight tube that a welded collector keeps before its mitre


@dataclass(frozen=True)
class Merge:
    """A merge, in millimetres and radians; lengths along the axis count from the collector plane.

    `ring`: radius on which the bores stand; `outer`, `inner`: radii of the collector tubes; `mouth`: where they begin
    (negative: upstream); `mitre`: where their middles turn inward; `cut`, `cut_ring`: where they end, and how far
    their middles are from the axis there; `cone_end`, `end`: where the outlet tube begins and ends.
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

    @property
    def sector(self) -> float:
        """Half the angle between neighbours, seen from the axis."""
        return math.pi / self.count

    @property
    def is_closed(self) -> bool:
        """Whether the tubes meet in the middle before the cut; if not, the spike has to close it."""
        return self.cut_ring < self.inner / math.cos(self.half_angle)


def has_merge(collector: Collector) -> bool:
    """Whether the spec asks for more than bores, and there is more than one to bring together."""
    return collector.half_angle is not None and collector.outlet is not None and FEWEST <= len(collector.bores) <= MOST


def sleeve_radii(tube: Tube, collector: Collector) -> tuple[float, float]:
    """Outer and inner radius of the collector's tubes: sleeves with a sliding gap, or, welded on, wide as the tube."""
    wall = collector.wall if collector.wall is not None else tube.wall
    if collector.join == "weld":
        return tube.radius, tube.radius - wall
    return tube.radius + collector.gap + wall, tube.radius + collector.gap


def merge_of(tube: Tube, collector: Collector) -> Merge:
    """The merge that a spec asks for, with its cut where the outlet stays the smallest place.

    Raises MergeError where the bores do not stand on a ring, their sleeves are too short to be mitred, or the outlet is
    too wide or too narrow for them.
    """
    assert collector.half_angle is not None and collector.outlet is not None
    ring, turn = _ring_of(collector)
    outer, inner = sleeve_radii(tube, collector)
    half, count = collector.half_angle, len(collector.bores)
    wall = outer - inner
    narrow, bore = collector.outlet / 2, collector.outlet / 2 - wall
    if bore <= wall:
        raise MergeError("its outlet is as wide as", 2 * narrow, "its wall wants more than", 4 * wall)
    cut_ring = _cut_ring((ring, outer, inner, half, count), (narrow, bore))
    shortest = outer * math.tan(half / 2) + LEAD
    if collector.join == "slip" and collector.slip < shortest:
        raise MergeError("its tubes go in by", collector.slip, "its mitres want at least", shortest)
    mitre = 0.0 if collector.join == "slip" else LEAD + outer * math.tan(half / 2)
    cut = mitre + (ring - cut_ring) / math.tan(half)
    crest, dip = cut_ring + outer / math.cos(half), valley(cut_ring, outer, half, math.pi / count)
    steep = max(half, STEEPEST)
    cone = max((crest - narrow) / math.tan(half), (narrow - dip) / math.tan(steep), LEAST_CONE)
    return Merge(
        count=count,
        half_angle=half,
        ring=ring,
        turn=turn,
        outer=outer,
        inner=inner,
        mouth=-collector.slip,
        mitre=mitre,
        cut=cut,
        cut_ring=cut_ring,
        cone_end=cut + cone,
        end=cut + cone + collector.outlet_length,
        outlet_outer=narrow,
        outlet_inner=bore,
    )


def _ring_of(collector: Collector) -> tuple[float, float]:
    """Radius of the ring of bores and the angle of the first from x."""
    axes = axes_matrix(collector.frame)
    places = [axes @ subtract(bore.frame.origin, collector.frame.origin) for bore in collector.bores]
    count = len(places)
    radius, turn = math.hypot(places[0][0], places[0][1]), math.atan2(places[0][1], places[0][0])
    off = math.inf
    for way in (1, -1):  # counted from x toward y, or, on a mirrored bank, the other way
        angles = [turn + way * 2 * math.pi * k / count for k in range(count)]
        ring = [(radius * math.cos(angle), radius * math.sin(angle)) for angle in angles]
        off = min(off, max(math.dist(place[:2], wanted) for place, wanted in zip(places, ring, strict=True)))
    if off > ON_RING:
        raise MergeError("its bores do not stand evenly round its axis: one is off by", off, "allowed is", 0.0)
    return radius, turn


def _cut_ring(tubes: tuple[float, float, float, float, int], outlet: tuple[float, float]) -> float:
    """How far in the tubes run before they are cut.

    Far enough that they meet in the middle, and no farther than leaves MORE_AREA and the crests of the lobes outside
    the outlet; of that range, the middle. Where a wide outlet allows no closed middle, as far as its width lets them.
    """
    ring, outer, inner, half, count = tubes
    narrow, bore = outlet
    sector = math.pi / count
    closed = CLOSED * inner / math.cos(half)
    least = max(narrow + FREE_CREST * outer - outer / math.cos(half), 0.0)
    wanted = MORE_AREA * math.pi * bore**2

    def is_enough(at: float) -> bool:
        return count * lobe_area(at, inner, half, sector) >= wanted

    apart = min(CLOSED * inner / math.sin(sector), ring)
    if least > apart:
        widest = 2 * (apart - FREE_CREST * outer + outer / math.cos(half))
        raise MergeError("its outlet is as wide as", 2 * narrow, "the lobes of its bores suit at most", widest)
    if least > closed:
        return _least_enough(least, apart, is_enough)
    return (_least_enough(least, closed, is_enough) + closed) / 2


def _least_enough(low: float, high: float, is_enough: Callable[[float], bool]) -> float:
    """The least place from `low` to `high` that is enough; `high` where none is."""
    if is_enough(low):
        return low
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (low, middle) if is_enough(middle) else (middle, high)
    return high


def ring_at(merge: Merge, at: float) -> float:
    """How far from the axis the middles of the tubes are, `at` mm downstream of the plane."""
    return merge.ring - max(at - merge.mitre, 0.0) * math.tan(merge.half_angle)


def star_area(merge: Merge, radius: float) -> float:
    """The open middle between tubes of `radius` at the cut, mm²; 0 where they meet on the axis."""
    found = crossings(merge.cut_ring, radius, merge.half_angle, merge.sector)
    if found is None or found[1] is None:
        return 0.0
    a, b, near = radius / math.cos(merge.half_angle), radius, found[1]
    return merge.count * (merge.cut_ring * b * math.sin(near) - a * b * (math.pi - near))


def star_start(merge: Merge, radius: float) -> float | None:
    """Parameter t of a tube's ellipse at the cut where the open middle begins on it; None where there is none."""
    found = crossings(merge.cut_ring, radius, merge.half_angle, merge.sector)
    return None if found is None else found[1]


def spike_point(merge: Merge) -> float:
    """How far downstream of the cut the spike of an open middle ends in a point, mm."""
    return min(SLENDER * math.sqrt(star_area(merge, merge.outer)), merge.cone_end - merge.cut)


def tube_cut(merge: Merge, radius: float, around: float) -> float:
    """Length from the middle of the mitre to the end of a collector tube, along its own axis, mm.

    `around` from the side farthest off the collector's axis, at `radius` from the tube's own. The end is where the
    plane halfway to a neighbour, or the cut, comes first.
    """
    half = merge.half_angle
    out, across = radius * math.cos(around), abs(radius * math.sin(around))
    to_cut = (merge.cut - merge.mitre - out * math.sin(half)) / math.cos(half)
    behind = 0.0 if merge.count == 2 else across / math.tan(merge.sector)
    return min(to_cut, (merge.ring + out * math.cos(half) - behind) / math.sin(half))


def cut_line(merge: Merge, steps: int = 36) -> Iterator[tuple[float, float, float]]:
    """For a wrap template on the outside of a collector tube: angle around, mitre, and end.

    Around from the side farthest off the collector's axis. Both count along the leaning tube from the middle of its
    mitre: the mitre is −r·tan(α/2)·cos φ (so on the straight part, counted the same way, +r·tan(α/2)·cos φ), the end
    is as in tube_cut.
    """
    for k in range(steps + 1):
        around = 2 * math.pi * k / steps
        mitre = -merge.outer * math.tan(merge.half_angle / 2) * math.cos(around)
        yield around, mitre, tube_cut(merge, merge.outer, around)
