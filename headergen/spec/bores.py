"""The places of a collector's bores in its plane."""

from __future__ import annotations

import math

from headergen.model import Tube
from headergen.spec.ends import CollectorEntry
from headergen.spec.models import TubeEntry

SLIDING_GAP = 0.3  # mm on each side between a slip bore and its tube


def bore_places(entry: CollectorEntry, tube: TubeEntry | Tube) -> tuple[tuple[float, float], ...]:
    """[x, y] in the collector plane of bore 1, 2, 3, …, millimetres.

    square: at 45°, 135°, 225°, 315° from x. ring: at 0, 360°/n, … on a radius of pitch/(2·sin(π/n)), so that neighbours
    are a pitch apart. line: along x, with its middle on the axis. Without a pitch, bores for `tube` touch each other.
    """
    count, pitch = len(entry.bores), entry.pitch or default_pitch(entry, tube)
    if not isinstance(entry.pattern, str):
        places = list(entry.pattern)
    elif entry.pattern == "line":
        places = [(pitch * (index - (count - 1) / 2), 0.0) for index in range(count)]
    else:
        first = math.pi / 4 if entry.pattern == "square" else 0.0
        radius = pitch / (2 * math.sin(math.pi / count))
        angles = [first + 2 * math.pi * index / count for index in range(count)]
        places = [(radius * math.cos(angle), radius * math.sin(angle)) for angle in angles]
    c, s = math.cos(math.radians(entry.turn)), math.sin(math.radians(entry.turn))
    return tuple((x * c - y * s, x * s + y * c) for x, y in places)


def default_pitch(entry: CollectorEntry, tube: TubeEntry | Tube) -> float:
    """The pitch at which neighbours touch: the tubes if welded, else slip bores of that wall and clearance.

    Leaning ones touch where they end in the plane.
    """
    if entry.join == "weld":
        wide = tube.outside_diameter
    else:
        wide = tube.outside_diameter + 2 * ((entry.wall if entry.wall is not None else tube.wall) + sliding_gap(entry))
    return wide * math.cos(math.radians(entry.lean or 0.0))


def sliding_gap(entry: CollectorEntry) -> float:
    """Clearance on each side between a slip bore and its tube."""
    return entry.gap if entry.gap is not None else SLIDING_GAP
