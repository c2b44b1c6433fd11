"""How long a build plate prints: a rule fitted to sliced plates.

A printer draws lines of one width and one height, so its time goes by their length, which goes by the plastic. A wall
is laid round, line by line, with ends, corners and ways between; what is behind it is hatched, and 15 % full at that.
So the skin of a part counts beside its plastic.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from headergen.mock.part import MockPart

LAYER = 0.2  # mm; the rule was fitted to plates sliced so, as tests/mock/slicer.ini says
WITHIN = 0.25  # of the hours that a slicer says, by which the rule may be off
# least squares, relative, over nine plates of the Bogbean, printed whole and with steel straights, and four of its
# saddles, as tests/mock/slicer.ini says; they are met within 15 %
PER_VOLUME = 0.0858  # s/mm³
PER_SKIN = 0.0796  # s/mm²


@dataclass(frozen=True)
class Printed:
    """What the hours of a part go by: its plastic, mm³, and its skin, mm²."""

    volume: float
    skin: float


def printed(part: MockPart) -> Printed:
    return Printed(part.volume, part.skin)


def hours_of(parts: Iterable[Printed]) -> float:
    """Of a plate with these parts."""
    return sum(PER_VOLUME * part.volume + PER_SKIN * part.skin for part in parts) / 3600


def shared_out(hours: float, kinds: Mapping[str, Iterable[Printed]]) -> tuple[tuple[str, float], ...]:
    """These hours by kinds of parts, in proportion to what each prints for; kinds without parts are left out."""
    alone = {kind: hours_of(parts) for kind, parts in kinds.items()}
    whole = sum(alone.values())
    return tuple((kind, hours * each / whole) for kind, each in alone.items() if each)
