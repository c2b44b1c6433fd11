"""The outside of what is printed of a run: one radius all along, or for a stepped run the radius of each of its sizes.

The bore of a part that spans several sizes is that of its smallest, so that nothing overhangs inside it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from manifold3d import Manifold, OpType

from headergen.geometry.curves.body import tube_body
from headergen.geometry.curves.centreline import cut_out
from headergen.geometry.curves.stepped import OutsideSpan, growth_places, outside_spans
from headergen.geometry.distance.cones import cone_skin
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.geometry.mesh.tube import outer_skin
from headergen.mock.solid import MockError, solid_of
from headergen.model import Centreline, Run, Tube
from headergen.words.numbers import with_unit

SAME = 1e-6  # mm
CHORD_ERROR = 0.04  # mm


@dataclass(frozen=True)
class Outside:
    """Lengths of a run with their radii, in travel order; the last one goes on past the end of the run."""

    spans: tuple[OutsideSpan, ...]

    def within(self, low: float, high: float) -> Iterator[OutsideSpan]:
        """The spans between two lengths, as they are there."""
        for span in self.spans:
            start, end = max(span.start, low), min(span.end, high)
            if end - start > SAME:
                yield OutsideSpan(start, end, (radius_in(span, start), radius_in(span, end)))

    def least(self, low: float, high: float) -> float:
        """The smallest radius between two lengths."""
        return min(min(span.radii) for span in self.within(low, high))

    def most(self, low: float, high: float) -> float:
        """The largest radius between two lengths."""
        return max(max(span.radii) for span in self.within(low, high))

    def at(self, length: float) -> float:
        """The radius at a length; where it steps, the larger."""
        return max(radius_in(span, length) for span in self.spans if span.start - SAME <= length <= span.end + SAME)

    def filled(self, line: Centreline, low: float, high: float) -> Manifold:
        """All within the outside, between two lengths, in engine axes."""
        solids = [solid_of(_skin(line, span)) for span in self.within(low, high)]
        return solids[0] if len(solids) == 1 else Manifold.batch_boolean(solids, OpType.Add)


def radius_in(span: OutsideSpan, length: float) -> float:
    """The radius at a length of the run, within a span."""
    first, last = span.radii
    if first == last:
        return first
    return first + (last - first) * (length - span.start) / (span.end - span.start)


def _skin(line: Centreline, span: OutsideSpan) -> TriangleMesh:
    part = cut_out(line, span.start, span.end)
    skin = outer_skin(part, max(span.radii), CHORD_ERROR)
    first, last = span.radii
    if first == last:
        return skin.mesh
    one = replace(part, segments=part.segments[:1])
    return cone_skin(skin, replace(tube_body(one, max(span.radii), span.start), cone=span.radii)).mesh


def one_size(radius: float) -> Outside:
    """The outside of a tube of one size."""
    return Outside((OutsideSpan(-math.inf, math.inf, (radius, radius)),))


def outside_of(run: Run) -> Outside:
    """The outside of a run, which goes on with its last size."""
    if len(run.tubes) == 1:
        return one_size(run.tube.radius)
    *rest, last = outside_spans(run)
    return Outside((*rest, replace(last, end=math.inf)))


def slimmest_tube(run: Run, low: float, high: float) -> Tube:
    """The smallest tube that there is between two lengths of a run; a cone counts as the smaller tube."""
    places = growth_places(run)
    ends = [place.end if place.by == "cone" else place.start for place in places]
    first = sum(end <= low + SAME for end in ends)
    return run.tubes[first]


def grows_within(run: Run, low: float, high: float) -> bool:
    """Whether a run grows between two lengths."""
    return any(place.start < high - SAME and place.end > low + SAME for place in growth_places(run))


def refuse_growth_in_stub(run: Run, end: float, units: str) -> None:
    """Raises MockError if a run grows within what is printed on its flange plate, `end` mm from the port."""
    for place in growth_places(run):
        if place.start < end - SAME:
            grows, printed = with_unit(place.start, units), with_unit(end, units)
            raise MockError(
                f"{run.name} grows {grows} from its port, within the {printed} that are printed on the flange plate: "
                "no mock is made of that"
            )
