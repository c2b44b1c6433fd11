"""`headergen check` as a whole process against the bare imports it needs: `python tests/benchmarks/bench_check.py`.

Both are run in turn, several times, and the best of each is compared, so that one busy moment decides nothing. Both
may keep compiled modules, as they do for a user, whatever this shell says; a first run of each is not counted.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
BARE = "import numpy, pydantic, yaml, trimesh"
CHECK = "from headergen.commands import main; main()"
ROUNDS = 8


def seconds(code: str, *arguments: str) -> float:
    start = time.perf_counter()
    environment = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    command = [sys.executable, "-c", code, *arguments]
    subprocess.run(command, cwd=ROOT, env=environment, stdout=subprocess.DEVNULL, check=True)
    return time.perf_counter() - start


def main() -> None:
    pairs = [(seconds(BARE), seconds(CHECK, "check", "specs/bogbean.yaml")) for _ in range(ROUNDS)]
    bare, check = (min(times) for times in zip(*pairs[1:], strict=True))
    allowed = 1.5 * bare + 0.5
    print(f"bare imports {bare:.2f} s, check {check:.2f} s, allowed {allowed:.2f} s (1.5 × bare + 0.5): ", end="")
    print(f"{check / allowed:.2f} of it")


if __name__ == "__main__":
    main()
