"""The places of a collector's bores in its plane."""

from __future__ import annotations

import math
from collections.abc import Mapping

from headergen.model import Tube
from headergen.spec.ends import CollectorEntry
from headergen.spec.models import TubeEntry

SLIDING_GAP = 0.3  # mm on each side between a slip bore and its tube


def arriving_tube(
    collectors: Mapping[str, CollectorEntry], name: str, tube: TubeEntry, last: Mapping[int, Tube]
) -> Tube | None:
    """The tube in the bores of a collector, if it is not that of the flange: an outlet, or where primaries have grown.

    `last`: the tube at the end of each primary. The caller must refuse names that are missing or form a circle.
    """
    source = next((bore for bore in collectors[name].bores if isinstance(bore, str)), None)
    if source is None:
        ends = (last[bore] for bore in collectors[name].bores if isinstance(bore, int) and bore in last)
        end = next(ends, None)
        same = end is None or (end.outside_diameter, end.wall) == (tube.outside_diameter, tube.wall)
        return None if same else end
    before, entry = arriving_tube(collectors, source, tube, last), collectors[source]
    wall = entry.wall or (before.wall if before is not None else tube.wall)
    return Tube(entry.outlet or 0.0, wall, tube.material)


def bore_places(entry: CollectorEntry, tube: TubeEntry | Tube) -> tuple[tuple[float, float], ...]:
    """[x, y] in the collector plane of bore 1, 2, 3, …, millimetres.

    square: at 45°, 135°, 225°, 315° from x. ring: at 0, 360°/n, … on a radius of pitch/(2·sin(π/n)), so that neighbours
    are a pitch apart. line: along x, with its middle on the axis.
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
    """The pitch at which neighbours touch: the tubes if welded, else slip bores of that wall and clearance."""
    if entry.join == "weld":
        return tube.outside_diameter
    wall = entry.wall if entry.wall is not None else tube.wall
    return tube.outside_diameter + 2 * (wall + sliding_gap(entry))


def sliding_gap(entry: CollectorEntry) -> float:
    """Clearance on each side between a slip bore and its tube."""
    return entry.gap if entry.gap is not None else SLIDING_GAP
