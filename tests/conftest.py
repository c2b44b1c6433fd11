"""How the tests of a run with `-n` are dealt to its workers."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

LONG = ("cli", "mock", "solids", "solve", "outputs")  # folders with files that last long, longest first
ROOT = Path(__file__).parent


@pytest.hookimpl(optionalhook=True, tryfirst=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """A file at a time, in the order below, so that what its tests share is made once, unless `--dist` says else."""
    from xdist.scheduler import LoadFileScheduling

    if config.getoption("dist") != "load":
        return None
    config.option.loadscopereorder = False
    return LoadFileScheduling(config, log)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """What lasts long comes first, so that no worker is left with it at the end."""
    items.sort(key=lambda item: LONG.index(where) if (where := _folder(item.path)) in LONG else len(LONG))


def _folder(path: Path) -> str:
    return path.relative_to(ROOT).parts[0]
