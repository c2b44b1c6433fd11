"""What choosing joints and stock together saves: the demos' plans beside greedy ones.

    python tests/benchmarks/bench_shop.py

Greedy takes every bend from the smallest stock that holds it. The time is that of a plan in times of bare imports.
"""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

from headergen.pipeline import settle
from headergen.shop.course import courses_of
from headergen.shop.plan import plan_of

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.shop.greedy import greedy_figures  # noqa: E402

DEMOS = ("bogbean", "withybed", "glasswort_left", "glasswort_right")


def main() -> None:
    start = time.perf_counter()
    subprocess.run([sys.executable, "-c", "import scipy.optimize, numpy, pydantic"], check=True)
    bare = time.perf_counter() - start
    print("                          broken  joints  arc cuts  not clampable    cost   time")
    for name in DEMOS:
        header = settle(ROOT / "specs" / f"{name}.yaml")
        draft = header.draft
        assert draft.stock is not None
        start = time.perf_counter()
        courses = courses_of(header, draft.shop, draft.stock)
        plan = plan_of(courses, draft.stock, draft.shop)
        took = (time.perf_counter() - start) / bare
        for kind, f in (("chosen", plan.figures), ("greedy", greedy_figures(courses, draft.stock, draft.shop))):
            numbers = f"{f.broken:>6}  {f.joints:>6}  {f.arc_cuts:>8}  {f.unclampable:>13}  {f.cost:>6.2f}"
            print(f"{name:<16} {kind:<8} {numbers}" + (f"   {took:.1f}" if kind == "chosen" else ""))


if __name__ == "__main__":
    main()
