"""The openings of locating plates, and the sideways play of a tube in them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from manifold3d import CrossSection, JoinType

from headergen.geometry.mesh.triangles import Points
from headergen.geometry.plate.outline import points_on
from headergen.geometry.plate.united import Opening, openings_of
from headergen.mock.joint import SIDES
from headergen.model import PlateHole

SPACING = 0.5  # mm of chords along an opening; 0.002 mm off on a hole for a tube of 42 mm


def section_of(opening: Opening) -> CrossSection:
    return CrossSection([points_on(opening.outline, SPACING)])


def play(holes: Sequence[PlateHole], gap: float) -> float:
    """The largest sideways play of a tube, mm; each hole of a tube is wider than it by twice the gap.

    In an opening of several tubes the others hold it, and each of these may move by the gap.
    """
    most = 2 * gap
    for opening in openings_of(holes):
        for k in opening.holes if len(opening.holes) > 1 else ():
            others, wide = [holes[other] for other in opening.holes if other != k], holes[k].diameter - 2 * gap
            room = section_of(opening).offset(-wide / 2, JoinType.Round, circular_segments=SIDES)
            for other in others:
                reach = (wide + other.diameter) / 2 - 2 * gap
                room = room - CrossSection.circle(reach, SIDES).translate(other.at)
            most = max(most, _across(_part_round(room, holes[k].at)))
    return most


def _part_round(room: CrossSection, at: tuple[float, float]) -> Points:
    """(n, 2) the outline of the part of a section nearest to a point; the point itself if there is none."""
    parts = [np.concatenate(part.to_polygons()) for part in room.decompose() if not part.is_empty()] or [np.array([at])]
    return min(parts, key=lambda corners: float(np.linalg.norm(corners - at, axis=1).min()))


def _across(corners: Points) -> float:
    return float(np.linalg.norm(corners[:, None] - corners[None], axis=2).max())
