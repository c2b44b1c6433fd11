"""Exact gaps to a scan against a collision library and a proximity query: `python tests/benchmarks/bench_scan.py`.

Everything in one run, on the same triangles and tubes. Each size of scan is measured in a process of its own, so that
the memory it took can be told. The rivals' tubes are meshes of 32 sides with a ring every 5°. The collision library is
given the mesh with its corners once each; two more rivals crop it first, or ask a k-d tree what may be near.
`new tube`: what a tube costs whose path was changed, its mesh included where a method needs one; `same tube`: one that
is already loaded.
"""

from __future__ import annotations

import math
import multiprocessing
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from bench_check import BARE, CHECK, ROOT
from made_scan import RADIUS, bodies, lines, scan, scan_mesh

from headergen.geometry.curves.body import distance_to_body, points_along, tube_body
from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.distance.distance_bodies import bodies_to_bodies
from headergen.geometry.distance.distance_triangles import body_to_triangles
from headergen.geometry.distance.profile import stretches_below
from headergen.geometry.mesh.index import body_to_index, build_index, profile_to_index
from headergen.model import Arc, Centreline

SIZES = (10_000, 100_000, 1_000_000, 2_000_000)
PROXIMITY_UP_TO = 1_000_000  # triangles
TRUTH_AT = (10_000, 100_000)  # triangles: of a million the search alone takes minutes
REQUIRED = 15.0
SIDES, RING = 32, math.radians(5)
POINTS = 200  # of the centrelines, for the proximity query
WHOLE, WHOLE_ROUNDS = 1_000_000, 3  # triangles, and rounds in which all methods take their turn, load and gaps of all
MARGIN = 250.0  # mm round the tubes to which a rival crops the scan; the farthest tube stands nearer than that
STEP = 10.0  # mm between places of a tube at which a rival asks its tree
ROUNDS = 25  # of a pass over all pairs: the best of them counts, for both sides


def timed(work: Callable[[], Any], rounds: int = 1) -> tuple[float, Any]:
    best, answer = math.inf, None
    for _ in range(rounds):
        start = time.perf_counter()
        answer = work()
        best = min(best, time.perf_counter() - start)
    return best, answer


def memory() -> float:
    """MB that the process holds now (Linux)."""
    return int(Path("/proc/self/statm").read_text().split()[1]) * resource.getpagesize() / 2**20


def ours(count: int) -> dict[str, float]:
    raw = scan(count)
    before = memory()
    build, index = timed(lambda: build_index(raw))
    taken = memory() - before
    tubes = bodies()
    body_to_index(tubes[0], index)
    query, gaps = timed(lambda: [body_to_index(tube, index) for tube in tubes], 5)

    def profiles() -> int:
        near = [tube for tube, gap in zip(tubes, gaps, strict=True) if gap.value < REQUIRED]
        return sum(len(stretches_below(profile_to_index(t, index, REQUIRED + 4.0), t.span, REQUIRED)) for t in near)

    profile, stretches = timed(profiles)
    return {
        "build": build,
        "query": query / len(tubes),
        "all": query + profile,
        "stretches": stretches,
        "memory": taken,
        "gaps": np.array([gap.value for gap in gaps]),
    }


def tube_mesh(line: Centreline) -> tuple[np.ndarray, np.ndarray]:
    at: list[float] = []
    for segment, start in zip(line.segments, line.starts, strict=False):
        rings = max(1, math.ceil(segment.angle / RING)) if isinstance(segment, Arc) else 1
        at += (start + segment.length * np.arange(rings) / rings).tolist()
    around = np.linspace(0, 2 * math.pi, SIDES, endpoint=False)
    rows, across = [], None
    for place in [*at, line.length]:
        point, tangent, normal = (np.array(v) for v in frame_at(line, place))
        across = normal if across is None else across - (across @ tangent) * tangent
        across /= np.linalg.norm(across)
        other = np.cross(tangent, across)
        rows.append(point + RADIUS * (np.cos(around)[:, None] * across + np.sin(around)[:, None] * other))
    i, j = (k.ravel() for k in np.meshgrid(np.arange(len(rows) - 1), np.arange(SIDES), indexing="ij"))
    a, b = i * SIDES + j, i * SIDES + (j + 1) % SIDES
    faces = np.concatenate([np.column_stack([a, b, b + SIDES]), np.column_stack([a, b + SIDES, a + SIDES])])
    return np.concatenate(rows), faces


def manager(vertices: np.ndarray, faces: np.ndarray) -> Any:
    import trimesh
    from trimesh.collision import CollisionManager

    class Facets(trimesh.Trimesh):
        is_convex = False  # to find out takes longer than to load

    made = CollisionManager()
    made.add_object("it", Facets(vertices, faces, process=False, validate=False))
    return made


def collision(count: int) -> dict[str, float]:
    corners, faces = scan_mesh(count)
    paths = lines()
    manager(*tube_mesh(paths[0]))
    before = memory()
    build, whole = timed(lambda: manager(corners, faces))
    taken = memory() - before
    loaded = [manager(*tube_mesh(line)) for line in paths]
    same, gaps = timed(lambda: [whole.min_distance_other(tube) for tube in loaded], 5)
    new, _ = timed(lambda: [whole.min_distance_other(manager(*tube_mesh(line))) for line in paths], 3)
    return {
        "build": build,
        "query": new / len(paths),
        "same": same / len(paths),
        "memory": taken,
        "gaps": np.array(gaps),
    }


def least(body: Any) -> list[float]:
    return [body.min_distance_other(manager(*tube_mesh(line))) for line in lines()]


def cropped(vertices: np.ndarray, faces: np.ndarray) -> list[float]:
    """The library with what of the mesh lies in a box round the tubes; with all of it, should that not be enough."""
    around = np.concatenate([tube_points(line) for line in lines()])
    low, high = around.min(axis=0) - RADIUS - MARGIN, around.max(axis=0) + RADIUS + MARGIN
    outside = np.zeros(len(vertices), np.uint8)  # a bit for each side of the box that a corner is beyond
    for axis in range(3):
        outside |= (vertices[:, axis] < low[axis]).astype(np.uint8) << np.uint8(2 * axis)
        outside |= (vertices[:, axis] > high[axis]).astype(np.uint8) << np.uint8(2 * axis + 1)
    kept = faces[(outside[faces[:, 0]] & outside[faces[:, 1]] & outside[faces[:, 2]]) == 0]
    found = least(manager(vertices, kept)) if len(kept) else [math.inf]
    return found if max(found) <= MARGIN else least(manager(vertices, faces))


def by_centroids(raw: np.ndarray) -> list[float]:
    """A k-d tree of centroids, the largest triangle's radius as margin, then our own measure of what is left."""
    from scipy.spatial import cKDTree

    middle = (raw[:, 0] + raw[:, 1] + raw[:, 2]) / np.float32(3.0)
    squared = np.zeros(len(raw), np.float32)
    for corner in range(3):
        off = raw[:, corner] - middle
        np.maximum(squared, np.einsum("ij,ij->i", off, off), out=squared)
    widest = math.sqrt(float(squared.max())) * 1.00001
    tree, found = cKDTree(middle, balanced_tree=False, compact_nodes=False), []
    for tube in bodies():
        low, high = tube.span
        places = points_along(tube, np.linspace(low, high, math.ceil((high - low) / STEP) + 1))
        nearest = middle[tree.query(places)[1]].astype(float)
        bound = float(distance_to_body(tube, nearest)[0].min()) + RADIUS
        near = tree.query_ball_point(places, bound + widest + STEP / 2)
        rows = np.unique(np.concatenate([np.array(each, dtype=np.intp) for each in near]))
        found.append(body_to_triangles(tube, raw[rows].astype(float)).value)
    return found


def with_index(raw: np.ndarray) -> list[float]:
    index = build_index(raw)
    return [body_to_index(tube, index).value for tube in bodies()]


def load_and_gaps(count: int) -> dict[str, Any]:
    """Seconds of each method in each round (rounds, 4), printed as they come, and how far gaps are off ours."""
    vertices, faces = scan_mesh(count)
    raw = vertices[faces]
    methods: dict[str, Callable[[], list[float]]] = {
        "ours": lambda: with_index(raw),
        "collision library, indexed mesh": lambda: least(manager(vertices, faces)),
        "collision library, mesh cropped": lambda: cropped(vertices, faces),
        "k-d tree of centroids": lambda: by_centroids(raw),
    }
    ours = np.maximum(methods["ours"](), 0.0)  # warms, too
    off, times = {}, []
    for number in range(WHOLE_ROUNDS):
        order = list(methods)[number % len(methods) :] + list(methods)[: number % len(methods)]
        spent = {}
        for name in order:
            spent[name], gaps = timed(methods[name])
            off[name] = float(np.abs(np.maximum(gaps, 0.0) - ours).max())
            print(f"  round {number + 1}  {name:32} {spent[name]:7.3f} s", flush=True)
        times.append([spent[name] for name in methods])
    return {"names": list(methods), "times": np.array(times), "off": [off[name] for name in methods]}


def print_load_and_gaps() -> None:
    print(
        f"load and gaps of {WHOLE} triangles, eight tubes, in one process, by turns in {WHOLE_ROUNDS} rounds:",
        flush=True,
    )
    found = alone(load_and_gaps, WHOLE)
    best, ratios = found["times"].min(axis=0), np.median(found["times"] / found["times"][:, :1], axis=0)
    for name, seconds_, ratio, off in zip(found["names"], best, ratios, found["off"], strict=True):
        print(f"  {name:32} best {seconds_:6.3f} s, median {ratio:6.2f} × ours; gaps within {off:.3g} mm of ours")
    print(flush=True)


def proximity(count: int) -> dict[str, float]:
    import trimesh
    from trimesh.proximity import ProximityQuery

    corners = scan(count).reshape(-1, 3)
    mesh = trimesh.Trimesh(corners, np.arange(len(corners)).reshape(-1, 3), process=False, validate=False)
    points = np.concatenate([tube_points(line) for line in lines()])
    before = memory()
    start = time.perf_counter()
    query = ProximityQuery(mesh)
    query.on_surface(points[:1])  # builds its tree
    build = time.perf_counter() - start
    each, _ = timed(lambda: query.on_surface(points))
    return {"build": build, "query": each / len(lines()), "memory": memory() - before}


def truth(count: int) -> dict[str, float]:
    """Our gaps against a search along each centreline by the proximity query, and the points they name.

    Where the nearest place is an end of the tube a flat end is nearer than its centreline says: not compared.
    """
    import trimesh
    from trimesh.proximity import ProximityQuery

    raw = scan(count)
    index, corners = build_index(raw), raw.reshape(-1, 3).astype(float)
    mesh = trimesh.Trimesh(corners, np.arange(len(corners)).reshape(-1, 3), process=False, validate=False)
    query = ProximityQuery(mesh)
    errors, witnesses = [], []
    for tube in bodies():
        found = body_to_index(tube, index)
        centre = points_along(tube, np.array([found.at]))[0]
        witnesses.append(abs(float(np.linalg.norm(centre - found.point)) - RADIUS - found.value))
        low, high = tube.span
        if not low + 1e-3 < found.at < high - 1e-3:
            witnesses.pop()
            continue
        at = np.linspace(low, high, POINTS)
        away = query.on_surface(points_along(tube, at))[1]
        dips = at[np.argsort(away)[:6]]
        step = at[1] - at[0]
        for _ in range(9):
            fine = np.clip(dips[:, None] + step * np.linspace(-1, 1, 21), low, high)
            away = query.on_surface(points_along(tube, fine.ravel()))[1].reshape(fine.shape)
            dips, step = np.take_along_axis(fine, away.argmin(axis=1)[:, None], 1)[:, 0], step / 8
        errors.append(found.value - (float(away.min()) - RADIUS))
    return {"compared": len(errors), "above": max(errors), "below": -min(errors), "witness": max(witnesses)}


def tube_points(line: Centreline) -> np.ndarray:
    return np.array([frame_at(line, at)[0] for at in np.linspace(0, line.length, POINTS)])


def alone(work: Callable[[int], dict[str, float]], count: int) -> dict[str, Any]:
    with multiprocessing.get_context("spawn").Pool(1) as pool:
        return pool.apply(work, (count,))


def pairs() -> tuple[float, float, float, int]:
    """All pairs of eight tubes: ours, the library with meshes to make and load, the library with all loaded."""
    paths = lines()
    mine, _ = timed(
        lambda: bodies_to_bodies(list(combinations([tube_body(line, RADIUS) for line in paths], 2))), ROUNDS
    )

    def theirs() -> list[float]:
        loaded = [manager(*tube_mesh(line)) for line in paths]
        return [a.min_distance_other(b) for a, b in combinations(loaded, 2)]

    theirs()
    whole, _ = timed(theirs, ROUNDS)
    loaded = [manager(*tube_mesh(line)) for line in paths]
    same, _ = timed(lambda: [a.min_distance_other(b) for a, b in combinations(loaded, 2)], ROUNDS)
    return mine, whole, same, len(paths) * (len(paths) - 1) // 2


def whole_check(count: int, rounds: int = 4) -> tuple[float, float, float]:
    """Seconds of whole processes: bare imports with a read of the file, check from the cache, check without one."""
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        raw = scan(count, below=700.0)
        record = np.zeros(count, dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("rest", "<u2")])
        record["corners"] = raw
        (folder / "scan.stl").write_bytes(b" " * 80 + np.uint32(count).tobytes() + record.tobytes())
        shutil.copytree(ROOT / "shared", folder / "shared")
        (folder / "specs").mkdir()
        spec = (ROOT / "specs" / "bogbean.yaml").read_text(encoding="utf-8")
        (folder / "specs" / "bogbean.yaml").write_text(
            spec.replace("chassis:\n", "chassis:\n  - {name: scan, mesh: ../scan.stl, units: mm, clearance: 14}\n"),
            encoding="utf-8",
        )
        bare = f"{BARE}; numpy.fromfile('scan.stl', dtype=numpy.uint8)"
        times = []
        for number in range(rounds):
            fresh = folder / f"cache {number}"
            without = seconds(CHECK, "check", "specs/bogbean.yaml", folder=folder, cache=fresh)
            cached = seconds(CHECK, "check", "specs/bogbean.yaml", folder=folder, cache=fresh)
            times.append((seconds(bare, folder=folder, cache=fresh), cached, without))
    best = [min(each) for each in zip(*times, strict=True)]
    return best[0], best[1], best[2]


def seconds(code: str, *arguments: str, folder: Path, cache: Path) -> float:
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    command = [sys.executable, "-c", code, *arguments]
    start = time.perf_counter()
    done = subprocess.run(
        command, cwd=folder, env={**environment, "XDG_CACHE_HOME": str(cache)}, capture_output=True, text=True
    )
    spent = time.perf_counter() - start
    assert done.returncode in (0, 1), done.stderr
    return spent


def print_row(count: str, method: str, found: dict[str, Any], same: float) -> None:
    times = f"{found['build']:8.3f}  {1e3 * found['query']:11.2f}  {1e3 * same:12.2f}"
    print(f"{count:>9}  {method:9} {times}  {found['memory']:9.0f}", flush=True)


def main() -> None:
    print_load_and_gaps()
    print("triangles  method      load s  new tube ms  same tube ms  memory MB")
    mine = {}
    for count in SIZES:
        m = mine[count] = alone(ours, count)
        print_row(f"{count}", "ours", m, m["query"])
        c = alone(collision, count)
        print_row("", "collision", c, c["same"])
        if count <= PROXIMITY_UP_TO:
            print_row("", "proximity", alone(proximity, count), math.nan)
        off = np.abs(np.maximum(m["gaps"], 0) - c["gaps"])
        print(
            f"{'':9}  ratios: load {c['build'] / m['build']:.1f} ×, new tube {c['query'] / m['query']:.2f} ×, "
            f"same tube {c['same'] / m['query']:.2f} ×, memory {c['memory'] / max(m['memory'], 1):.1f} ×; "
            f"gaps differ by at most {off.max():.3f} mm (the library's tubes are facetted)",
            flush=True,
        )
    bare, cached, without = whole_check(1_000_000)
    print(
        f"check of the Bogbean with a scan of 1000000, against bare imports and a read of the file ({bare:.2f} s): "
        f"{cached:.2f} s from the cache, {cached / bare:.2f} ×; {without:.2f} s without, {without / bare:.2f} ×",
        flush=True,
    )
    first, last = mine[SIZES[0]], mine[SIZES[-1]]
    print(f"growth of a query from {SIZES[0]} to {SIZES[-1]}: {last['query'] / first['query']:.1f} ×", flush=True)
    print(f"eight tubes and their {last['stretches']:.0f} stretches at {SIZES[-1]}: {last['all']:.2f} s", flush=True)
    one, whole, same, count = pairs()
    print(f"{count} tube pairs: ours {1e3 * one:.1f} ms; library {1e3 * whole:.1f} ms with loading its tubes", end="")
    print(f" ({whole / one:.2f} ×), {1e3 * same:.1f} ms without ({same / one:.3f} ×)", flush=True)
    for count in TRUTH_AT:
        told = alone(truth, count)
        print(
            f"{count} triangles, {told['compared']:.0f} tubes: above a search by the proximity query by at most "
            f"{told['above']:.1e} mm, below it by {told['below']:.1e}; points named reproduce the gap within "
            f"{told['witness']:.1e} mm",
            flush=True,
        )


if __name__ == "__main__":
    main()
