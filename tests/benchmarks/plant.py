"""Plants headers for bench_route.py: paths first, then a chassis strewn around them that they just clear.

    python tests/benchmarks/plant.py            writes tests/benchmarks/planted/*.yaml, each with its planted paths

Every file is a whole spec that `headergen check` finds clean, so that an answer is known to exist.
"""

from __future__ import annotations

import math
import re
import zlib
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.random import Generator

from headergen.checks.judge import judge
from headergen.checks.measure import survey
from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.frames import frame_from_normal, point_in
from headergen.model import (
    Bore,
    Box,
    ChassisItem,
    Collector,
    Cylinder,
    Draft,
    Flange,
    Frame,
    Header,
    Job,
    LengthTarget,
    Limits,
    Port,
    PortShape,
    Tube,
    primary_name,
)
from headergen.solve.closing import close
from headergen.solve.route.kernels.distance import solid_distance
from headergen.solve.route.obstacles import points_on_line, solid_rows
from headergen.solve.route.problem import least_length, problem_of
from headergen.solve.route.search import search
from headergen.spec.writer import spec_text
from tests.runs import primary

FOLDER = Path(__file__).parent / "planted"
RADIUS, CLEARANCE = 21.2, 12.0
LIMITS = Limits(10.0, 0.5, math.radians(0.5), 6.0, 110.0, 0.05)
# name: ports, collectors, chassis items, millimetres between what is required and what is left at the tightest
KINDS = {"four": (4, 1, 7, 14.0), "three": (3, 1, 7, 10.0), "six_two": (6, 2, 7, 14.0), "six_one": (6, 1, 5, 16.0)}
KINDS |= {"bank": (3, 1, 11, 6.0), "tight": (4, 1, 14, 3.0), "eight_one": (8, 1, 4, 20.0)}
COUNTS = {"four": 8, "three": 5, "six_two": 3, "six_one": 2, "bank": 4, "tight": 3, "eight_one": 1}


def draft_of(kind: str, chance: Generator) -> Draft:
    ports, count, _, _ = KINDS[kind]
    lean = chance.uniform(-0.3, 0.0)
    face = frame_from_normal((0.0, 0.0, 0.0), (0.0, 1.0, lean), (-1.0, 0.0, 0.0))
    spacing = chance.uniform(86.0, 112.0)
    frames = [Frame(point_in(face, (spacing * k, 0.0, 0.0)), face.x, face.y, face.z) for k in range(ports)]
    collectors = []
    for k in range(count):
        members = list(range(1 + k * ports // count, 1 + (k + 1) * ports // count))
        way = (-1.0, float(chance.uniform(-0.1, 0.15)), float(chance.uniform(-0.2, 0.1)))
        at = (
            -spacing * members[-1] - chance.uniform(60, 200),
            110.0 + 150.0 * (count - 1 - k),
            chance.uniform(-330, -210),
        )
        collectors.append(_collector(f"c{k + 1}", frame_from_normal(at, way, (0.0, 1.0, 0.0)), members, chance))
    bores = {bore.run: bore for collector in collectors for bore in collector.bores}
    holes = tuple(Port(k + 1, frame, PortShape("round", (38.0,))) for k, frame in enumerate(frames))
    return Draft(
        job=Job(kind, "A", "2026-01-01"),
        tube=Tube(2 * RADIUS, 1.5, "304L"),
        stock=None,
        flanges=(Flange(face, 10.0, (), holes),),
        collectors=tuple(collectors),
        length=LengthTarget(None, 2.0),
        runs=tuple(primary(p.number, p, bores[primary_name(p.number)], (), to_find=True) for p in holes),
        chassis=(),
        limits=LIMITS,
    )


def _collector(name: str, frame: Frame, members: list[int], chance: Generator) -> Collector:
    n = len(members)
    around = 46.0 / (2 * math.sin(math.pi / n))
    turn = chance.uniform(0, 2 * math.pi)
    order = chance.permutation(members).tolist()
    bores = []
    for k, number in enumerate(order):
        x, y = (around * f(turn + 2 * math.pi * k / n) for f in (math.cos, math.sin))
        bores.append(
            Bore(name, k + 1, primary_name(number), Frame(point_in(frame, (x, y, 0.0)), frame.x, frame.y, frame.z))
        )
    return Collector(name, frame, "slip", 40.0, tuple(bores), math.radians(10), 63.5, 60.0)


def planted(kind: str, seed: int) -> Draft:
    """Paths that hold, and a chassis around them."""
    for attempt in range(20):
        chance = np.random.default_rng([zlib.crc32(kind.encode()), seed, attempt])
        draft = draft_of(kind, chance)
        target = round(least_length(draft) * chance.uniform(1.08, 1.3))
        draft = replace(draft, length=LengthTarget(float(target), 2.0))
        problem = problem_of(draft, {})
        for found in search(problem, seed):
            if found.answers or found.rounds > 60:
                break
        if found.answers:
            return with_chassis(found.answers[-1].draft, kind, chance)
    raise RuntimeError(f"{kind} {seed} could not be planted")


def with_chassis(draft: Draft, kind: str, chance: Generator) -> Draft:
    _, _, count, room = KINDS[kind]
    header = close(draft)
    points = np.concatenate([points_on_line(line, 4.0) for line in header.centrelines])
    items: list[ChassisItem] = []
    for number in range(4000):
        item = _item(header, f"item {number + 1}", room, chance)
        row, slope = solid_rows(replace(draft, chassis=(item,), collectors=()), {})[0], np.empty(3)
        if min(solid_distance(row, point, slope) for point in points) > RADIUS + CLEARANCE + 0.2:
            items.append(item)
        if len(items) == count:
            break
    wrong = judge(survey(close(replace(draft, chassis=tuple(items))), {}, twice=False))  # sleeves, merge and flange
    hit = {match for finding in wrong for match in re.findall(r"item [0-9]+", finding.message)}
    return replace(draft, chassis=tuple(item for item in items if item.name not in hit))


def _item(header: Header, name: str, room: float, chance: Generator) -> ChassisItem:
    """A frame tube or a box beside a random place of a random tube, a little farther off than it must be."""
    line = header.centrelines[int(chance.integers(len(header.centrelines)))]
    point, tangent, normal = (np.array(v) for v in frame_at(line, chance.uniform(0.1, 0.85) * line.length))
    turn = chance.uniform(0, 2 * math.pi)
    away = math.cos(turn) * normal + math.sin(turn) * np.cross(tangent, normal)
    half = chance.uniform(10.0, 20.0)
    middle = point + away * (RADIUS + CLEARANCE + half + chance.uniform(0.3, room))
    along = np.cross(away, chance.normal(size=3))
    along /= np.linalg.norm(along)
    reach = chance.uniform(120, 450)
    start, end = middle - reach * along, middle + reach * along
    if chance.uniform() < 0.7:
        return ChassisItem(name, Cylinder(tuple(start.tolist()), tuple(end.tolist()), 2 * half), CLEARANCE)
    size = chance.uniform(60, 200)
    centre = point + away * (RADIUS + CLEARANCE + size / 2 + chance.uniform(0.3, room))
    frame = frame_from_normal(tuple(centre.tolist()), tuple(away.tolist()))
    return ChassisItem(name, Box(frame, (size, size, size)), CLEARANCE)


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    for kind, count in COUNTS.items():
        for seed in range(count):
            draft = planted(kind, seed)
            (FOLDER / f"{kind}_{seed + 1}.yaml").write_text(spec_text(close(draft)), encoding="utf-8")
            print(f"{kind} {seed + 1}: {len(draft.chassis)} items, {draft.length.target:g} mm", flush=True)


if __name__ == "__main__":
    main()
