"""Headers whose tubes touch at the collector, as those of a welded merge do: pitch and diameter are one."""

from __future__ import annotations

import math

from headergen.geometry.curves.centreline import trace
from headergen.model import (
    Bore,
    Collector,
    Draft,
    Flange,
    Frame,
    Header,
    Job,
    LengthTarget,
    Limits,
    Port,
    PortShape,
    Straight,
    Tube,
    primary_name,
)
from tests.runs import primary

TUBE = Tube(42.4, 1.5, "304L")
LENGTH = 200.0
AXES = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))


def ring(count: int, pitch: float) -> list[tuple[float, float]]:
    reach = pitch / 2 / math.sin(math.pi / count)
    turns = [2 * math.pi * k / count for k in range(count)]
    return [(reach * math.cos(turn), reach * math.sin(turn)) for turn in turns]


def row(count: int, pitch: float) -> list[tuple[float, float]]:
    return [(pitch * (k - (count - 1) / 2), 0.0) for k in range(count)]


def bundle(places: list[tuple[float, float]], half_angle: float | None = None) -> Header:
    """Straight tubes side by side from ports to bores, with a merge where there is a half angle."""
    ports, primaries, lines, bores = [], [], [], []
    for number, (x, y) in enumerate(places, 1):
        start, end = (Frame((x, y, z), *AXES) for z in (0.0, LENGTH))
        ports.append(Port(number, start, PortShape("round", (39.0,))))
        bores.append(Bore("main", number, primary_name(number), end))
        steps = (Straight(LENGTH),)
        primaries.append(primary(number, ports[-1], bores[-1], steps))
        lines.append(trace(start, steps, primary_name(number)))
    merge = {} if half_angle is None else {"half_angle": half_angle, "outlet": 54.0, "outlet_length": 60.0}
    collector = Collector("main", Frame((0.0, 0.0, LENGTH), *AXES), "weld", 0.0, tuple(bores), **merge)  # type: ignore[arg-type]
    draft = Draft(
        job=Job("Bundle", "A", "2026-01-01"),
        tube=TUBE,
        stock=None,
        flanges=(Flange(Frame((0.0, 0.0, 0.0), *AXES), 10.0, (), tuple(ports)),),
        collectors=(collector,),
        length=LengthTarget(None, 3.0),
        runs=tuple(primaries),
        chassis=(),
        limits=Limits(0.0, 0.5, 0.0087, 5.0, 110.0, 0.05),
    )
    return Header(draft, tuple(primaries), tuple(lines))
