"""From a save to new figures under `headergen watch`, against a bare check in the same process.

    python tests/benchmarks/bench_watch.py [rounds]

The check is that of `headergen.pipeline.check` alone, without printing; both go by turns, so that other load on the
machine meets both. The bar is 1.3.
"""

from __future__ import annotations

import io
import statistics
import sys
import tempfile
import threading
import time
from pathlib import Path

from headergen.commands.watch import follow
from headergen.jobs.watched import Board
from headergen.pipeline import check

ROOT = Path(__file__).resolve().parents[2]


def main(rounds: int) -> None:
    said = sys.stdout
    sys.stdout, sys.stderr = io.StringIO(), io.StringIO()  # the watch prints on from its thread
    for name in ("bogbean", "withybed"):
        text = (ROOT / "specs" / f"{name}.yaml").read_text(encoding="utf-8").replace("../shared", f"{ROOT}/shared")
        with tempfile.TemporaryDirectory() as folder:
            ratios = list(_ratios(Path(folder) / "job.yaml", text, rounds))
        bare = "times a bare check (allowed 1.30)"
        median, low, high = statistics.median(ratios), min(ratios), max(ratios)
        print(f"{name}: from save to figures {median:.2f} {bare}, {low:.2f} to {high:.2f} of {rounds}", file=said)


def _ratios(spec: Path, text: str, rounds: int) -> list[float]:
    board, ratios = Board(), []
    spec.write_text(text, encoding="utf-8")
    check(spec)  # loads what is loaded once
    threading.Thread(target=follow, args=(spec, board, True), daemon=True).start()
    _until(board, 1)
    for k in range(rounds):
        _quiet()
        begun = time.perf_counter()
        check(spec)
        bare = time.perf_counter() - begun
        begun = time.perf_counter()
        spec.write_text(f"{text}\n# save {k}\n", encoding="utf-8")
        _until(board, k + 2)
        ratios.append((time.perf_counter() - begun) / bare)
    return ratios


def _quiet() -> None:
    """Until the figures of the last round are printed."""
    said = -1
    while said != (said := sys.stdout.tell()):
        time.sleep(0.3)


def _until(board: Board, number: int) -> None:
    while board.now is None or board.now.number < number:
        time.sleep(0.002)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 9)
