"""Random collectors and flanges that a shop could ask for, and small made-up ones for single questions."""

from __future__ import annotations

import math
import random

from headergen.geometry.frames import WORLD, frame_from_normal, point_in, tilted
from headergen.model import Bolt, Bore, Collector, Flange, Frame, Port, PortShape, Tube, Vec, primary_name

TUBE = Tube(42.4, 1.5, "304L")


def collector(
    tube: Tube,
    count: int,
    half_angle: float,
    outlet: float,
    pitch: float | None = None,
    join: str = "slip",
    frame: Frame = WORLD,
) -> Collector:
    """Bores on a ring, touching unless a pitch is given; half angle in degrees."""
    outer = tube.radius + (0.3 + tube.wall if join == "slip" else 0.0)
    ring = (pitch if pitch is not None else 2 * outer) / (2 * math.sin(math.pi / count))
    angles = [2 * math.pi * k / count for k in range(count)]
    at = [point_in(frame, (ring * math.cos(angle), ring * math.sin(angle), 0.0)) for angle in angles]
    bores = tuple(
        Bore("main", k, primary_name(k), Frame(place, frame.x, frame.y, frame.z)) for k, place in enumerate(at, 1)
    )
    return Collector(
        name="main",
        frame=frame,
        join="weld" if join == "weld" else "slip",
        slip=40.0 if join == "slip" else 0.0,
        bores=bores,
        half_angle=math.radians(half_angle),
        outlet=outlet,
        outlet_length=50.0,
        spike=count > 2,
    )


def random_collector(seed: int) -> tuple[Tube, Collector]:
    """2 to 6 bores, half angle 7–15°, tube 32–60 mm, wall 1.2–2 mm; the outlet has about half of the bores' area."""
    rng = random.Random(seed)
    count, half_angle = rng.randint(2, 6), rng.uniform(7, 15)
    tube = Tube(rng.uniform(32, 60), rng.uniform(1.2, 2.0), "304L")
    join = rng.choice(["slip", "slip", "weld"])
    outer = tube.radius + (0.3 + tube.wall if join == "slip" else 0.0)
    pitch = 2 * outer + rng.choice([0.0, 0.0, rng.uniform(0, 8)])
    outlet = 2 * (tube.radius - tube.wall) * math.sqrt(count) * rng.uniform(0.7, 1.0) + 2 * tube.wall
    return tube, collector(tube, count, half_angle, outlet, pitch, join, _somewhere(rng))


def random_flange(seed: int) -> Flange:
    """1 to 6 ports of any shape, some turned, some leaning, some with a transition; bolts between them."""
    rng = random.Random(seed)
    frame, pitch = _somewhere(rng), rng.uniform(95, 125)
    count = rng.randint(1, 6)
    ports = tuple(_random_port(rng, number, frame, pitch) for number in range(1, count + 1))
    places = [(pitch * (k - 0.5), side * rng.uniform(22, 36)) for k in range(count + 1) for side in (-1, 1)]
    bolts = tuple(Bolt(place, rng.choice([8.5, 10.5])) for place in places if rng.random() < 0.8)
    return Flange(
        frame=frame,
        thickness=rng.uniform(6, 14),
        bolts=bolts or (Bolt(places[0], 8.5),),
        ports=ports,
        margin=rng.uniform(8, 16),
        seat=rng.choice(["socket", "butt"]),  # type: ignore[arg-type]
        relief=rng.choice([0.0, 8.0]),
    )


def _random_port(rng: random.Random, number: int, face: Frame, pitch: float) -> Port:
    kind = rng.choice(["round", "oval", "rectangle", "d", "free"])
    width, height, corner = rng.uniform(28, 46), rng.uniform(26, 42), rng.choice([0.0, rng.uniform(1, 12)])
    size = {"round": (width,), "oval": (width, height), "free": ()}.get(kind, (width, height, corner))
    points: tuple[tuple[float, float], ...] = ()
    if kind == "free":
        sides = rng.randint(3, 8)
        angles = [2 * math.pi * (k + rng.uniform(0.0, min(0.7, 0.45 * sides - 1.0))) / sides for k in range(sides)]
        points = tuple((width / 2 * math.cos(angle), height / 2 * math.sin(angle)) for angle in angles)
    at = point_in(face, (pitch * (number - 1), rng.uniform(-5, 5), 0.0))
    frame = Frame(at, face.x, face.y, face.z)
    if rng.random() < 0.15:
        frame = tilted(frame, rng.uniform(0.02, 0.3), rng.uniform(0, 6))
    shape = PortShape(kind, size, points, rng.choice([0.0, rng.uniform(-1, 1)]))  # type: ignore[arg-type]
    return Port(number, frame, shape, rng.choice([0.0, 40.0]))


def _somewhere(rng: random.Random) -> Frame:
    origin: Vec = (rng.uniform(-900, 900), rng.uniform(-900, 900), rng.uniform(-400, 400))
    return frame_from_normal(origin, (rng.gauss(0, 1), rng.gauss(0, 1), rng.gauss(0, 1)), (0.3, 0.5, 0.8))
