"""Where the longest side of a first end is that is sawn to its lean, in words."""

from __future__ import annotations

import math

from headergen.model import LeanCut
from headergen.words.numbers import fixed, in_fractions

SEEN = "seen looking from the flange along the tube"


def said_of_longest_side(cut: LeanCut) -> str:
    """From x of the flange, and from the line of the bend in the first piece, if it has one."""
    said = f"{_turn(cut.clock, cut.radius)} from x of the flange"
    if cut.from_line is None:
        return said
    return f"{said}; {_turn(cut.from_line, cut.radius)} from the line on the outside of its first bend"


def _turn(angle: float, radius: float) -> str:
    """An angle with its way, and its arc for both rules."""
    degrees, arc = math.degrees(angle), abs(angle) * radius
    way = "" if round(degrees, 1) == 0 else " clockwise" if degrees > 0 else " counter-clockwise"
    return f"{fixed(abs(degrees), 1)}°{way}, {fixed(arc, 1)} mm or {in_fractions(arc)} in on the outside,"
