"""How the tests of a run with `-n` are dealt to its workers, and what all of them share."""

from __future__ import annotations

import os
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from filelock import FileLock

from tests.cli.calls import run

LONG = ("cli", "mock", "solids", "solve", "pages", "validation", "outputs")  # folders that last, longest first
COUNTED = ("shop", "mock", "outputs")  # folders whose tests count lines where `--cov` is asked for
ROOT = Path(__file__).parent


@pytest.hookimpl(optionalhook=True, tryfirst=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """A file at a time, in the order below, so that what its tests share is made once, unless `--dist` says else."""
    from xdist.scheduler import LoadFileScheduling

    if config.getoption("dist") != "load":
        return None
    config.option.loadscopereorder = False
    return LoadFileScheduling(config, log)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """What lasts long comes first, so that no worker is left with it at the end. Lines are counted where tests were
    thin, as the tests beside them run them: counting makes all others twice as slow."""
    if getattr(config.option, "cov_source", None):
        for item in items:
            if _folder(item.path) not in COUNTED:
                item.add_marker("no_cover")
    items.sort(key=lambda item: LONG.index(where) if (where := _folder(item.path)) in LONG else len(LONG))


def _folder(path: Path) -> str:
    return path.relative_to(ROOT).parts[0]


@pytest.fixture(scope="session")
def built_demo(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Path]:
    """The folder of a demo as `build` makes it from the checkout, once for all workers. Nobody writes in it."""
    base = tmp_path_factory.getbasetemp()
    shared = base.parent if "PYTEST_XDIST_WORKER" in os.environ else base

    @cache
    def built(name: str) -> Path:
        out = shared / "demos" / name
        with FileLock(shared / f"{name}.lock"):
            if not out.exists():
                done = run("build", ROOT.parent / "specs" / f"{name}.yaml", "--out", out.with_suffix(".new"))
                assert done.returncode == 0, done.stdout + done.stderr
                assert done.stderr == "", "no progress bar and no chatter in a pipe"
                out.with_suffix(".new").rename(out)
        return out / name

    return built
