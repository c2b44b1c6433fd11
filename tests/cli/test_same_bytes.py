"""The same spec gives the same bytes: on one core or on all, with parts that were kept or without."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
MAIN = "from headergen.commands import main; main()"
ONE_CORE = "import os; os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})\n"


def files_of(folder: Path, before: str, out: str) -> dict[str, str]:
    """Hash of every file of a build of job.yaml, after some code, by name."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "XDG_CACHE_HOME": str(folder / "cache")}
    command = [sys.executable, "-c", before + MAIN, "build", "job.yaml", "--out", out]
    subprocess.run(command, cwd=folder, env=environment, check=True, capture_output=True)
    files: dict[str, str] = json.loads((folder / out / "job" / "manifest.json").read_text(encoding="utf-8"))["files"]
    return files


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "sched_setaffinity"), reason="tells a process which cores are its own")
def test_one_core_or_all_kept_or_not(tmp_path: Path) -> None:
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    subprocess.run([sys.executable, "-c", MAIN, "init", "job"], cwd=tmp_path, env=environment, check=True)
    first = files_of(tmp_path, ONE_CORE, "one")
    assert list((tmp_path / "cache" / "headergen" / "parts").glob("*.npz")), "parts are kept"
    assert files_of(tmp_path, "", "kept") == first
    for path in (tmp_path / "cache" / "headergen" / "parts").iterdir():
        path.unlink()
    assert files_of(tmp_path, "", "anew") == first
