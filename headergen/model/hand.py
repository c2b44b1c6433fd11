"""The accuracy of a fabricator's hand: the spreads of its errors, and where they are closed out."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class HandSettings:
    """Spreads (one standard deviation) of a hand's work, and the limits at a closing joint.

    The defaults are common practice, until the shop gives its own. The mean shrinkage of a weld is
    `ShopSettings.shrinkage`; here is its spread. The clearance of a tube in its sleeve is `Collector.gap`.
    """

    clocking: float = math.radians(0.5)  # of a bend's plane against the plane before, or the flange's x
    square: float = math.radians(0.25)  # of a joint, about either axis across the tube
    bend: float = math.radians(0.5)  # of the angle of a bend
    length: float = 0.5  # of a piece
    radius: float = 0.005  # of the centre-line radius, as a share of it
    shrinkage: float = 0.15  # of a joint, about its mean shrinkage
    saddle: float = math.radians(0.15)  # of clocking and squareness where saddles hold the pieces
    spring: float = 1.0  # by which a tube may be sprung sideways to meet another
    turn: float = math.radians(3.0)  # of an end piece in its sleeve, in either direction
    kink: float = math.radians(3.0)  # between the two tubes at the closing joint
    step: float = 0.5  # from skin to skin there, once it is sprung into place
    spare: float = 15.0  # by which an end piece may slide in its sleeve in either direction, and that may be left on
