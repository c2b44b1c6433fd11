"""The ring on an outlet as DXF, for laser or waterjet: rim, bore and bolt holes, seen from the mating part.

A tapered back is turned after cutting.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

from headergen.geometry.plate.lettering import with_room
from headergen.geometry.plate.outline import Outline, circle, points_on
from headergen.model import Draft, OutletRing
from headergen.outputs.dxf.document import (
    CUT,
    SMALL,
    add_words,
    new_document,
    size_text,
    text_of,
)
from headergen.parts.kind import Seated
from headergen.parts.outlet import outlet_slope
from headergen.parts.outlet_end import EndSeat, outlet_radius

SPACING = 1.0  # mm between the points on edges that texts stay clear of


def write_ring_dxf(folder: Path, draft: Draft, parts: Sequence[tuple[Seated, str]]) -> dict[str, str]:
    """Writes the outlet ends that are rings, at finished size; a bell has no drawing.

    The same bytes for the same draft and library. Raises DrawingError if the library's audit finds a fault, OSError if
    the file cannot be written.
    """
    found = {}
    for part, stem in parts:
        if isinstance(part.seat.end, OutletRing):
            found[part.name] = f"{stem}.dxf"
            text = _ring(draft, part.seat)
            (folder / found[part.name]).write_text(text, encoding="utf-8", newline="\n")
    return found


def _ring(draft: Draft, seat: EndSeat) -> str:
    ring, merge = seat.end, seat.merge
    assert isinstance(ring, OutletRing)
    document = new_document()
    space = document.modelspace()
    # a bore that tapers with its outlet is cut to its narrow end and then turned
    bore = min(merge.end_outer, outlet_radius(merge, -ring.thickness))
    rim, *holes = ring_outlines(ring, bore)
    for outline in (rim, *holes):
        assert outline[0].centre is not None
        space.add_circle(outline[0].centre, outline[0].radius, dxfattribs={"layer": CUT})
    words = [f"{draft.job.title} {draft.job.revision}", f"ring {seat.collector.name}"]
    words += [draft.tube.material, size_text(ring.thickness, draft.units)]  # two texts: a long one has no room
    if ring.taper > 0:
        words.append(f"turn {math.degrees(ring.taper):g} deg")
    if slope := outlet_slope(merge):
        words.append(f"bore {math.degrees(math.atan(abs(slope))):.3g} deg")
    land = (0.0, (ring.outside_diameter / 2 + merge.end_outer) / 2)
    edges = [points_on(hole, SPACING) for hole in holes]
    add_words(space, with_room([(each, land) for each in words], points_on(rim, SPACING), edges, SMALL))
    return text_of(document)


def ring_outlines(ring: OutletRing, bore: float) -> tuple[Outline, ...]:
    """Rim, bore (its radius is given) and bolt holes, as whole circles about the axis of the outlet."""
    angles = [ring.turn + 2 * math.pi * k / ring.bolts for k in range(ring.bolts)]
    reach = ring.bolt_circle / 2
    holes = [circle((reach * math.cos(angle), reach * math.sin(angle)), ring.hole / 2) for angle in angles]
    return (circle((0.0, 0.0), ring.outside_diameter / 2), circle((0.0, 0.0), bore), *holes)
