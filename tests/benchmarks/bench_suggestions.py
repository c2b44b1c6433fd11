"""All that is suggested for gaps that are too small against a check without:
`python tests/benchmarks/bench_suggestions.py`.

Of every header the tightest items of its chassis are asked for more than there is, one item or three. Processor time,
since others use the machine as well; the best of several rounds. What is kept from one measuring to the next is
forgotten before each, so that neither gains by the other.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from headergen.checks.judge import judge
from headergen.checks.measure import Meshes, survey
from headergen.geometry.merge.design import possible_merge
from headergen.model import Draft, MeshFacts
from headergen.parts.sheet import lowest_skin
from headergen.pipeline import read_whole, with_other_headers
from headergen.solve.closing import close
from headergen.solve.hints.suggest import helps_of
from headergen.spec.mesh.load import load_meshes

ROOT = Path(__file__).resolve().parents[2]
DEMOS = [ROOT / "specs" / f"{name}.yaml" for name in ("bogbean", "withybed", "glasswort_left", "glasswort_right")]
PLANTED = sorted((ROOT / "tests" / "benchmarks" / "planted").glob("*.yaml"))[::3]
MORE = 3.0  # mm
ROUNDS = 3


def seconds(work: Callable[[], Any]) -> float:
    times = []
    for _ in range(ROUNDS):
        possible_merge.cache_clear()
        lowest_skin.cache_clear()
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return min(times)


def widened(draft: Draft, meshes: Meshes, count: int) -> Draft:
    """The draft with more asked of so many items that are nearest for what they ask."""
    gaps = [gap for gap in survey(close(draft), meshes, twice=False).gaps if not gap.is_between_runs]
    least = {gap.b: gap.value for gap in sorted(gaps, key=lambda gap: gap.required - gap.value)}
    tight = sorted(
        {gap.b: gap.value - gap.required for gap in sorted(gaps, key=lambda g: g.required - g.value)}.items()
    )
    chosen = [name for name, _ in sorted(tight, key=lambda pair: pair[1])][:count]
    asked = {name: least[name] + MORE for name in chosen}
    return replace(draft, chassis=tuple(replace(i, clearance=asked.get(i.name, i.clearance)) for i in draft.chassis))


def opened(path: Path) -> tuple[Draft, Meshes, tuple[MeshFacts, ...]]:
    _, draft = with_other_headers(*read_whole(path), path.parent)
    return draft, *load_meshes(path, draft)


def ratio(path: Path, count: int) -> tuple[float, list[int]]:
    """Suggestions over checks, and how many suggestions there are for each gap."""
    sound, meshes, facts = opened(path)
    draft = widened(sound, meshes, count)
    measured = survey(close(draft), meshes, facts)
    findings = judge(measured)

    def check() -> None:
        opened(path)
        judge(survey(close(draft), meshes, facts))

    told = helps_of(findings, measured, meshes)
    share = seconds(lambda: helps_of(findings, measured, meshes)) / seconds(check)
    return share, [len(each.suggestions) for each in told]


def main() -> None:
    ratios = []
    for path in (*DEMOS, *PLANTED):
        for count in (1, 3):
            share, told = ratio(path, count)
            ratios.append(share)
            said = ", ".join(map(str, told))
            print(f"{path.stem}, {count} tighter: {share:.2f} checks; suggestions for each gap: {said}", flush=True)
    print(f"median {statistics.median(ratios):.2f} checks, worst {max(ratios):.2f}; allowed 3")


if __name__ == "__main__":
    main()
