"""Time for every solid of a vee eight's two headers, and how much of it the kernel itself takes.

Eight primaries, two flanges, eight transitions, two collectors with their spikes, two bosses; checked, meshed, written
as STEP and STL, in a process of its own from the first import on. Of parts that are equal in a header one is made, and
set up where the others belong: how many were made is counted by the calls of what makes them.

Run: python tests/benchmarks/bench_parts.py
"""

from __future__ import annotations

import cProfile
import math
import pstats
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

LEAST_SHARE = 0.60
BANKS = 2


def bank_header() -> object:
    """Four primaries out of D ports on a row, over and into one collector."""
    from headergen.geometry.curves.centreline import frame_at, trace
    from headergen.geometry.frames import WORLD, frame_from_normal
    from headergen.model import (
        Bend,
        Bolt,
        Boss,
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
    )
    from tests.random_parts import TUBE, collector
    from tests.runs import primary

    face = frame_from_normal((0.0, 0.0, 0.0), (0.0, 1.0, 0.0), (1.0, 0.0, 0.0))
    shape = PortShape("d", (38.0, 36.0, 5.0))
    frames = [Frame((100.0 * k, 0.0, 0.0), face.x, face.y, face.z) for k in range(4)]
    ports = tuple(Port(k, frame, shape, 40.0) for k, frame in enumerate(frames, 1))
    bolts = tuple(Bolt((100.0 * k - 50, side * 32.0), 8.5) for k in range(5) for side in (-1, 1))
    down = Frame((150.0, 400.0, -400.0), WORLD.x, (0.0, -1.0, 0.0), (0.0, 0.0, -1.0))
    merge = replace(collector(TUBE, 4, 10.0, 63.5, frame=down), spike=True)
    steps = (Straight(90.0), Bend(math.radians(70), 63.5, 0.3), Straight(80.0), Bend(math.radians(40), 63.5, 1.2))
    lines = tuple(trace(port.frame, (*steps, Straight(90.0 + 5 * port.number)), port.number) for port in ports)
    assert all(frame_at(line, line.length) for line in lines)
    primaries = tuple(primary(p.number, p, merge.bores[p.number - 1], steps) for p in ports)
    draft = Draft(
        job=Job("Bench", "A", "2026-01-01"),
        tube=TUBE,
        stock=None,
        flanges=(Flange(face, 10.0, bolts, ports, relief=8.0),),
        collectors=(merge,),
        length=LengthTarget(None, 3.0),
        runs=primaries,
        chassis=(),
        limits=Limits(0.0, 0.5, 0.01, 5.0, 100.0, 0.05),
        bosses=(Boss("sensor", "main", 25.0, 0.4, 28.0, 14.0, 16.5, True),),
    )
    return Header(draft, primaries, lines)


def build_both(folder: Path) -> int:
    """Both banks, as `build` makes each; the number of parts."""
    from headergen.geometry.mesh.tube import tube_mesh
    from headergen.outputs.stl import write_stl
    from headergen.solids.build import make_parts

    count = 0
    for bank in range(BANKS):
        target = folder / str(bank)
        target.mkdir()
        header = bank_header()
        made, overlaps = make_parts(header, target, lambda *_: None)  # type: ignore[arg-type]
        if overlaps and any(not name.startswith("primary") for each in overlaps for name in each.parts):
            raise SystemExit(f"parts share metal: {overlaps}")
        for part in made:
            mesh = part.mesh or tube_mesh(part.line, 21.2, 19.7, 0.05)  # type: ignore[arg-type]
            write_stl(target / f"{part.name}.stl", mesh, part.name, 0.05)
        count += len(made)
    return count


KINDS = ("transition", "merge", "spike", "boss")  # that a header may hold more than one of


def profiled(folder: Path) -> tuple[float, float, dict[str, float], dict[str, int]]:
    """Seconds in all, with imports; seconds inside kernel calls; those by call; how many parts of a kind were made.

    Profiling slows all but the kernel.
    """
    profile = cProfile.Profile()
    begin = time.perf_counter()
    profile.enable()
    build_both(folder)
    profile.disable()
    whole = time.perf_counter() - begin
    inside: dict[str, float] = {}
    made: dict[str, int] = {}
    for (file, _, name), (_, count, own, _, _) in pstats.Stats(profile).stats.items():  # type: ignore[attr-defined]
        if file == "~" and ("OCP" in name or "PyCapsule" in name or "pybind" in name or "nanobind" in name):
            inside[name] = inside.get(name, 0.0) + own
        if name.removesuffix("_solid") in KINDS and name.endswith("_solid"):
            made[name.removesuffix("_solid")] = count
    return whole, sum(inside.values()), inside, made


def main() -> None:
    root = Path(__file__).resolve().parents[2]
    sys.path.insert(0, str(root))
    if len(sys.argv) > 1:
        print(build_both(Path(sys.argv[1])))
        return
    with tempfile.TemporaryDirectory() as scratch:
        begin = time.perf_counter()
        (Path(scratch) / "bare").mkdir()
        done = subprocess.run(
            [sys.executable, __file__, str(Path(scratch) / "bare")],
            check=True,
            capture_output=True,
            text=True,
            cwd=root,
        )
        whole = time.perf_counter() - begin
        start = time.perf_counter()
        subprocess.run([sys.executable, "-c", "import headergen.solids.build"], check=True, cwd=root)
        imports = time.perf_counter() - start
        (Path(scratch) / "profiled").mkdir()
        seconds, kernel, calls, made = profiled(Path(scratch) / "profiled")
    share = kernel / seconds
    print(f"two headers of a vee eight, {done.stdout.strip()} parts, in a process of its own")
    print(f"  whole process    {whole:7.2f} s   of which imports {imports:.2f} s")
    print(f"  in the kernel    {100 * share:7.1f} %   of it (at least {100 * LEAST_SHARE:.0f} % wanted)")
    print("  equal parts      " + ", ".join(f"{kind} made {made[kind]} times" for kind in KINDS))
    if any(made[kind] > BANKS for kind in KINDS):
        raise SystemExit("parts that are equal were made more than once in a header")
    for name, own in sorted(calls.items(), key=lambda each: -each[1])[:6]:
        print(f"      {own:6.2f} s  {name[:90]}")
    if share < LEAST_SHARE:
        raise SystemExit("too much time outside the kernel")


if __name__ == "__main__":
    main()
