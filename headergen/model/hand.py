"""How good a hand is, and what comes of it: spreads of what it does, and where its errors are closed out."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class HandSettings:
    """Spreads (one standard deviation) of what a hand does, and what it may do at a closing joint.

    The defaults are common practice, until the shop says otherwise. How far a weld shrinks is `ShopSettings.shrinkage`;
    here is by how much that varies. The room of a tube in its sleeve is `Collector.gap`.
    """

    clocking: float = math.radians(0.5)  # of a bend's plane against the one before, or the flange's x
    square: float = math.radians(0.25)  # of a joint, about either axis across the tube
    bend: float = math.radians(0.5)  # of the angle of a bend
    length: float = 0.5  # of a piece
    radius: float = 0.005  # of the centre-line radius, a share of it
    shrinkage: float = 0.15  # of a joint, beside what it shrinks in the mean
    saddle: float = math.radians(0.15)  # of clocking and squareness where saddles hold the pieces
    spring: float = 1.0  # by which a tube may be pressed over to meet another
    turn: float = math.radians(3.0)  # of an end piece in its sleeve, either way
    kink: float = math.radians(3.0)  # between the two tubes at the closing joint
    step: float = 0.5  # from skin to skin there, once it is pressed over
    spare: float = 15.0  # by which an end piece may slide in its sleeve, either way, and that may be left on
