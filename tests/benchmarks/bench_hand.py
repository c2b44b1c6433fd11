"""What the hand takes of a build, and what it says of the demos.

    python tests/benchmarks/bench_hand.py

Times are by processor time, in times of one check of the same header; a check plans no bench unless a limit asks it.
"""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np

from headergen.hand.stage import by_hand
from headergen.pipeline import check
from headergen.shop.spare import with_spare
from headergen.shop.stage import shop_of

ROOT = Path(__file__).resolve().parents[2]
DEMOS = ("bogbean", "withybed", "glasswort_left")


def main() -> None:
    print("                  hand  spare   plan   bare  saddles  worst tube  open miss, median")
    for name in DEMOS:
        path = ROOT / "specs" / f"{name}.yaml"
        check(path)  # what is loaded once is loaded
        times = [time.process_time()]
        checked = check(path)
        header, gaps = checked.result.header, checked.result.survey.gaps
        times.append(time.process_time())
        shop = shop_of(header)
        times.append(time.process_time())
        found = by_hand(header, shop, gaps)
        times.append(time.process_time())
        with_spare(header, shop, found)
        times.append(time.process_time())
        one, plan, hand, spare = np.diff(times)
        closings = [run.closing for run in found.runs if run.closing is not None]
        bare, saddles = ([getattr(each, key) for each in closings] for key in ("closes", "closes_with_saddles"))
        median = np.median([run.miss[0] for run in found.runs])
        shares = f"{np.mean(bare):>7.3f}  {np.mean(saddles):>7.3f}  {min(bare):>10.3f}  {median:>14.1f} mm"
        print(f"{name:<16} {hand / one:>5.2f}  {spare / one:>5.2f}  {plan / one:>5.2f}{shares}")


if __name__ == "__main__":
    main()
