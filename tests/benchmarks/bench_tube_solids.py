"""Time for the solids of eight primaries, beside a general sweep of the same tubes by the same kernel.

Run: python tests/benchmarks/bench_tube_solids.py
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from typing import Any

import cadquery as cq

from headergen.geometry.curves.centreline import frame_on, trace
from headergen.geometry.frames import WORLD
from headergen.model import Arc, Bend, Centreline, Segment, Straight
from headergen.solids.inspect import measure, tube_volume
from headergen.solids.tube import tube_solid

OUTER, INNER = 21.2, 19.7  # mm: 42.4 × 1.5
CLR = 63.6  # mm
LEAST_RATIO = 20.0


def primary(number: int) -> Centreline:
    """A plausible primary: out of the port, over, round and down to the collector, each a little different."""
    steps = (
        Straight(45.0 + 4 * number),
        Bend(math.radians(55 + 3 * number), CLR, math.radians(20 * number)),
        Straight(60.0 + 9 * number),
        Bend(math.radians(70 - 2 * number), CLR, math.radians(95 - 11 * number)),
        Straight(110.0 - 6 * number),
        Bend(math.radians(30 + number), CLR, math.radians(-60 + 7 * number)),
        Straight(80.0),
    )
    return trace(WORLD, steps, number)


def chained(centreline: Centreline) -> Any:
    return tube_solid(centreline, OUTER, INNER)


def swept(centreline: Centreline) -> Any:
    first = centreline.segments[0]
    plane = cq.Plane(origin=first.start, xDir=first.normal, normal=first.tangent)
    wire = cq.Wire.assembleEdges([_edge(segment) for segment in centreline.segments])
    path = cq.Workplane("XY").newObject([wire])
    return cq.Workplane(plane).circle(OUTER).circle(INNER).sweep(path).val().wrapped


def _edge(segment: Segment) -> cq.Edge:
    start, middle, end = (cq.Vector(*frame_on(segment, segment.length * part)[0]) for part in (0.0, 0.5, 1.0))
    if isinstance(segment, Arc):
        return cq.Edge.makeThreePointArc(start, middle, end)
    return cq.Edge.makeLine(start, end)


def timed(make: Callable[[Centreline], Any], paths: list[Centreline]) -> float:
    """Seconds for all paths; every solid must hold the right volume, or the time means nothing."""
    begin = time.perf_counter()
    solids = [make(path) for path in paths]
    seconds = time.perf_counter() - begin
    for solid, path in zip(solids, paths, strict=True):
        expected = tube_volume(path, OUTER, INNER)
        if abs(abs(measure(solid).volume) / expected - 1) > 1e-3:
            raise SystemExit(f"{make.__name__}: primary {path.run} has the wrong volume")
    return seconds


def main() -> None:
    paths = [primary(number) for number in range(1, 9)]
    chained(paths[0])  # the kernel's first call of each kind loads tables
    swept(paths[0])
    ours = min(timed(chained, paths) for _ in range(3))
    sweep = min(timed(swept, paths) for _ in range(3))
    print("eight primaries, four straights and three bends each, in one process, best of three")
    print(f"  tube_solid       {ours * 1000:9.1f} ms")
    print(f"  Workplane.sweep  {sweep * 1000:9.1f} ms")
    print(f"  ratio            {sweep / ours:9.1f}    (at least {LEAST_RATIO:g} is wanted)")
    if sweep < LEAST_RATIO * ours:
        raise SystemExit("too slow")


if __name__ == "__main__":
    main()
