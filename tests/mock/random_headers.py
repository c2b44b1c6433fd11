"""Headers that a shop could bend, drawn from a seed: any paths, each to a bore where it happens to end."""

from __future__ import annotations

import math
import random

from headergen.geometry.curves.body import tube_body
from headergen.geometry.curves.centreline import frame_at, frame_on, trace
from headergen.geometry.curves.own_crossing import nearest_own_places
from headergen.geometry.frames import any_normal, cross, dot, frame_from_normal, point_in, subtract, tilted
from headergen.model import (
    Bend,
    Bolt,
    Bore,
    Centreline,
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
    Step,
    Straight,
    Tube,
    primary_name,
)
from tests.runs import primary

SIZES = ((31.8, 1.5), (38.1, 1.651), (42.4, 1.5), (48.3, 2.0), (60.3, 2.0))  # OD, wall in mm


def random_header(seed: int) -> Header:
    rng = random.Random(seed)
    tube = Tube(*rng.choice(SIZES), "304L")
    normal, x = (tuple(rng.gauss(0, 1) for _ in range(3)) for _ in range(2))
    face = frame_from_normal((rng.uniform(-500, 500), 0.0, 0.0), normal, x)  # type: ignore[arg-type]
    count, pitch = rng.randint(1, 4), tube.outside_diameter + rng.uniform(25, 70)
    ports, primaries, lines, bores = [], [], [], []
    for number in range(1, count + 1):
        at = point_in(face, (pitch * (number - 1), rng.uniform(-5, 5), 0.0))
        frame = Frame(at, face.x, face.y, face.z)
        if rng.random() < 0.3:
            frame = tilted(frame, math.radians(rng.uniform(2, 20)), rng.uniform(0, 6))
        line, steps = _line(rng, (frame, face), tube, number)
        point, tangent, _ = frame_on(line.segments[-1], line.segments[-1].length)
        side = any_normal(tangent)
        ports.append(Port(number, frame, PortShape("round", (0.85 * tube.outside_diameter,))))
        bores.append(Bore("main", number, primary_name(number), Frame(point, side, cross(tangent, side), tangent)))
        primaries.append(primary(number, ports[-1], bores[-1], steps, tube))
        lines.append(line)
    bolts = [Bolt((pitch * (k - 0.5), sign * 28.0), 8.5) for k in range(count + 1) for sign in (1, -1)]
    collector = Collector("main", bores[0].frame, "weld", 0.0, tuple(bores))
    draft = Draft(
        job=Job(f"Drawn {seed}", "A", "2026-01-01"),
        tube=tube,
        stock=None,
        flanges=(Flange(face, rng.choice([8.0, 10.0, 12.7]), tuple(bolts), tuple(ports)),),
        collectors=(collector,),
        length=LengthTarget(None, 3.0),
        runs=tuple(primaries),
        chassis=(),
        limits=Limits(0.0, 0.5, 0.0087, 5.0, 110.0, 0.05),
    )
    return Header(draft, tuple(primaries), tuple(lines))


def _line(
    rng: random.Random, start: tuple[Frame, Frame], tube: Tube, number: int
) -> tuple[Centreline, tuple[Step, ...]]:
    frame, face = start
    while True:
        steps = _steps(rng, tube.outside_diameter)
        line = trace(frame, steps, primary_name(number))
        own = nearest_own_places(tube_body(line, tube.radius))
        away = [dot(subtract(frame_at(line, at)[0], face.origin), face.z) for at in range(90, int(line.length), 5)]
        if min(away, default=0.0) < tube.outside_diameter:
            continue  # back into the flange
        if line.length > 120 and (own is None or own[2] > tube.outside_diameter + 2):
            return line, steps


def _steps(rng: random.Random, diameter: float) -> tuple[Step, ...]:
    """Bends on bends, half turns, bends of 0.1°, straights from 0.1 µm to half a metre, radii from one diameter."""
    steps: list[Step] = [Straight(rng.choice([1e-4, 5, rng.uniform(5, 120), rng.uniform(5, 120)]))]
    for _ in range(rng.randint(0, 5)):
        angle = rng.choice([rng.uniform(5, 120), rng.uniform(5, 120), 45, 90, 180, 0.1])
        radius = diameter * rng.choice([1.0, 1.5, 1.5, 2.0, 3.0])
        steps.append(Bend(math.radians(angle), radius, math.radians(rng.choice([0, 90, 180, rng.uniform(-180, 180)]))))
        straight = rng.choice([0, 1e-4, 0.01, 8, rng.uniform(5, 120), rng.uniform(5, 520)])
        if straight:
            steps.append(Straight(straight))
    if len(steps) == 1:
        steps.append(Straight(rng.uniform(150, 600)))
    return tuple(steps)
