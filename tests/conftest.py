"""How the tests of a run with `-n` are dealt to its workers, and what all of them share."""

from __future__ import annotations

import os
import pickle
import sys
from collections import Counter
from collections.abc import Callable, Generator, Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from filelock import FileLock

from tests.cli.calls import run

# folders and files that last, longest first; last come the folders of many short files
LONG = ("cli", "mock", "solids", "solve", "pages", "spec", "outputs", "test_house.py", "validation", "checks")
COUNTED = ("shop", "mock", "outputs")  # folders whose tests count lines where `--cov` is asked for
ROOT = Path(__file__).parent


# the processes that tests start read the bytecode of the first, and the next run that of this one
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report(
    collector: pytest.Collector,
) -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    """Every other worker loads the tests from behind, so that both compile half of them and read the other half."""
    report = yield
    if isinstance(collector, pytest.Directory) and int(os.environ.get("PYTEST_XDIST_WORKER", "gw0")[2:]) % 2:
        report.result = report.result[::-1]
    return report


@pytest.hookimpl(optionalhook=True, tryfirst=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """A file at a time, in the order below, so that what its tests share is made once, unless `--dist` says else."""
    from xdist.scheduler import LoadFileScheduling

    if config.getoption("dist") != "load":
        return None
    config.option.loadscopereorder = False
    return LoadFileScheduling(config, log)


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--share", metavar="I/N", type=_share, help="of each long series, only every Nth case")


def _share(text: str) -> tuple[int, int]:
    """Raises ValueError if it is not I/N with 0 ≤ I < N."""
    which, of = (int(part) for part in text.split("/"))
    if not 0 <= which < of:
        raise ValueError(text)
    return which, of


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """What lasts long comes first, so that no worker is left with it at the end. Lines are counted where tests were
    thin, as the tests beside them run them: counting makes all others twice as slow."""
    _mark_slow_cases(items)
    if config.getoption("share"):
        _keep_share(config, items)
    if getattr(config.option, "cov_source", None):
        for item in items:
            if _folder(item.path) not in COUNTED:
                item.add_marker("no_cover")
    items.sort(key=lambda item: (LONG.index(where) if (where := _folder(item.path)) in LONG else len(LONG), item.path))


def _mark_slow_cases(items: list[pytest.Item]) -> None:
    """Of a test that is marked `quick(n)`, the cases after the first n are slow, and a series."""
    for item, number in _numbered(items, "quick"):
        [most] = item.get_closest_marker("quick").args
        if number >= most:
            item.add_marker("slow")
            item.add_marker("series")


def _numbered(items: list[pytest.Item], mark: str) -> Iterator[tuple[pytest.Item, int]]:
    """The cases of tests with the mark, each with its number among those of its test."""
    counts: Counter[str] = Counter()
    for item in items:
        if item.get_closest_marker(mark) is not None:
            yield item, counts[_test(item)]
            counts[_test(item)] += 1


def _keep_share(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave only our share of the cases of each test that is marked as a series, and of fewer than N cases one."""
    which, of = config.getoption("share")
    numbered = list(_numbered([item for item in items if item.get_closest_marker("slow")], "series"))
    turns = {test: min(count, of) for test, count in Counter(_test(item) for item, _ in numbered).items()}
    left = [item for item, number in numbered if number % turns[_test(item)] != which % turns[_test(item)]]
    config.hook.pytest_deselected(items=left)
    gone = set(left)
    items[:] = [item for item in items if item not in gone]


def _test(item: pytest.Item) -> str:
    return item.nodeid.split("[")[0]


def _folder(path: Path) -> str:
    return path.relative_to(ROOT).parts[0]


@pytest.fixture(scope="session")
def of_all_workers(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder for what is made once for all workers of a run."""
    base = tmp_path_factory.getbasetemp()
    return base.parent if "PYTEST_XDIST_WORKER" in os.environ else base


@pytest.fixture(scope="session")
def made_once(of_all_workers: Path) -> Callable[[str, Callable[[], Any]], Any]:
    """What a function returns, made by the first worker that asks for it by its name and read by the others."""
    there: dict[str, Any] = {}

    def made(name: str, make: Callable[[], Any]) -> Any:
        if name not in there:
            file = of_all_workers / f"{name}.pickle"
            with FileLock(file.with_suffix(".lock")):
                if file.exists():
                    there[name] = pickle.loads(file.read_bytes())
                else:
                    there[name] = make()
                    file.with_suffix(".new").write_bytes(pickle.dumps(there[name]))
                    file.with_suffix(".new").rename(file)
        return there[name]

    return made


@pytest.fixture(scope="session")
def built_demo(of_all_workers: Path) -> Callable[[str], Path]:
    """The folder of a demo as `build` makes it from the checkout, once for all workers. Nobody writes in it."""
    shared = of_all_workers

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
