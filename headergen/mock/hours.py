"""How long a build plate prints: a rule fitted to sliced plates.

A printer draws lines of one width and one height, so its time goes by their length, which goes by the plastic; each
layer of each part begins and ends lines, and between the parts of a plate there is a way in every layer.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from headergen.mock.part import MockPart

LAYER = 0.2  # mm; the rule was fitted to plates sliced so, as tests/mock/slicer.ini says
WITHIN = 0.25  # of the hours that a slicer says, by which the rule may be off
# least squares over six plates of the Bogbean, printed whole and with steel straights, and two of its saddles, as
# tests/mock/slicer.ini says; they are met within 13 %
PER_VOLUME = 0.098  # s/mm³: the lines
PER_LAYER = 3.8  # s: its seams
PER_CHANGE = 1.0  # s: the way to the next part and back


@dataclass(frozen=True)
class Printed:
    """What the hours of a part go by: its plastic, mm³, and its layers."""

    volume: float
    layers: float


def printed(part: MockPart) -> Printed:
    return Printed(part.volume, part.size[2] / LAYER)


def hours_of(parts: Iterable[Printed]) -> float:
    """Of a plate with these parts."""
    found = list(parts)
    layers = sum(part.layers for part in found)
    changes = layers - max((part.layers for part in found), default=0.0)
    return (PER_VOLUME * sum(part.volume for part in found) + PER_LAYER * layers + PER_CHANGE * changes) / 3600


def shared_out(hours: float, kinds: Mapping[str, Iterable[Printed]]) -> tuple[tuple[str, float], ...]:
    """These hours by kinds of parts, in proportion to what each prints for; kinds without parts are left out."""
    alone = {kind: sum(hours_of([part]) for part in parts) for kind, parts in kinds.items()}
    whole = sum(alone.values())
    return tuple((kind, hours * each / whole) for kind, each in alone.items() if each)
