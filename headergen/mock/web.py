"""What a flat plate keeps of its area: discs round what goes through it, and bars between them.

Printed, a plate takes its time for its outline and for the solid layers of its faces, so what does no work is left out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from manifold3d import CrossSection, JoinType, OpType

from headergen.geometry.arrays import polygon_area
from headergen.mock.joint import SIDES
from headergen.model import Vec2

BAR = 14.0  # mm, the width of a bar
WINDOW = 300.0  # mm²; a smaller one takes longer to go round than to fill
FILLED = 3.0  # mm; half the width of gaps that are not worth their outline


@dataclass(frozen=True)
class Disc:
    """Round what goes through a plate: its middle and radius."""

    at: Vec2
    radius: float


def open_web(
    plate: CrossSection,
    discs: Sequence[Disc],
    bars: Sequence[tuple[Vec2, Vec2]],
    kept: Sequence[CrossSection],
    holes: Sequence[CrossSection] = (),
) -> CrossSection:
    """The discs, the bars and what else is `kept`, within the plate; all of it, if that would fall apart, `holes` cut
    out."""
    parts = [CrossSection.circle(disc.radius, SIDES).translate(disc.at) for disc in discs]
    parts += [_bar(*ends) for ends in bars]
    web = CrossSection.batch_boolean([*parts, *kept], OpType.Add)
    for by in (FILLED, -FILLED):
        web = web.offset(by, JoinType.Round, circular_segments=48)
    web = _without_small_windows(web) ^ plate
    bored = CrossSection.batch_boolean([web, *holes], OpType.Subtract)
    return web if len(bored.decompose()) == 1 else plate


def bars_from(at: Vec2, spots: Sequence[Vec2], within: float) -> list[tuple[Vec2, Vec2]]:
    """Bars from a place to the nearest of some spots, and to those no farther than `within` times as far."""
    least = min(math.dist(at, spot) for spot in spots)
    return [(at, spot) for spot in spots if math.dist(at, spot) <= within * least]


def _without_small_windows(web: CrossSection) -> CrossSection:
    """Outlines run round holes the other way: their area counts as negative."""
    polygons = web.to_polygons()
    return CrossSection([each for each in polygons if not 0.0 < -polygon_area(each) < WINDOW])


def label(at: Vec2, size: Vec2) -> CrossSection:
    """Room for a text."""
    return CrossSection.square(size, True).translate(at)


def _bar(start: Vec2, end: Vec2) -> CrossSection:
    return CrossSection.batch_hull([CrossSection.circle(BAR / 2, 24).translate(each) for each in (start, end)])
