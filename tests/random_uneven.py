"""Random collectors whose merges are not of revolution, as a shop could ask for them."""

from __future__ import annotations

import math
import random
from dataclasses import replace

from headergen.geometry.frames import WORLD, tilted
from headergen.geometry.merge.design import merge_of
from headergen.geometry.merge.lobes import MergeError
from headergen.model import Bore, Collector, Frame, Tube, primary_name
from tests.random_parts import collector

KINDS = ("row", "grid", "places", "sizes", "y", "y of two sizes", "ring of eight")
Place = tuple[float, float]


def random_uneven(seed: int) -> tuple[str, Tube, Collector]:
    """Its kind, the primaries' tube, and the collector about the axes of the world.

    Half angle 7-15°, a Y leaning by 10-35°, tube 32-60 mm, wall 1.2-2 mm; a third welded, a third with tapered outlet.
    """
    rng = random.Random(seed)
    for _ in range(50):
        kind = KINDS[seed % len(KINDS)]
        tube = Tube(rng.uniform(32, 60), rng.uniform(1.2, 2.0), "304L")
        asked = _collector(rng, kind, tube)
        try:
            if not merge_of(tube, asked).is_closed:
                continue  # it needs a spike to be tight
        except MergeError:
            continue
        return kind, tube, asked
    raise AssertionError("no merge in fifty tries")


def _collector(rng: random.Random, kind: str, tube: Tube) -> Collector:
    join = rng.choice(["slip", "slip", "weld"])
    lean = math.radians(rng.uniform(10, 35)) if kind.startswith("y") else 0.0
    other = Tube(tube.outside_diameter * rng.uniform(0.75, 0.92), tube.wall, tube.material)
    places, tubes = _places(rng, kind, (tube, other), 2 * (0.3 + tube.wall) if join == "slip" else 0.0, lean)
    area = sum((each.radius - each.wall) ** 2 for each in tubes)
    share = rng.uniform(0.55, 0.7) if kind == "ring of eight" else rng.uniform(0.7, 0.95)
    outlet = 2 * math.sqrt(area) * share + 2 * tube.wall
    base = collector(tube, 2, math.degrees(lean) or rng.uniform(7, 15), outlet, None, join)
    two_sizes = len(set(tubes)) > 1
    bores = tuple(
        Bore("main", k, primary_name(k), _frame(place, lean), tube=each if two_sizes else None)
        for k, (place, each) in enumerate(zip(places, tubes, strict=True), 1)
    )
    spiked = rng.random() < 0.4
    taper = rng.choice([None, None, outlet * rng.uniform(0.9, 1.25)])
    slip = rng.uniform(30, 45) if base.slip else 0.0
    return replace(base, bores=bores, lean=lean, spike=spiked, outlet_to=taper, slip=slip)


def _frame(place: Place, lean: float) -> Frame:
    frame = Frame((*place, 0.0), WORLD.x, WORLD.y, WORLD.z)
    return tilted(frame, lean, math.atan2(-place[1], -place[0])) if lean else frame


def _places(
    rng: random.Random, kind: str, sizes: tuple[Tube, Tube], more: float, lean: float
) -> tuple[list[Place], list[Tube]]:
    tube, other = sizes
    gap = rng.choice([0.0, 0.0, rng.uniform(0, 6)])
    pitch = tube.outside_diameter + more + gap
    if kind == "row":
        count = rng.randint(3, 5)
        return [(pitch * (k - (count - 1) / 2), 0.0) for k in range(count)], [tube] * count
    if kind == "grid":
        across, high = rng.choice([2, 3, 4]), pitch + rng.choice([0.0, 3.0])
        places = [(pitch * (a - (across - 1) / 2), high * (b - 0.5)) for a in range(across) for b in range(2)]
        return [(x, y + (2.0 if x > 0 else 0.0)) for x, y in places], [tube] * len(places)
    if kind.startswith("y"):
        half = pitch / 2 * math.cos(lean)
        return [(half, 0.0), (-half, 0.0)], [tube, other if "two" in kind else tube]
    if kind == "ring of eight":
        ring = pitch / (2 * math.sin(math.pi / 8))
        return [(ring * math.cos(k * math.pi / 4), ring * math.sin(k * math.pi / 4)) for k in range(8)], [tube] * 8
    tubes = [tube if kind == "places" or rng.random() < 0.5 else other for _ in range(rng.randint(3, 8))]
    return _cluster(rng, [each.outside_diameter + more + gap for each in tubes]), tubes


def _cluster(rng: random.Random, widths: list[float]) -> list[Place]:
    """Places near each other, at random, for round things of these widths; their middle is at zero."""
    places = list[Place]()
    while len(places) < len(widths):
        wide, tried = widths[len(places)], [(rng.gauss(0, 90.0), rng.gauss(0, 90.0)) for _ in range(80)]
        room = [
            place
            for place in tried
            if all(math.dist(place, other) >= (wide + its) / 2 for other, its in zip(places, widths, strict=False))
        ]
        if room:
            places.append(min(room, key=lambda place: math.hypot(*place)))
    x, y = (sum(values) / len(places) for values in zip(*places, strict=True))
    return [(a - x, b - y) for a, b in places]
