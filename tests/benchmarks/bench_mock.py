"""How long the fit mocks of 100 random headers take, how many plates they fill, and how parts are cut by other ways.

Times are those of the processor, the plan of the bench included.

Run by hand: python tests/benchmarks/bench_mock.py [COUNT]
"""

from __future__ import annotations

import statistics
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "mock"))

from random_headers import random_header

from headergen.geometry.curves.centreline import cut_out
from headergen.geometry.mesh.tube import outer_skin
from headergen.mock.build import make_mock
from headergen.mock.joint import fit_at, joint_frame, spigot
from headergen.mock.solid import placement, solid_of
from headergen.mock.tubes import BACK, CHORD_ERROR
from headergen.model import MockSettings


def main(count: int) -> None:
    times, parts, plates, failures = [], 0, [], 0
    for seed in range(count):
        header = random_header(seed)
        begin = time.process_time()
        try:
            mock = make_mock(header, MockSettings())
        except (ValueError, RuntimeError) as error:
            failures += 1
            print(f"seed {seed}: {error}")
            continue
        times.append((time.process_time() - begin) / len(mock.parts))
        parts += len(mock.parts)
        plates.append(max(place.plate for place in mock.placed))
    print(f"{count} random headers: {failures} failures, {parts} parts, {sum(plates)} plates (most {max(plates)})")
    joined, cad = joint_times()
    print(
        f"a part complete {1000 * statistics.median(times):.0f} ms; tube and spigot united "
        f"{1000 * joined:.1f} ms by meshes, {1000 * cad:.1f} ms by the CAD kernel, {cad / joined:.0f} times"
    )


def joint_times() -> tuple[float, float]:
    """The same union, a bent tube and its spigot's core, by both ways; seconds, the median of several."""
    from cadquery import Location, Plane, Solid, Vector

    from headergen.solids.tube import tube_solid

    header = random_header(3)
    line, tube = header.centrelines[0], header.draft.tube
    start, end = 40.0, 100.0
    fit = fit_at(line, start, tube, MockSettings(), None)
    frame, part = joint_frame(line, start), cut_out(line, start, end)
    mesh_times, cad_times = [], []
    for _ in range(7):
        begin = time.process_time()
        skin = solid_of(outer_skin(part, tube.radius, CHORD_ERROR).mesh)
        (skin + spigot(fit, BACK).transform(placement(frame))).volume()
        mesh_times.append(time.process_time() - begin)
        begin = time.process_time()
        core = Solid.makeCylinder(fit.core, fit.length + BACK, Vector(0, 0, -fit.length))
        placed = core.moved(Location(Plane(origin=frame.origin, xDir=frame.x, normal=frame.z)))
        Solid(tube_solid(part, tube.radius, fit.core - 2.0)).fuse(placed).Volume()
        cad_times.append(time.process_time() - begin)
    return statistics.median(mesh_times), statistics.median(cad_times)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
