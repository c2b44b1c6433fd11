"""Bolts shared by two flange plates: the ear of one is in a hollow under the other, and both have the hole.

The lower ear's sides slope inward as much as the printer allows, and so does the hollow's roof: both plates print face
down without support, and the level strip in the middle of the roof is a short bridge.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from manifold3d import CrossSection, Manifold

from headergen.mock.tubes import THROUGH
from headergen.model import Bolt, Vec2

APART = 0.5  # mm between two plates
RIM = 3.0  # mm, the least rim of the lower ear round the bolt hole, on the face
BRIDGE = 7.8  # mm of level roof that a printer can bridge
WALL = 3.0  # mm of the upper plate round the hollow
ROOF = 2.5  # mm, the least thickness of the upper plate over the hollow
STEEPEST = math.radians(45)  # the sides' lean from vertical, even if the printer allows more
SIDES = 48


@dataclass(frozen=True)
class Lap:
    """A shared bolt: the lower ear's radius on the face, its height, and its taper per mm of height.

    It comes from `toward`, the centre of a port of the lower plate.
    """

    bolt: Bolt
    toward: Vec2
    base: float
    height: float
    slope: float

    @property
    def outer(self) -> float:
        """Radius of the upper plate round the bolt."""
        return self.base + APART + WALL


def lap_at(bolt: Bolt, toward: Vec2, thickness: float, lean: float) -> Lap | None:
    """The lap at a bolt; half the plate thickness high if its roof can be bridged; None in too thin a plate."""
    slope = math.tan(min(lean, STEEPEST))
    base = max(bolt.hole / 2 + RIM, BRIDGE / 2 + slope * thickness / 2)
    height = (base - BRIDGE / 2) / slope
    if thickness - height - APART / slope < ROOF:
        return None
    return Lap(bolt, toward, base, height, slope)


def ear(lap: Lap) -> Manifold:
    """The lower ear, in the flange's axes, from below the face; it overlaps its own plate."""
    return _swept(lap, 0.0)


def hollow(lap: Lap) -> Manifold:
    """The hollow of the upper plate for the ear, its roof no wider than the ear's top."""
    return _swept(lap, APART)


def _swept(lap: Lap, room: float) -> Manifold:
    low, high = -THROUGH, lap.height + room / lap.slope
    wide, narrow = (lap.base + room - lap.slope * at for at in (low, high))
    cone = Manifold.cylinder(high - low, wide, narrow, SIDES).translate((0.0, 0.0, low))
    return Manifold.batch_hull([cone.translate((*spot, 0.0)) for spot in (lap.bolt.at, lap.toward)])


def hollow_on_face(lap: Lap) -> CrossSection:
    """The area that the hollow removes from the upper plate's face, seen from above."""
    circle = CrossSection.circle(lap.base + APART, SIDES)
    return CrossSection.batch_hull([circle.translate(spot) for spot in (lap.bolt.at, lap.toward)])


def upper_round(lap: Lap) -> CrossSection:
    """The upper plate round the bolt, seen from above."""
    return CrossSection.circle(lap.outer, SIDES).translate(lap.bolt.at)


def neck(lap: Lap, ring: float) -> CrossSection:
    """The connection from the lower ear to the ring round its port, seen from above, with the ear."""
    ends = [CrossSection.circle(ring, SIDES).translate(lap.toward)]
    return CrossSection.batch_hull([*ends, CrossSection.circle(lap.base, SIDES).translate(lap.bolt.at)])
