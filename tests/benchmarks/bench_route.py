"""How good found paths are: the planted headers, an older tree of the project beside this one, by processor time.

    git worktree add /tmp/old COMMIT
    python tests/benchmarks/bench_route.py --old /tmp/old [--headers NAME …] [--seeds 0 1 2] [--cpu 10] [--eight]
                                           [--keep FOLDER] [--shelf] [--seconds-kept 20] [--cores 20]

Each search is a process of its own (`route_runs.py`), of one tree, header and seed. `--keep` keeps what it found in a
folder, so that a run can be made in pieces; whatever is there is not searched again. Both trees are measured by the
code of this one. The bound is what each tube costs by itself, in its bore and at the length of the answer, from many
starts. `--shelf` gives the headers a stock list: whole bends, arc cuts and joints of this tree, with nothing else used
where that can be (`shelf: only`) and where it pays, beside those of the older tree. `--seconds-kept` and `--cores` go
by the clock, so they need quiet cores.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from planted_headers import EIGHT, ONLY, SHELF, STOCKED, Case, cases

from headergen.geometry.curves.centreline import trace
from headergen.jobs.route import Sofar, find_paths
from headergen.model import Bend, Bore, Draft, Run, Straight
from headergen.solve.effort import Effort
from headergen.solve.route.answer import with_bores
from headergen.solve.route.cost import is_whole, welds
from headergen.solve.route.families import strangers
from headergen.solve.route.layout import Layout, finished, seen
from headergen.solve.route.parts import part_of
from headergen.solve.route.problem import RouteProblem, problem_of
from headergen.solve.route.starts import pool_of
from headergen.solve.route.tidiness import corners_of, crossing_pairs, doubled_back, views_of

HERE = Path(__file__).resolve()
TREE = HERE.parents[2]
SEARCHES = HERE.with_name("route_runs.py")
STARTS = 60  # of a tube by itself, for each number of bends
BEST = 4  # of them that are finished
PER_BEND = 30.0  # degrees that a bend costs, whatever it costs in a tree
EIGHT_SECONDS = 20.0
SCAN = "scan"  # the same header as another


@dataclass(frozen=True)
class Figures:
    """Of one answer, or summed over several: `bound` is the cost of the same tubes each by itself."""

    tubes: int
    bends: int
    degrees: float
    crossings: int
    back: float
    bound: float

    @property
    def score(self) -> float:
        return self.degrees + PER_BEND * self.bends

    def __add__(self, other: Figures) -> Figures:
        return Figures(*(getattr(self, name) + getattr(other, name) for name in Figures.__annotations__))


def searched(tree: Path, case: Case, seed: int, seconds: float, keep: Path) -> dict[str, Any]:
    """What `route_runs.py` of a tree finds, or found before."""
    name = "-".join(tree.resolve().parts[1:])
    target = keep / f"{name}-{case.name}-{seed}-{seconds:g}.json"
    if not target.exists():
        command = [sys.executable, str(SEARCHES), case.name, str(seed), f"{seconds:g}"]
        env = os.environ | {"PYTHONPATH": str(tree.resolve())}
        done = subprocess.run(command, env=env, stdout=subprocess.PIPE, text=True, check=True)
        target.write_text(done.stdout, encoding="utf-8")
    found: dict[str, Any] = json.loads(target.read_text(encoding="utf-8"))
    return found


def header_of(draft: Draft, paths: dict[str, Any]) -> Draft:
    """The draft with the paths and bores of an answer."""
    bores = {(b.collector, b.number): b for c in draft.collectors for b in c.bores}
    taken: dict[str, Bore] = {run.name: bores[tuple(paths[str(run.number)]["bore"])] for run in draft.primaries}
    led = with_bores(draft, taken)
    return led.with_primaries(tuple(_with_steps(run, paths[str(run.number)]["steps"]) for run in led.primaries))


def _with_steps(run: Run, steps: Sequence[Sequence[float]]) -> Run:
    made = tuple(Straight(step[0]) if len(step) == 1 else Bend(*step) for step in steps)
    return replace(run, steps=made, to_find=False)


def figures_of(problem: RouteProblem, header: Draft) -> Figures:
    runs = header.primaries
    lines = [trace(run.port.frame, run.steps, run.name) for run in runs]
    points = [corners_of(line) for line in lines]
    bends = [step for run in runs for step in run.steps if isinstance(step, Bend)]
    return Figures(
        tubes=len(runs),
        bends=len(bends),
        degrees=math.degrees(sum(bend.angle for bend in bends)),
        crossings=crossing_pairs(points, views_of(runs)),
        back=sum(map(doubled_back, points)),
        bound=bound_of(problem, header, float(np.mean([line.length for line in lines] - problem.extra))),
    )


def bound_of(problem: RouteProblem, header: Draft, length: float) -> float:
    """What the tubes cost, degrees and a price for each bend, if each is alone with the chassis."""
    numbers = {(bore.collector, bore.number): k for k, bore in enumerate(problem.bore_of)}
    row = np.array([numbers[run.end.collector, run.end.number] for run in header.primaries])
    return sum(_alone(part_of(problem, (k,), row), header.primaries[k], length) for k in range(problem.count))


def _alone(part: RouteProblem, run: Run, length: float) -> float:
    """The least cost that is known of one tube: by starts of its own, or as it is in the header."""
    bends = [step.angle for step in run.steps if isinstance(step, Bend)]
    costs = [math.degrees(sum(bends)) + PER_BEND * len(bends)]
    for start in pool_of(part, 0, length, np.random.default_rng(0), STARTS).runs[:BEST]:
        made = finished(part, Layout((start,), length))
        if made is not None:
            costs.append(math.degrees(seen(part, 0, made.runs[0])[2].sum()) + PER_BEND * made.runs[0].bends)
    return min(costs)


def shifted_groups(problem: RouteProblem, header: Draft) -> Iterator[bool]:
    """For each group of tubes that could be another one moved, whether it is."""
    for family in problem.families:
        shifts = tuple(each for each in family if not each.is_mirror)
        if shifts:
            yield strangers(header, shifts) == 0


def main() -> None:
    asked = _arguments()
    trees = [*([asked.old] if asked.old else []), TREE]
    keep = asked.keep or Path(tempfile.mkdtemp())
    keep.mkdir(parents=True, exist_ok=True)
    chosen = [case for case in cases(asked.headers) if case.name != EIGHT]
    if not asked.no_planted:
        _planted(chosen, trees, asked, keep)
    if asked.shelf:
        _shelf([case.name for case in chosen if case.possible and case.name != SCAN], asked, keep)
    if asked.eight:
        _eight(asked.seeds, keep)
    if asked.seconds_kept:
        _seconds_kept([case for case in chosen if case.possible], asked.seconds_kept)
    if asked.cores:
        _cores([case for case in chosen if case.possible], asked.cores)


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--old", type=Path, help="an older tree, beside which this one is shown")
    parser.add_argument("--headers", nargs="+", default=[], help="of planted/; all if none is named")
    parser.add_argument("--seeds", nargs="+", type=int, default=[0, 1, 2])
    parser.add_argument("--cpu", type=float, default=10.0, help="CPU seconds of each search")
    parser.add_argument("--keep", type=Path, help="a folder for what searches found")
    parser.add_argument("--shelf", action="store_true", help="with a stock list as well: whole bends, arc cuts, joints")
    parser.add_argument("--eight", action="store_true", help="eight into one as well")
    parser.add_argument("--no-planted", action="store_true", help="leave the planted set out")
    parser.add_argument("--seconds-kept", type=float, metavar="S", help="whole runs of S seconds, by the clock")
    parser.add_argument("--cores", type=float, metavar="S", help="what two processes do in S seconds, beside one")
    return parser.parse_args()


def _planted(chosen: list[Case], trees: list[Path], asked: argparse.Namespace, keep: Path) -> None:
    print(
        f"{'header, seed':<16}"
        + " | ".join(f"{'first':>6}{'bends':>6}{'degrees':>8}{'crossed':>8}{'back':>6}{'÷ bound':>8}" for _ in trees)
        + "   CPU s; – is none; mm; degrees and 30 a bend ÷ the same tubes each alone"
    )
    firsts: list[list[float]] = [[] for _ in trees]
    sums: list[Figures | None] = [None for _ in trees]
    copies: list[list[bool]] = [[] for _ in trees]
    solved, false, tries = [0 for _ in trees], 0, 0
    for case, seed in ((case, seed) for case in chosen for seed in asked.seeds):
        problem = problem_of(case.draft, case.meshes)
        found = [searched(tree, case, seed, asked.cpu, keep) for tree in trees]
        if not case.possible:
            false += found[-1]["first"] is not None
            tries += 1
            continue
        headers = [header_of(case.draft, each["at"][0]) if each["at"][0] else None for each in found]
        made = [figures_of(problem, header) if header else None for header in headers]
        for k, (each, header) in enumerate(zip(found, headers, strict=True)):
            firsts[k].append(math.inf if each["first"] is None else each["first"])
            solved[k] += header is not None
            copies[k] += list(shifted_groups(problem, header)) if header is not None else []
        if all(made):  # the same headers of both trees are compared
            sums = [one if total is None else total + one for total, one in zip(sums, made, strict=True) if one]
        columns = " | ".join(_columns(each["first"], one) for each, one in zip(found, made, strict=True))
        print(f"{case.name + f', {seed}':<16}{columns}", flush=True)
    count = len(firsts[-1])
    for tree, first, total, exact, done in zip(trees, firsts, sums, copies, solved, strict=True):
        print(f"\n{'this tree' if tree == TREE else tree}: found {done} of {count}")
        if not first:
            continue
        soon, late = np.quantile(first, [0.5, 0.9], method="higher")
        print(f"  first answer: median {soon:.2f} CPU s (bar 1), 90 % within {late:.2f} (bar 4)")
        if total is not None:
            print(f"  {total.bends} bends, {total.degrees:.0f}° of {total.tubes} tubes after {asked.cpu:g} CPU s")
            print(f"  {total.score / total.bound:.3f} × the tubes each alone (bar 1.06)")
            print(f"  {total.crossings} crossing pairs, {total.back:.0f} mm doubled back")
        print(f"  groups that are a shift apart: {sum(exact)} of {len(exact)} are exact copies")
    _ratios(sums)
    print(f"impossible called solved: {false} of {tries} (bar 0)")


def _columns(first: float | None, one: Figures | None) -> str:
    said = "–" if first is None else f"{first:.2f}"
    if one is None:
        return f"{said:>6}" + " " * 36
    shown = f"{one.bends:>6}{one.degrees:>8.0f}{one.crossings:>8}{one.back:>6.0f}{one.score / one.bound:>8.3f}"
    return f"{said:>6}{shown}"


def _ratios(sums: list[Figures | None]) -> None:
    if len(sums) == 2 and sums[0] is not None and sums[1] is not None:
        old, new = sums
        print("this tree ÷ the old one:")
        print(f"  bends {new.bends / old.bends:.3f}, degrees {new.degrees / old.degrees:.3f} (bar 1.015)")
        print(f"  crossing pairs {new.crossings / old.crossings:.2f} (bar 0.75)")
        print(f"  doubling back {new.back / old.back:.2f} (bar 0.65)")


@dataclass(frozen=True)
class OnShelf:
    """Bends of an answer, those that are whole ones of the shelf, and joints; or of several."""

    bends: int = 0
    whole: int = 0
    joints: int = 0

    @property
    def cuts(self) -> int:
        return self.bends - self.whole

    def __add__(self, other: OnShelf) -> OnShelf:
        return OnShelf(self.bends + other.bends, self.whole + other.whole, self.joints + other.joints)


def _shelf(names: list[str], asked: argparse.Namespace, keep: Path) -> None:
    """Whole bends, arc cuts and joints with a stock list; headers that one of the searches does not solve are told."""
    ways = [(TREE, ONLY), (TREE, STOCKED), *([(asked.old, STOCKED)] if asked.old else [])]
    print(f"{'header, seed':<16}" + " | ".join(f"{way:>9}" for way in ("only", "stock", "old")[: len(ways)]))
    by_name: dict[str, list[OnShelf]] = {}
    for name, seed in ((name, seed) for name in names for seed in asked.seeds):
        made = [_on_shelf(tree, prefix + name, seed, asked.cpu, keep) for tree, prefix in ways]
        shown = (f"{one.whole:>3} of {one.bends:>2}" if one else f"{'–':>9}" for one in made)
        print(f"{name + f', {seed}':<16}" + " | ".join(shown), flush=True)
        if all(made):
            before = by_name.get(name, [OnShelf()] * len(ways))
            by_name[name] = [one + (more or OnShelf()) for one, more in zip(before, made, strict=True)]
    if by_name:
        _say_shelf(by_name)


def _on_shelf(tree: Path, name: str, seed: int, seconds: float, keep: Path) -> OnShelf | None:
    [case] = cases([name])
    paths = searched(tree, case, seed, seconds, keep)["at"][0]
    if not paths:
        return None
    runs = header_of(case.draft, paths).primaries
    bends = [step for run in runs for step in run.steps if isinstance(step, Bend)]
    whole = sum(is_whole(bend, SHELF.bends) for bend in bends)
    return OnShelf(len(bends), whole, sum(welds(run.steps, SHELF.bends) for run in runs))


def _say_shelf(by_name: dict[str, list[OnShelf]]) -> None:
    only, stocked, *old = (sum(each, OnShelf()) for each in zip(*by_name.values(), strict=True))
    worst = min(by_name, key=lambda name: by_name[name][0].whole / by_name[name][0].bends)
    rest = sum((made[0] for name, made in by_name.items() if name != worst), OnShelf())
    print(f"shelf: only: {only.whole} of {only.bends} bends are whole")
    if rest.bends:
        print(f"  without {worst}, which has the fewest: {rest.whole / rest.bends:.1%} (bar 90 %)")
    if old:
        [before] = old
        print(f"  arc cuts {only.cuts / before.cuts:.2f} of the old tree's (bar 0.40)")
        print(f"  with stock, without only: arc cuts {stocked.cuts / before.cuts:.2f} (bar 0.80),", end=" ")
        print(f"joints {stocked.joints / before.joints:.2f} (bar 1.00)")


def _eight(seeds: list[int], keep: Path) -> None:
    """In this tree alone: older ones refuse eight bores in one collector."""
    [case] = cases([EIGHT])
    problem = problem_of(case.draft, case.meshes)
    for seed in seeds:
        found = searched(TREE, case, seed, EIGHT_SECONDS, keep)
        one = figures_of(problem, header_of(case.draft, found["at"][0])) if found["at"][0] else None
        print(f"eight into one, seed {seed}: {_columns(found['first'], one)}", flush=True)
    print(f"  bars: first within 3 CPU s, 22 bends after {EIGHT_SECONDS:g}")


def _seconds_kept(chosen: list[Case], seconds: float) -> None:
    worst = 0.0
    for case in chosen:
        begun = time.monotonic()
        find_paths(case.draft, case.meshes, Effort(seconds=seconds, jobs=1, begun=begun), lambda _: None)
        share = (time.monotonic() - begun) / seconds
        worst = max(worst, abs(share - 1.0))
        print(f"{case.name:<16}{share:.3f} × the {seconds:g} s asked for", flush=True)
    print(f"seconds kept within {worst:.0%} (bar 10 %)")


def _cores(chosen: list[Case], seconds: float) -> None:
    """Tries of two processes beside those of one in as many seconds; a try is not always as much work, a sum nearly."""
    one, two = (sum(_tries(case, seconds, jobs) for case in chosen) for jobs in (1, 2))
    print(f"two processes: {two} tries beside {one} of one in {seconds:g} s of each header: {two / one:.2f} (bar 1.8)")


def _tries(case: Case, seconds: float, jobs: int) -> int:
    most = 0

    def watch(sofar: Sofar) -> None:
        nonlocal most
        most = max(most, sofar.rounds)

    find_paths(case.draft, case.meshes, Effort(seconds=seconds, jobs=jobs, begun=time.monotonic()), watch)
    return most


if __name__ == "__main__":
    main()
